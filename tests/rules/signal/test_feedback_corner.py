"""Capacitors across the resistor that feeds back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.feedback-capacitor-too-large"
WRONG = (Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube").read_text(
    "utf-8"
)


def told(looked: Review) -> list[tuple[str, ...]]:
    assert looked.readable
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_unit_too_large(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    """1 / (2 pi 3.9 kohm 330 nF) = 124 Hz; with 330 pF it is 124 kHz (arithmetic)."""
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.level, found.state) == (("C4", "R10"), "notice", "drawing")
    assert found.evidence["corner"].value == pytest.approx(123.7, rel=1e-3)
    assert "408 pF" in found.remedy
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(("old", "new", "found"), [
    # 5 kHz with 3.9 kohm are 8.16 nF.
    ("C4 330n", "C4 8.4n", 1),
    ("C4 330n", "C4 8n", 0),
    # From the cathode's side of the secondary, or to gnd: not across it.
    ("T2.s2 --[C4 330n", "gnd --[C4 330n", 0),
])  # fmt: skip
def test_where_it_tells(old: str, new: str, found: int, review: Callable[[str], Review]) -> None:
    assert old in WRONG
    assert len(told(review(WRONG.replace(old, new)))) == found
