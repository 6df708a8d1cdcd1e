"""Spring tanks with their ends exchanged."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.springs-exchanged"
PAIR = Path(__file__).parents[3] / "samples" / "mistakes" / RULE
WRONG = (PAIR / "wrong.tube").read_text("utf-8")


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_tank_the_wrong_way_round(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.state) == ("notice", "drawing")
    assert found.at == ("TK1", "TK1.drive", "TK1.recovery")
    assert found.remedy.startswith("Exchange what is on TK1.in1 and TK1.in2 with")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        # A capacitor to the grid, a driver without a transformer.
        ("TK1.in1 -- V1B.grid", "TK1.in1 --[C9 10n 100 V]-- V1B.grid", 1),
        ("T1.s.1 -- TK1.out1", "T1.s.1 --[R9 8]-- gnd\nV1A.plate --[C9 100n 400 V]-- TK1.out1", 1),
        # Something else gives at the other end, or no grid is there.
        ("TK1.in1 -- V1B.grid", "signal TK1.in1 1 V\nTK1.in1 -- V1B.grid", 0),
        ("TK1.in1 -- V1B.grid", "TK1.in1 --[R9 1k]-- gnd\nGO -- V1B.grid", 0),
    ],
)
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
