"""Decks of one switch with their parts in another order."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.decks-out-of-step"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_two_ranges_exchanged(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.at == ("C6", "C5", "S1", "C2", "C3")
    assert found.remedy == "Exchange C6 and C5 on S1"
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(("old", "new", "found"), [
    # Another value is another range, not another order; neither deck in order says nothing.
    ("C5 4n7", "C5 3n3", 0),
    ("C2 4n7", "C2 470n", 0),
    # A second part on a contact, or a resistor on one of them.
    ("S1.b.2 --", "S1.b.2 --[R9 1M]-- gnd\nS1.b.2 --", 0),
    ("C6 470p 500 V", "R6 470k", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found


def test_rising_is_an_order_too(review: Callable[[str], Review]) -> None:
    text = WRONG.replace("47n 400", "X").replace("470p 500", "47n 400").replace("X", "470p 500")
    assert told(review(text)) == [("C6", "C5", "S1", "C2", "C3")]
