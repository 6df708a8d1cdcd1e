"""For all tests: one thread for small matrices, a cache of nobody, no clock, reviews as of one day.

A busy machine is no fault of what is tested: hypothesis neither times an example nor complains
that making one takes long. No test says otherwise for itself (tests/test_no_deadlines.py).

The suite judges a change, so it tries the same examples each time: what fails was broken by the
change. New examples are hunted for apart, with ``--hypothesis-profile=hunting`` and by the long
runs of tests/fuzz.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

from hypothesis import HealthCheck, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

_CACHE = tempfile.mkdtemp(prefix="coldcheck-tests-")
os.environ["XDG_CACHE_HOME"] = _CACHE
atexit.register(shutil.rmtree, _CACHE, ignore_errors=True)

_PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("hunting", _PATIENT)
settings.register_profile("coldcheck", _PATIENT, derandomize=True, database=None)
settings.load_profile("coldcheck")

TODAY = date(2026, 6, 1)
PAIRS = Path(__file__).parents[1] / "samples" / "mistakes"


@pytest.fixture(scope="session")
def review() -> Callable[[str], Review]:
    """Review a text."""
    from coldcheck.drawing import parse_drawing
    from coldcheck.verdict.engine import review_drawing

    return lambda text: review_drawing(parse_drawing(text, "t.tube"), TODAY)


@pytest.fixture(scope="session")
def sample() -> Callable[[str, str], Review]:
    """Review one side of a pair in samples/mistakes."""
    from coldcheck.verdict.engine import review_file

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
