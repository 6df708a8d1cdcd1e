"""Filaments that a switch leaves burning."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "heater.left-lit"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_on_the_wrong_side(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.at) == ("notice", ("V2", "V2.heater", "S1"))
    assert found.state == "standby S1"
    assert found.evidence["filament"].value == pytest.approx(1.5, rel=0.01)  # the cell's own volts
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(("old", "new", "found"), [
    # Behind 20 ohm more of switch V1 keeps 1.5 * 28 / (28 + 20) = 0.58 of its volts: not out.
    ("S1.a.1 -- A\n", "S1.a.1 -- A\nAP --[R9 20]-- A\n", 0),
    # And behind 40 ohm 0.41: out.
    ("S1.a.1 -- A\n", "S1.a.1 -- A\nAP --[R9 40]-- A\n", 1),
    # A switch for the plates alone.
    ("A --[V1 heater]", "AP --[V1 heater]", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
