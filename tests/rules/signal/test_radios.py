"""Slips in receivers and transmitters: what each is told, and what is none."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

WIPER = "signal.gain-control-at-wiper"
DELAYED = "signal.gain-control-delayed-too-far"
LOAD = "signal.detector-load-open"
FOOT = "signal.control-foot-open"
TUNED = "signal.tuned-foot-too-small"
UNCOUPLED = "signal.discriminator-uncoupled"
HALF = "signal.discriminator-half-taken"
PI = "signal.pi-network-turned"
METER = "signal.meter-carries-radio"
SCREEN = "signal.screen-unmodulated"
GRIDS = "signal.converter-grids-exchanged"
REFLEX = "signal.reflex-audio-shorted"


@pytest.mark.parametrize(
    ("rule", "pair", "at", "remedy"),
    [
        (WIPER, WIPER, ("R4", "P1", "V1.grid"), "Take R4 from P1.top"),
        (DELAYED, DELAYED, ("R10", "V3A", "R9"), "Use about 1.6 kohm for R10"),
        (LOAD, LOAD, ("V2.diode1", "V2", "V1"), "Give the detector a load"),
        (FOOT, FOOT, ("P1.bottom", "P1", "V1B"), "Wire P1.bottom to gnd"),
        (FOOT, f"{FOOT}/screen", ("P1.bottom", "P1", "V1.screen"), "Wire P1.bottom to gnd"),
        (TUNED, TUNED, ("C3", "L1.sec", "V1"), "Use 10 to 100 nF for C3"),
        (UNCOUPLED, UNCOUPLED, ("RD.sec.ct", "V1.plate", "V2A", "V2B"),
         "Put a capacitor of 20 to 100 pF from V1.plate to RD.sec.ct"),
        (HALF, HALF, ("R7", "V2A", "V2B", "RD.sec"), "Take R7 from V2A.cathode"),
        (PI, PI, ("VC2", "VC1", "L3"), "Exchange VC2 and VC1"),
        (METER, METER, ("M1", "L2", "V1.plate"), "Exchange M1 and L2"),
        (SCREEN, SCREEN, ("R3", "V1.screen", "T1.sec"), "Take R3 from T1.sec.2"),
        (GRIDS, GRIDS, ("V1", "V1.grid2", "V1.screen"), "Exchange V1.grid2 and V1.screen"),
    ],
)  # fmt: skip
def test_the_slip_is_told_first(
    rule: str, pair: str, at: tuple[str, ...], remedy: str,
    sample: Callable[[str, str], Review], only: Callable[[Review, str], Finding],
) -> None:  # fmt: skip
    found = only(sample(pair, "wrong"), rule)
    assert tuple(dict.fromkeys(found.at)) == at
    assert found.level == "notice"
    assert found.remedy.startswith(remedy)
    assert sample(pair, "right").findings == ()


def _told(looked: Review, rule: str) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("pair", "written", "instead", "first"),
    [
        # the wiper is for the control alone: it sets how far the stages are turned down
        (WIPER, "P1.wiper --[C8 10 nF 200 V]-- V2.grid", "P1.top --[C8 10 nF 200 V]-- V2.grid", ""),
        # two resistors, one from the detector itself
        (WIPER, "P1.wiper --[R4 1M5]-- AVC", "P1.wiper --[R4 1M5]-- AVC\nP1.top --[R8 1M5]-- AVC",
         ""),
        # through a filter of two sections
        (WIPER, "P1.wiper --[R4 1M5]-- AVC", "P1.wiper --[R4 1M]-- A1 --[R8 1M]-- AVC\n"
         "A1 --[C10 47 nF 100 V]-- gnd", "R4"),
        # the diode is fed by picofarads from the plate, the coil is there
        (WIPER, "IF2.sec.1 -- V2.diode1\n", "IF2.sec.1 --[C10 47p 500 V]-- V2.diode1 --[R8 47k]-- "
         "P1.top\n", "R4"),
        # a detector with a load to its cathode, which is not gnd
        (LOAD, "DET --[C8", "DET --[R8 470k]-- V2.cathode\nDET --[C8", ""),
        # the audio's other load is behind the capacitor: the detector has none all the same
        (LOAD, "V2.grid --[R5 10M]-- gnd", "V2.grid --[R5 470k]-- gnd", "V2.diode1"),
        # nothing hands the audio on: a probe without its meter
        (LOAD, "DET --[C8 10 nF 200 V]-- V2.grid", "DET --[C8 10 pF 200 V]-- V2.grid", ""),
        # a second diode takes the charge off
        (LOAD, "V2.diode2 -- gnd", "gnd --[D1 germanium 60 V]-> IF2.sec.2\nV2.diode2 -- gnd", ""),
        # what follows takes so much that a resistor in series does something
        (FOOT, "V1B.grid --[R4 1M]-- gnd", "V1B.grid --[R4 220k]-- gnd", ""),
        (FOOT, "P1.wiper --[C4", "P1.wiper -- P1.bottom\nP1.wiper --[C4", ""),
        (FOOT, "pot P1 500k log", "pot P1 ?", ""),
        # less in series than the track: it covers a range
        (f"{FOOT}/screen", "B1 --[R2 100k 0.5 W]-- P1.top", "B1 --[R2 47k 0.5 W]-- P1.top", ""),
        # a padder of an oscillator is not fed by a resistor
        (TUNED, "P1.top --[R4 1M5]-- AVC", "AVC --[R4 1M5]-- gnd", ""),
        # a winding of the can brings the primary's voltage
        (UNCOUPLED, "RD.sec.ct --[L1 470 uH 12 ohm]-- MID", "RD.sec.ct -- RD.ter.1\nRD.ter.2 -- "
         "MID", ""),
        # each half tuned by itself: two humps, and no voltage of the primary
        (UNCOUPLED, "RD.sec.1 --[C5 100p 500 V]-- RD.sec.2", "RD.sec.1 --[C5 100p 500 V]-- "
         "RD.sec.ct --[C6 120p 500 V]-- RD.sec.2", ""),
        # a meter at the middle, the audio from the end as well
        (HALF, "MID --[R7 56k]-- AF", "MID --[R7 56k]-- AF\nDX --[R9 56k]-- AF", ""),
        # an ordinary low pass: no plate
        (PI, "V1.plate --[C4 2n2 1500 V]-- TANK", "V1.plate --[L5 3.3 uH]-- TANK", ""),
        # the far side is held still
        (METER, "BM --[M1 milliammeter", "BM --[C6 4n7 1000 V]-- gnd\nBM --[M1 milliammeter", ""),
        # a choke of its own lets the screen follow
        (SCREEN, "B1 --[R3 22k 2 W]-- V1.screen", "B1 --[R3 22k 2 W]-- S1 --[L5 10 H 500 ohm]-- "
         "V1.screen", ""),
        (SCREEN, "B1 --[R3 22k 2 W]-- V1.screen", "BS --[R3 22k 2 W]-- V1.screen\n"
         "BS --+[E2 250 V]-- gnd", ""),
        # nothing holds the second grid still
        (GRIDS, "V1.grid2 --[C5 100n 400 V]-- gnd", "V1.grid2", ""),
    ],
)  # fmt: skip
def test_what_is_a_slip_and_what_is_none(
    pair: str, written: str, instead: str, first: str,
    sample: Callable[[str, str], Review], review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(pair, "wrong").lines) + "\n"
    assert written in text
    text = text.replace(written, instead)
    if "RD.ter" in instead:
        text = text.replace("tube V1 6AU6", "    winding ter 12 turns 0.5 ohm\ntube V1 6AU6")
    rule = pair.partition("/")[0]
    found = _told(review(text), rule)
    assert [at[0] for at in found] == ([first] if first else [])


def test_the_foot_of_a_reflexed_stage_holds_no_audio(
    changed: Callable[..., Review], only: Callable[[Review, str], Finding]
) -> None:
    """1 uF behind 8.2 kohm: 19 Hz, where 330 pF leave 59 kHz."""
    looked = changed(REFLEX, "right", "LOAD --[C7 330p 500 V]", "LOAD --[C7 1u 500 V]")
    found = only(looked, REFLEX)
    assert found.at == ("C7", "V1")
    assert found.evidence["corner"].value == pytest.approx(19.4, rel=0.01)
    assert found.remedy.startswith("Use about 1 nF for C7")


def test_a_leak_on_the_other_side_of_the_crystal_is_named(review: Callable[[str], Review]) -> None:
    looked = review(
        'drawing "a crystal"\ntube V1 6C4\nB1 --+[E1 150 V]-- gnd\nB1 --[R1 47k]-- V1.plate\n'
        "V1.plate --[C1 10n 400 V]-- X --[Y1 100 kHz]-- V1.grid --[C2 47p]-- gnd\n"
        "X --[R2 1M]-- gnd\nV1.cathode -- gnd\nV1.plate --[C3 100p 400 V]-- OUT\n"
        "OUT --[R3 470k]-- gnd\n"
    )
    (found,) = (f for f in looked.findings if f.rule == "grid.no-return")
    assert found.at == ("V1", "R2", "Y1")
    assert "or move R2 there: it is on the other side of Y1" in found.remedy
