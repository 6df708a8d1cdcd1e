"""What comes back to a first cathode: a lamp's level, and a plate's direct current."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
LAMP, PASSES = "signal.lamp-levels-backwards", "signal.feedback-passes-dc"


def told(looked: Review, rule: str) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == rule]


def test_a_lamp_between_output_and_cathode(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(LAMP, "wrong"), LAMP)
    assert (found.at, found.level) == (("PL1", "R11", "V1A"), "notice")
    assert found.remedy.startswith("Exchange PL1 and R11: ")
    assert told(sample(LAMP, "right"), LAMP) == []


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("PL1 lamp 120 V 2400 ohm", "R20 22k 1 W", False),  # no lamp, no level
        ("W --[R10 1k]-- V1A.grid", "IN --[R10 1k]-- V1A.grid\nsignal IN 0.1 V 1 kHz", False),
        ("OSC --[PL1", "OSC --[R20 1k]-- X --[PL1", True),  # behind a trimming resistor
        (
            "OSC --[PL1 lamp 120 V 2400 ohm]-- V1A.cathode",
            "pot P1 1k at 50 %\nOSC --[PL1 lamp 120 V 2400 ohm]-- P1.top\n"
            "P1.wiper -- P1.bottom\nP1.bottom -- V1A.cathode",
            True,
        ),
        (
            "OSC --[PL1 lamp 120 V 2400 ohm]-- V1A.cathode",
            "OSC --[PL1 lamp 120 V 2400 ohm]-- X --[R20 330 ohm]-- V1A.cathode",
            True,
        ),
    ],
)
def test_only_an_oscillators_own_lamp_levels(
    old: str, new: str, found: bool, review: Callable[[str], Review]
) -> None:
    """An amplifier's pilot lamp in a feedback is odd, and holds no swing of its own."""
    text = (PAIRS / LAMP / "wrong.tube").read_text("utf-8")
    assert old in text
    assert bool(told(review(text.replace(old, new)), LAMP)) is found


def test_a_feedback_without_its_capacitor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """By Ohm's law: some 70 V between plate and cathode over 47 kohm."""
    looked = sample(PASSES, "wrong")
    found = only(looked, PASSES)
    assert (found.at, found.level, found.state) == (("R8", "V1A", "V1B"), "notice", "warm")
    warm, points = looked.solutions["warm"], looked.circuit.points
    ends = [warm.waves[points[p]].dc for p in ("V1B.plate", "V1A.cathode")]
    assert found.evidence["fed_back"].value == pytest.approx((ends[0] - ends[1]) / 47e3, rel=1e-3)
    assert found.evidence["own"].value < 0.4e-3
    assert found.remedy.startswith("Put a capacitor in series with R8")
    assert told(sample(PASSES, "right"), PASSES) == []


def test_a_resistor_from_a_stage_that_is_not_driven_by_it(review: Callable[[str], Review]) -> None:
    """A bleeder from another channel's plate is no feedback: other rules say what it does."""
    text = (PAIRS / PASSES / "wrong.tube").read_text("utf-8")
    apart = text.replace(
        "--[C1 47 nF 400 V film]-- V1B.grid", "--[C1 47 nF 400 V film]-- gnd\nV1B.grid"
    )
    assert told(review(apart), PASSES) == []
