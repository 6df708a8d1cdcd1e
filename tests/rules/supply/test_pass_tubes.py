"""Series regulators with too little coming in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.regulator-starved"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_winding_that_is_too_low(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("T1.ht", "V1", "OUT")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    # 85.6 V of the reference, 47 kohm over 56 kohm.
    assert found.evidence["asked_for"].value == pytest.approx(85.6 * (1 + 47 / 56), rel=0.02)
    assert found.evidence["out"].value < found.evidence["asked_for"].value
    assert found.remedy.startswith("Give it a winding of about 210 V in place of 150 V (T1.ht)")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("S --[R9 56k 0.5 W]", "S --[R9 120k 0.5 W]", False),  # asks for 120 V
        ("S --[R9 56k 0.5 W]", "S --[R9 5k6 0.5 W]", False),  # a decade off: 800 V are no wish
        ("[R11 6k8 25 W", "[R11 1k5 25 W", False),  # the load is too heavy: half of it is left
        ("ct 150 V  100 mA", "ct 150 V  20 mA", False),  # the winding is overloaded
        ("RES --[R2 47 ohm 1 W]-- V1.plate", "RES -- V1.plate", True),
        ("ct 150 V  100 mA", "ct 150 V", True),  # no rating to go by
    ],
)
def test_what_else_leaves_a_pass_tube_open(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
