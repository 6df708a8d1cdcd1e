"""An adjusting lead that nothing holds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "transistor.adjustment-open"
PAIR = Path(__file__).parents[3] / "samples" / "mistakes" / RULE
WRONG = (PAIR / "wrong.tube").read_text("utf-8")


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_both_on_the_output(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    """The heater's volts, some 10 of 6.3, are told with it (maker's sheet: 1.25 (1 + R2 / R1))."""
    looked = sample(RULE, "wrong")
    found = only(looked, RULE)
    assert (found.at, found.level, found.state) == (("R2", "U1", "R1"), "notice", "drawing")
    assert "heater.wrong-voltage" in str(found.evidence["explains"])
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("R2 487 0.5 W]-- U1.out", "R2 487 0.5 W]-- X --[R3 1]-- gnd", 0),
        # One alone limits a current.
        ("U1.adj --[R2 487 0.5 W]-- U1.out\n", "", 0),
        ("R1 120 0.5 W", "R1 120", 1),
    ],
)
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
