"""The layout's figures: nothing overlaps, little crosses, all is legible on A4."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from tests.picture.measured import SAMPLES, measured, recorded

NEVER = (
    "text_on_text", "text_on_symbol", "text_on_wire", "symbol_on_symbol", "wire_through_symbol",
    "upside_down",
)  # fmt: skip
CROSSINGS, FLAGS, SMALLEST = 5, 12, 1.2
"""At most, on any sample: crossings; names at a hundred leads. At least: letters on A4, in mm."""


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_figures_are_within_their_bounds_and_as_recorded(path):
    figures = measured(path)
    assert [name for name in NEVER if figures[name]] == []
    assert figures["crossings"] <= CROSSINGS
    assert figures["flags"] <= FLAGS
    assert figures["smallest_mm"] >= SMALLEST
    assert figures == recorded()[path.stem]


def test_the_same_text_gives_the_same_picture_byte_for_byte():
    path = next(p for p in SAMPLES if p.stem == "breakwater")
    seen = set()
    for seed in ("1", "2", "3"):
        done = subprocess.run(
            [sys.executable, "-m", "coldcheck", "draw", "--no-volts", str(path)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        )
        seen.add(done.stdout)
    assert len(seen) == 1
