"""Channels whose speakers move against each other."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "output.channels-out-of-phase"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_secondary_turned(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.state) == ("notice", "drawing")
    assert found.at == ("T3", "T2", "T3.s1", "T3.s2")
    assert "T2.s2 on gnd, the other T3.s1" in found.message
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(("old", "new", "found"), [
    # Both ends of one channel exchanged: in step again.
    ("V2B.plate -- T3.p1\nB1 -- T2.p2\nB1 -- T3.p2",
     "V2B.plate -- T3.p2\nB1 -- T2.p2\nB1 -- T3.p1", 0),
    # Another transformer, another tube before it, or one plate that drives both.
    ("T3 10k : 32 ohm", "T3 10k : 16 ohm", 0),
    ("INR -- V1B.grid", "V1A.plate --[C9 100n 400 V]-- V2B.grid\nINR -- V1B.grid", 0),
    # Neither end of a secondary on gnd.
    ("T3.s1 -- gnd\nT3.s2 --[LS2 32 ohm 1 W]-- gnd",
     "T3.s1 --[R11 1k]-- gnd\nT3.s2 --[LS2 32 ohm 1 W]-- T3.s1", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
