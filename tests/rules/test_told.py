"""A wrong drawing is told the same words, places, levels, states and figures as were agreed to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.rules.telling import CASES, TOLD, agreed, family_of, same, told

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


@pytest.mark.parametrize("case", CASES)
def test_what_a_wrong_drawing_is_told(case: str, sample: Callable[[str, str], Review]) -> None:
    now, then = told(sample(case, "wrong"), case.partition("/")[0]), agreed(family_of(case))[case]
    assert len(now) == len(then), now
    assert [n for n, t in zip(now, then, strict=True) if not same(n, t)] == []


def test_there_is_nothing_agreed_of_a_drawing_that_is_gone() -> None:
    assert {c for path in TOLD.glob("*.txt") for c in agreed(path.stem)} == set(CASES)


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("R1 takes 2.00 W", "R1 takes 2.03 W", True),
        ("R1 takes 2.00 W", "R1 takes 2.05 W", False),
        ("R1 takes 2.00 W", "R2 takes 2.00 W", False),
        ("V1 at -2 V", "V1 at 2 V", False),
        ("0 V", "0 V", True),
    ],
)
def test_words_are_the_same_and_figures_nearly(one: str, other: str, is_same: bool) -> None:
    assert same(one, other) is is_same
