"""Feedback that is drawn and does nothing: bypassed, taken from gnd, or not closed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
BYPASSED, FROM_GND = "signal.feedback-bypassed", "signal.feedback-from-gnd"
NOT_CLOSED = "signal.feedback-not-closed"


def told(looked: Review, rule: str) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == rule]


def changed(rule: str, *edits: tuple[str, str]) -> str:
    text = (PAIRS / rule / "wrong.tube").read_text("utf-8")
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new)
    return text


def test_a_bypass_to_gnd_above_the_feedback_point(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(BYPASSED, "wrong"), BYPASSED)
    assert (found.at, found.level, found.certainty) == (("C1", "V1A", "R10"), "notice", "likely")
    assert found.evidence["capacitor"].value == pytest.approx(47e-6)
    assert found.excess == pytest.approx(47)
    assert found.message.startswith("C1 (47 uF) holds the cathode of V1A still, and R10 brings")
    assert found.remedy == "Take C1 from V1A.cathode to FB in place of gnd"
    assert told(sample(BYPASSED, "right"), BYPASSED) == []


@pytest.mark.parametrize(
    ("edits", "at"),
    [
        # Straight to the cathode: the capacitor is one too many.
        ([("--[R3 2k2]-- FB --[R4 100 ohm]--", "--[R3 2k2]--"),
          ("0.5 W]-- FB", "0.5 W]-- V1A.cathode")], ("C1", "V1A", "R10")),
        # Across the point below the cathode.
        ([("V1A.cathode --+[C1 47 uF 25 V]-- gnd", "FB --+[C1 47 uF 25 V]-- gnd")],
         ("C1", "V1A", "R10")),
        # A presence control's capacitor; and no feedback.
        ([("V1A.cathode --+[C1 47 uF 25 V]-- gnd", "FB --[C1 0.95 uF 25 V]-- gnd")], None),
        ([("T2.s2 --[R10 3k3 0.5 W]-- FB", "T2.s2 --[R10 3k3 0.5 W]-- gnd")], None),
        # From the output tube's plate, past a capacitor, and with its direct current.
        ([("T2.s2 --[R10 3k3 0.5 W]-- FB", "V2.plate --[C9 100n 630 V]-- --[R10 330k]-- FB")],
         ("C1", "V1A", "R10")),
        ([("T2.s2 --[R10 3k3 0.5 W]-- FB", "V2.plate --[R10 2M2 1 W]-- FB")], None),
    ],
)  # fmt: skip
def test_what_feedback_a_bypass_takes_away(
    edits: list[tuple[str, str]], at: tuple[str, ...] | None, review: Callable[[str], Review]
) -> None:
    assert told(review(changed(BYPASSED, *edits)), BYPASSED) == ([at] if at else [])


def test_a_cathode_bypass_is_left_out_where_the_feedback_comes_to_it(
    review: Callable[[str], Review],
) -> None:
    text = changed(BYPASSED, ("--[R3 2k2]-- FB --[R4 100 ohm]--", "--[R3 2k2]--"),
                   ("0.5 W]-- FB", "0.5 W]-- V1A.cathode"))  # fmt: skip
    assert [f.remedy for f in review(text).findings if f.rule == BYPASSED] == ["Leave C1 out"]


def test_the_cold_end_of_the_secondary(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """3.3 kohm over 5 times 100 ohm: 6.6 times."""
    found = only(sample(FROM_GND, "wrong"), FROM_GND)
    assert (found.at, found.level) == (("R10", "R4", "V1A"), "notice")
    assert found.excess == pytest.approx(6.6)
    assert found.evidence["larger"].value == pytest.approx(3300)
    assert found.evidence["smaller"].value == pytest.approx(100)
    assert found.remedy.startswith("Take R10 to T2.s2, the live end of the secondary")
    assert told(sample(FROM_GND, "right"), FROM_GND) == []


@pytest.mark.parametrize(
    ("edits", "fires"),
    [
        ([("T2.s1 --[R10 3k3", "gnd --[R10 3k3")], True),  # two resistors and nothing else
        ([("T2.s1 --[R10 3k3", "gnd --[R10 470"), ("R4 100 ohm", "R4 91 ohm")], True),
        ([("T2.s1 --[R10 3k3", "gnd --[R10 470")], False),  # a trim of the hundred ohms
        # At the cathode itself only where it is drawn at the secondary.
        ([("--[R3 2k2]-- FB --[R4 100 ohm]--", "--[R3 680]--"),
          ("T2.s1 --[R10 3k3 0.5 W]-- FB", "T2.s1 --[R10 8k2 0.5 W]-- V1A.cathode")], True),
        ([("--[R3 2k2]-- FB --[R4 100 ohm]--", "--[R3 680]--"),
          ("T2.s1 --[R10 3k3 0.5 W]-- FB", "gnd --[R10 8k2 0.5 W]-- V1A.cathode")], False),
    ],
)  # fmt: skip
def test_which_resistors_to_gnd_were_meant_for_feedback(
    edits: list[tuple[str, str]], fires: bool, review: Callable[[str], Review]
) -> None:
    found = told(review(changed(FROM_GND, *edits)), FROM_GND)
    assert [at[0] for at in found] == (["R10"] if fires else [])


def test_a_divider_that_no_cathode_is_on(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(NOT_CLOSED, "wrong"), NOT_CLOSED)
    assert (found.at, found.level) == (("R3", "C1", "R4", "V1A"), "notice")
    assert found.evidence["foot"].value == pytest.approx(100)
    assert found.remedy == "Take R3 and C1 from gnd to FB"
    assert told(sample(NOT_CLOSED, "right"), NOT_CLOSED) == []


METER = """tube V1 12AT7
B1 --+[E1 250 V]-- gnd
signal IN 40 mV 1 kHz
IN --[R1 470k]-- gnd
IN -- V1A.grid
B1 --[R2 47k 1 W]-- V1A.plate --[C1 100n 400 V]-- V1B.grid --[R3 470k]-- gnd
V1A.cathode --[R4 470]-- {foot}
FB --[R5 47]-- gnd
B1 --[R6 47k 1 W]-- V1B.plate --[C2 1 uF 400 V film]-- AC
V1B.cathode --[R7 560]-- gnd
V1B.cathode --+[C3 220 uF 10 V]-- gnd
AC --[D1 silicon 100 V 0.1 A]-> MP
FB --[D2 silicon 100 V 0.1 A]-> MP
MN --[D3 silicon 100 V 0.1 A]-> AC
MN --[D4 silicon 100 V 0.1 A]-> FB
MP --[R8 1k2]-- MN
"""


@pytest.mark.parametrize(
    ("foot", "extra", "found"),
    [
        ("gnd", "", [("R4", "R5", "V1A")]),
        ("FB", "", []),
        ("gnd", "FB -- OUT", []),  # taken for something
        ("gnd", "jack J1\nFB -- J1.tip\nJ1.sleeve -- gnd", []),
        ("gnd", "FB --[R9 1k]-- gnd", []),  # two resistors: somebody's load
    ],
)
def test_a_meters_bridge_whose_current_nothing_takes_up(
    foot: str, extra: str, found: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    assert told(review(METER.format(foot=foot) + extra), NOT_CLOSED) == found


@pytest.mark.parametrize(
    ("edits", "fires"),
    [
        ([("R4 100 ohm", "R4 950 ohm")], True),
        ([("R4 100 ohm", "R4 1050 ohm")], False),
        ([("R10 6k8", "R10 525 ohm")], True),
        ([("R10 6k8", "R10 475 ohm")], False),  # a load, or a pad
        ([("T2.s2 --[R10 6k8 0.5 W]-- FB", "IN --[R10 6k8 0.5 W]-- FB")], False),
        ([("FB --[R4 100 ohm]-- gnd", "FB --[R4 100 ohm]-- gnd\nFB --[R11 1k]-- V1B.grid"),
          ("V1B.grid -- gnd", "V1B.plate -- B1")], False),  # a grid is there
    ],
)  # fmt: skip
def test_which_dividers_lead_nowhere(
    edits: list[tuple[str, str]], fires: bool, review: Callable[[str], Review]
) -> None:
    found = told(review(changed(NOT_CLOSED, *edits)), NOT_CLOSED)
    assert [at[0] for at in found] == (["R3"] if fires else [])
