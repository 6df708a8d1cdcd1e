"""Batteries that a switch leaves connected."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE, OTHER = "supply.battery-not-switched", "supply.bias-switched"
WRONG = Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube"


def told(looked: Review, rule: str = RULE) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == rule]


def test_a_divider_that_is_left_on(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """67.5 V over 4.7 + 47 + 0.68 kohm are 1.29 mA."""
    looked = sample(RULE, "wrong")
    found = only(looked, RULE)
    assert (found.at, found.level) == (("E2", "S1"), "notice")
    assert found.evidence["drain"].value == pytest.approx(67.5 / 52.38e3, rel=1e-3)
    assert found.remedy == "Let a second pole of S1 open E2 as well"
    assert told(looked, OTHER) == []  # its filament is out, whatever its bias
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("A1 --[S1 switch 120 V 1 A]-- A2", "A1 -- A2", False),  # nothing is ever off
        ("A1 --[S1 switch 120 V 1 A]-- A2", "A1 --[S1 switch open]-- A2", True),
        ("SC --[R4 47k]-- gnd\n", "", False),  # only tubes draw
        ("tube V1 3V4", "mains 120 V 60 Hz\ntube V1 3V4", False),
        ("B1 -- T2.p1", "B1 --[S2 switch]-- T2.p1", True),  # one more that does not matter
        ("B1 --[R3 4k7]", "B1 --[S2 switch]-- --[R3 4k7]", False),  # and one that opens it
    ],
)
def test_who_draws_and_who_does_not(
    old: str, new: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = WRONG.read_text("utf-8")
    assert old in text
    assert bool(told(review(text.replace(old, new)))) is found


def test_a_stepped_switch_is_named_and_not_its_positions(review: Callable[[str], Review]) -> None:
    """Off, and two volumes of filament voltage; another switch that is open has no part in it."""
    text = WRONG.read_text("utf-8").replace(
        "A1 --[S1 switch 120 V 1 A]-- A2",
        "switch S1 sp3t at 2\nA1 -- S1.common\nS1.2 -- A2\nS1.3 -- A2\n"
        "OUT --[S2 switch open]-- T2.s1",
    )
    assert told(review(text)) == [("E2", "S1")]
