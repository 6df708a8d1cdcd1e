"""Detectors that make a positive control voltage, and ladders with too few legs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

CONTROL, LEGS = "signal.gain-control-positive", "signal.oscillator-legs"


def told(looked: Review, rule: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(f.level, f.at) for f in looked.findings if f.rule == rule]


def test_a_diode_turned_round(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(CONTROL, "wrong"), CONTROL)
    assert (found.at, found.state, found.level) == (("V2A", "V1"), "drawing", "notice")
    assert found.remedy == "Turn V2A round: its plate on the signal, its cathode on gnd"
    assert told(sample(CONTROL, "right"), CONTROL) == []


DETECTOR = """tube V1 6SK7
B1 --+[E1 250 V]-- gnd
signal IF 10 mV 455 kHz
IF --[C1 100 pF 500 V mica]-- V1.grid --[R1 1M]-- {held}
V1.cathode --[R2 270]-- gnd
V1.suppressor -- V1.cathode
B1 --[R3 56k 1 W]-- V1.screen --[C3 47 nF 400 V film]-- gnd
B1 --[L1 1.2 mH 10 ohm]-- V1.plate --[C6 3.3 pF 500 V mica]-- SEC
SEC --[L2 1.2 mH 10 ohm]-- DET --[R5 220k]-- gnd
DET --[C8 100 pF 500 V mica]-- gnd
DET --[R6 1M]-- AVC --[C10 100 nF 100 V film]-- gnd
{diode}
"""


@pytest.mark.parametrize(
    ("held", "diode", "at"),
    [
        ("AVC", "gnd --[D1 diode]-> SEC", [("notice", ("D1", "V1"))]),
        ("AVC", "SEC --[D1 diode]-> gnd", []),
        ("gnd", "gnd --[D1 diode]-> SEC", []),
        (
            "AVC",
            "V1.plate --[C9 47 pF 500 V mica]-- DET\ngnd --[D1 diode]-> DET",
            [("notice", ("D1", "V1"))],
        ),
        ("AVC", "V1.plate --[C9 47 pF 500 V mica]-- DET\nDET --[D1 diode]-> gnd", []),
    ],
)
def test_a_diode_that_is_no_tube(
    held: str, diode: str, at: list[object], review: Callable[[str], Review]
) -> None:
    """It conducts from plate to cathode: out of ``SEC``, through coil and load, back to gnd."""
    assert told(review(DETECTOR.format(held=held, diode=diode)), CONTROL) == at


@pytest.mark.parametrize(("way", "at"), [("--[D1 1N34A]->", ["V1"]), ("<-[D1 1N34A]--", [])])
def test_a_crystal_in_series_with_its_coil(
    way: str, at: list[str], review: Callable[[str], Review]
) -> None:
    """The coil's other end is on gnd, the load at the diode's cathode is what the grid hangs on."""
    drawn = DETECTOR.format(held="AVC", diode="").replace(
        "SEC --[L2 1.2 mH 10 ohm]-- DET", f"gnd --[L2 1.2 mH 10 ohm]-- SEC {way} DET"
    )
    looked = review(drawn)
    assert looked.readable
    assert [n for f in looked.findings if f.rule == CONTROL for n in f.at[1:]] == at


def test_a_ladder_of_two_legs(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Two high passes turn the phase by less than 2 x 90 degrees, at any frequency."""
    found = only(sample(LEGS, "wrong"), LEGS)
    assert (found.at, found.state, found.level) == (("V1A", "C3", "C4"), "drawing", "notice")
    assert (found.evidence["legs"].value, found.limit.value) == (2, 3)
    assert told(sample(LEGS, "right"), LEGS) == []


@pytest.mark.parametrize(
    "more",
    [
        "signal IN 1 V 1 kHz\nIN --[R9 470k]-- V1A.grid",
        "N1 --[L1 10 H 1000 ohm]-- gnd",
    ],
)
def test_what_is_driven_or_has_a_coil_is_no_such_oscillator(
    more: str, sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = "\n".join(sample(LEGS, "wrong").lines) + f"\n{more}\n"
    assert told(review(text), LEGS) == []


LIMITER = """\
transformer T2 ungapped
    winding line impedance 600 40 ohm
    winding sec impedance 40k ct 2200 ohm
tube V1 6BA6
tube V3 6AL5
B1 --+[E1 250 V]-- gnd
signal IN 0.3 V 1 kHz
IN -- T2.line.1
T2.line.2 -- gnd
T2.sec.1 --[R6 1k]-- V1.grid
T2.sec.ct -- {held}
V1.suppressor -- gnd
V1.cathode --[R8 100 ohm]-- gnd
B1 --[R13 33k 1 W]-- V1.screen --[C4 100 nF 400 V]-- gnd
B1 --[R11 22k 2 W]-- V1.plate --[C6 100 nF 630 V]-- SIDE --[R17 220k]-- gnd
SIDE -- V3A.{near}
V3A.{far} --[R19 4k7]-- CV --[C8 1 uF 100 V film]-- gnd
CV --[R20 47k]-- gnd
"""


@pytest.mark.parametrize(
    ("held", "near", "far", "fires"),
    [
        ("CV", "plate", "cathode", True),
        ("CV", "cathode", "plate", False),
        ("gnd", "plate", "cathode", False),
    ],
)
def test_the_rectifier_of_a_limiter(
    held: str, near: str, far: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """The capacitor's peaks drive current out of the cathode: the control voltage is positive."""
    found = told(review(LIMITER.format(held=held, near=near, far=far)), CONTROL)
    assert found == ([("notice", ("V3A", "V1"))] if fires else [])


def test_a_meters_grid_that_nothing_else_drives_reads_a_positive_voltage(
    review: Callable[[str], Review],
) -> None:
    text = LIMITER.format(held="gnd", near="plate", far="cathode")
    meter = "tube V5 12AU7\nCV -- V5A.grid\nB1 -- V5A.plate\nV5A.cathode --[R30 22k]-- gnd\n"
    assert told(review(text + meter), CONTROL) == []
