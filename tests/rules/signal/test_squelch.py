"""Squelch tubes that open their stage too far, and stages they take down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.squelch-opens-too-far"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_plate_resistor_from_the_supply(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R7", "V1B", "V1A")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.remedy == "Take R7 from FOOT in place of B1"
    assert found.evidence["supply"].value == pytest.approx(220)
    assert told(sample(RULE, "right")) == []


def test_a_stage_taken_down_is_meant_to_be(sample: Callable[[str, str], Review]) -> None:
    names = {f.rule for f in sample(RULE, "right").findings}
    assert not names & {"tube.cut-off", "tube.idles-at-an-end"}


@pytest.mark.parametrize(
    ("drawing", "written", "instead", "fires"),
    [
        # nothing keeps the audio away: coupled directly
        ("wrong", "MUTE --[C3 47n 400 V]-- gnd", "MUTE --[C3 100p 400 V]-- gnd", False),
        # the foot at gnd: the cathode itself is named
        ("wrong", "V1A.cathode --[R4 1k8]-- FOOT", "V1A.cathode --[R4 1k8]-- gnd", True),
        # no signal by a capacitor
        (
            "wrong",
            "IN --[C2 10n 400 V film]-- V1A.grid --[R6 1M]-- MUTE",
            "V1A.grid --[R6 1M]-- MUTE",
            False,
        ),
    ],
)
def test_where_it_is_told(
    drawing: str, written: str, instead: str, fires: bool,
    changed: Callable[[str, str, str, str], Review],
) -> None:  # fmt: skip
    assert bool(told(changed(RULE, drawing, written, instead))) is fires


def test_a_stage_held_off_through_a_divider_is_meant_to_be(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    """Two resistors lead to the squelch tube's plate and one to gnd; with no line it is cut off."""
    text = "\n".join(sample(RULE, "right").lines) + "\n"
    old = "IN --[C2 10n 400 V film]-- V1A.grid --[R6 1M]-- MUTE"
    assert old in text
    held = old.replace("MUTE", "LOW --[R16 1M]-- MUTE\nLOW --[R17 470k]-- gnd")
    named = {f.rule for f in review(text.replace(old, held)).findings}
    assert not named & {"tube.cut-off", "tube.idles-at-an-end"}
    loose = held.replace("--[R16 1M]-- MUTE", "--[R16 1M]-- gnd")
    named = {f.rule for f in review(text.replace(old, loose)).findings}
    assert named & {"tube.cut-off", "tube.idles-at-an-end"}
