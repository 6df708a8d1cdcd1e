"""A mains fuse against what a shorted winding drives through it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"


@pytest.mark.parametrize(
    ("primary", "winding", "level"),
    [
        # 120 V over 8 ohm and as much again: 7.5 A, 1.5 times 5 A.
        ("8 ohm", "6.3 V 3 A", "caution"),
        # 4.3 ohm twice: 13.95 A, 2.79 times; 4.5 ohm twice: 13.33 A, 2.67 times.
        ("4.3 ohm", "6.3 V 3 A", "advice"),
        ("4.5 ohm", "6.3 V 3 A", "caution"),
        # 20 mohm at 6.3 V are 7.26 ohm seen from 120 V: 10.9 A with 3.75 ohm; 5 mohm: 21.5 A.
        ("3.75 ohm", "6.3 V 3 A 20 mohm", "caution"),
        ("3.75 ohm", "6.3 V 3 A 5 mohm", "advice"),
        ("", "6.3 V 3 A", "caution"),
    ],
)
def test_a_fuse_that_a_shorted_winding_opens_is_advice(
    primary: str, winding: str, level: str, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / "mains.fuse-too-large" / "wrong.tube").read_text("utf-8")
    text = text.replace("120 V  8 ohm", f"120 V  {primary}").replace("6.3 V  3 A\n", f"{winding}\n")
    found = [f.level for f in review(text).findings if f.rule == "mains.fuse-too-large"]
    assert found == [level]
