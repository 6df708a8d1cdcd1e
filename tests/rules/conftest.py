"""What a rule says is looked at before one likely slip is put in front of it.

A drawing that tests a rule has one thing wrong, so the slip that explains it (a source's voltage, a
resistor a decade out) would take the first place in many. ``tests/verdict/test_causes.py`` and the
pairs of ``samples/mistakes`` look at reviews with their slips told.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.verdict import causes, engine

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.causes import Inquest
    from coldcheck.verdict.review import Review

TODAY = date(2026, 6, 1)
PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"


@pytest.fixture(scope="session")
def review(review: Callable[[str], Review]) -> Callable[[str], Review]:
    """Review a text, no slip looked for; a text that cannot be read would say nothing of a rule."""

    def text_of_a_drawing(text: str) -> Review:
        looked = without_slips(review, text)
        assert looked.readable, [f.message for f in looked.findings]
        return looked

    return text_of_a_drawing


@pytest.fixture(scope="session")
def sample() -> Callable[[str, str], Review]:
    """Review one side of a pair in samples/mistakes, no slip looked for."""

    def file(rule: str, side: str) -> Review:
        return engine.review_file(PAIRS / rule / f"{side}.tube", TODAY)

    return cache(lambda rule, side: without_slips(file, rule, side))


@pytest.fixture(scope="session")
def changed(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> Callable[[str, str, str, str], Review]:
    """Review one side of a pair with some words changed, which have to be in it."""

    def side_of_a_pair(rule: str, side: str, written: str, instead: str) -> Review:
        text = "\n".join(sample(rule, side).lines) + "\n"
        assert written in text
        return review(text.replace(written, instead))

    return side_of_a_pair


def without_slips(look: Callable[..., Review], *what: object) -> Review:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(causes, "explained", _as_told)
        return look(*what)


def _as_told(inquest: Inquest) -> list[Finding]:
    return list(inquest.told)
