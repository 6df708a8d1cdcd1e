"""Feedback that takes nearly all of the gain, and the value that is out of place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "signal.feedback-too-strong"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_resistor_a_decade_small(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """330 / 720 ohm; with much loop gain what is left is hardly more than 720 / 330."""
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.level, found.state) == (("R10", "R4"), "notice", "warm")
    assert found.evidence["share"].value == pytest.approx(330 / 720, rel=1e-3)
    assert found.evidence["loop_gain"].value == pytest.approx(16, rel=0.1)
    assert found.excess == pytest.approx(330 / 720 / 0.35, rel=1e-3)
    assert "R10 looks a decade small" in found.message
    assert found.remedy == "Look at R10: 3.9 kohm fits"
    assert told(sample(RULE, "right")) == []


def test_two_resistors_exchanged(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{RULE}/exchanged", "wrong"), RULE)
    assert found.at == ("R3", "R4", "R10")
    assert found.evidence["share"].value == pytest.approx(0.5, rel=1e-3)
    assert found.remedy == "Exchange R3 and R4"
    assert told(sample(f"{RULE}/exchanged", "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        ("T2.s2 --[R10 390 ohm", "T2.s2 --[R10 580 ohm", True),  # 330 / 910 = 0.363
        ("T2.s2 --[R10 390 ohm", "T2.s2 --[R10 640 ohm", False),  # 330 / 970 = 0.340
        ("LS1 speaker 8 ohm 5 W", "R11 8 ohm 5 W", False),  # no loudspeaker: what for?
        # A tenth of the first stage's gain: a loop gain of two is no harm.
        ("B1 --[R5 120k 0.5 W]-- V1A.plate", "B1 --[R5 4k7 0.5 W]-- V1A.plate", False),
    ],
)
def test_where_it_begins(old: str, new: str, fires: bool, review: Callable[[str], Review]) -> None:
    text = (PAIRS / RULE / "wrong.tube").read_text("utf-8")
    assert old in text
    assert bool(told(review(text.replace(old, new)))) is fires
