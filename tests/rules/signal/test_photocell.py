"""Photocells whose divider stays on one side of a trigger's level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.photocell-tips-nothing"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_divider_that_stays_below(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """64 V behind 32 kohm, 8 kohm of the cell and 10 kohm: 13 V."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R3", "LDR1", "V1A", "V1B")
    assert (found.level, found.state, found.certainty) == ("notice", "lit LDR1", "likely")
    assert found.remedy == "Use about 100 kohm for R3"
    assert found.evidence["lit"].value == pytest.approx(64e0 * 10 / 50, rel=0.03)
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("drawing", "written", "instead", "fires"),
    [
        # a control sets the level
        (
            "wrong",
            "V1A.plate --[R8 330k 0.5 W]-- V1B.grid --[R9 68k 0.5 W]-- gnd",
            "pot P1 100k at 50 %\nV1A.plate --[R8 330k 0.5 W]-- V1B.grid -- P1.top\n"
            "P1.wiper -- gnd\nP1.bottom -- gnd",
            False,
        ),
        # the halves do not share their cathode
        ("wrong", "V1A.cathode -- V1B.cathode", "V1B.cathode --[R10 10k 1 W]-- gnd", False),
    ],
)
def test_where_it_is_told(
    drawing: str, written: str, instead: str, fires: bool,
    changed: Callable[[str, str, str, str], Review],
) -> None:  # fmt: skip
    assert bool(told(changed(RULE, drawing, written, instead))) is fires
