"""Reviews of drawings written in the test itself, as of a fixed day."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.rules.engine import review_drawing, review_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.rules.model import Review

TODAY = date(2026, 6, 1)
PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"


@pytest.fixture(scope="session")
def review() -> Callable[[str], Review]:
    """Review a text."""
    return lambda text: review_drawing(parse_drawing(text, "t.tube"), TODAY)


@pytest.fixture(scope="session")
def sample() -> Callable[[str, str], Review]:
    """Review one side of a pair in samples/mistakes."""
    done: dict[tuple[str, str], Review] = {}

    def look(rule: str, side: str) -> Review:
        if (rule, side) not in done:
            done[rule, side] = review_file(PAIRS / rule / f"{side}.tube", TODAY)
        return done[rule, side]

    return look


@pytest.fixture(scope="session")
def only() -> Callable[..., object]:
    """The findings of one rule; exactly one unless ``count`` says otherwise."""

    def pick(review: Review, rule: str, count: int = 1) -> object:
        found = [f for f in review.findings if f.rule == rule]
        assert len(found) == count, [(f.rule, f.at) for f in review.findings]
        return found[0] if count == 1 else found

    return pick
