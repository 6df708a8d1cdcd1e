"""A diode of a meter's bridge turned round."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.meter-diode-turned"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_one_of_four(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.level, found.state) == (("D2", "M1"), "notice", "drawing")
    assert found.remedy == "Turn D2 round"
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize("name", ["D1", "D2", "D3", "D4"])
def test_each_of_them(name: str, review: Callable[[str], Review]) -> None:
    right = WRONG.replace("MP --[D2 1N34A]-> Y", "Y --[D2 1N34A]-> MP")
    line = next(x for x in right.splitlines() if f"[{name} " in x)
    left, _, rest = line.partition(" --[")
    part, _, far = rest.partition("]-> ")
    assert told(review(right)) == []
    assert told(review(right.replace(line, f"{far} --[{part}]-> {left}"))) == [(name, "M1")]


@pytest.mark.parametrize(("old", "new", "found"), [
    # All turned round: the meter reads backwards, which its leads mend.
    ("X --[D1 1N34A]-> MP\nMP --[D2 1N34A]-> Y\nMN --[D3 1N34A]-> X\nMN --[D4 1N34A]-> Y",
     "MP --[D1 1N34A]-> X\nMP --[D2 1N34A]-> Y\nX --[D3 1N34A]-> MN\nY --[D4 1N34A]-> MN", 0),
    # Two resistors in place of two diodes are another circuit, a resistor no meter.
    ("MN --[D4 1N34A]-> Y", "MN --[R4 1k]-- Y", 0),
    ("M1 meter 1 mA 100 ohm", "R9 100 ohm", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
