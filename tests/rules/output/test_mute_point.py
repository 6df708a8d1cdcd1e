"""Contacts that mute on the wrong side of the output capacitor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "output.muted-ahead-of-capacitor"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_switch_on_the_cathode_of_a_follower(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("S1", "V1.cathode", "C2")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert "S1 shorts V1.cathode to gnd, ahead of C2" in found.message
    assert found.remedy.startswith("Take S1 from V1.cathode to OUT, behind C2")
    assert found.evidence["dc"].value == pytest.approx(66.2, rel=0.02)
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        (
            "V1.cathode -- S1.common",
            "V1.cathode --[R9 100k]-- S1.common",
            False,
        ),  # behind a resistor
        ("V1.cathode -- S1.common", "C -- S1.common", False),  # behind the capacitor
        ("S1.1 -- gnd", "S1.1 --[R9 1k 2 W]-- gnd", False),  # a resistor below
    ],
)
def test_where_a_contact_may_be(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
