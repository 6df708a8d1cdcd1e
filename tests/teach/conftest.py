"""One clean drawing for planting, reviewed once."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.teach.clean import Clean
from coldcheck.verdict.engine import review_drawing

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"


@pytest.fixture(scope="session")
def clean() -> Clean:
    text = SAMPLE.read_text(encoding="utf-8")
    return Clean.of("harbour-light", text, review_drawing(parse_drawing(text, "harbour-light")))
