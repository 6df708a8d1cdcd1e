"""A load that is lost at full drive: figures by hand."""

import math

import pytest

from coldcheck.bench.faults.driven import FLASHES, Drive, unloaded
from coldcheck.bench.faults.faults import as_review, sweep
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault
from coldcheck.solve.faults.solver import FaultSolver

STAGE = """drawing "Buoy: a stage on a bench supply"
B --+[E1 270 V]-- gnd
tube V1 {tube}
output T2 5k : 8 ohm 210 ohm {henries} H
B -- T2.p1
T2.p2 -- V1.plate
{screen}
V1.cathode --[R7 270 ohm 5 W]-- gnd
V1.cathode --+[C7 1000 uF 50 V]-- gnd
signal IN {signal} 1 kHz
IN --[C4 1 uF 400 V]-- V1.grid --[R6 470k]-- gnd
T2.s1 --[S1 switch]-- SP --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
{more}
"""


def stage(tube="6V6GT", henries=12, screen="B -- V1.screen", signal="5 V", more=""):
    text = STAGE.format(tube=tube, henries=henries, screen=screen, signal=signal, more=more)
    drawing = parse_drawing(text, "<test>")
    circuit = build_circuit(drawing)
    assert not (*drawing.problems, *circuit.problems)
    return drawing, circuit


def judged(circuit, fault):
    solver = FaultSolver(circuit)
    drive = Drive.of(circuit, solver.good("warm"))
    return drive.judged(circuit, fault, solver.solve(fault, "warm"))


LOST = Fault(f.OPEN, "LS1")


def test_the_plate_swings_to_gm_times_what_is_left():
    """gm of the grid's swing, over rp beside the primary's reactance and copper.

    The set is driven until its plate is down at its cathode or the grid up at it; the reactance of
    12 H at 1 kHz is 75 kohm.
    """
    from coldcheck.solve.signal.small_signal import small_signal

    _, circuit = stage()
    good = FaultSolver(circuit).good("warm")
    found = small_signal(circuit, good, (1000.0,)).sources["IN"]
    tube = found.stage("V1")
    drive = min(x.source_peak for x in tube.limits)
    reactance = 2j * math.pi * 1000 * 12
    swing = tube.gm * drive * abs(1 / (1 / tube.rp + 1 / (210 + reactance)))
    [said], why = judged(circuit, LOST)
    assert why == ""
    assert said.rule == "fault.flash-over"
    assert said.at == ("T2", "V1")
    plate = said.evidence["plate_dc"].value
    assert said.evidence["plate_peak"].value == pytest.approx(plate + swing, rel=0.02)
    # the supply stands still: all of the swing is across the primary
    assert said.evidence["primary_peak"].value == pytest.approx(swing, rel=0.02)
    assert said.evidence["signal_rms"].value == pytest.approx(drive / math.sqrt(2))
    assert said.limit.value == pytest.approx(3 * plate)


def test_the_drive_is_that_of_the_set_and_not_what_is_stated():
    _, quiet = stage(signal="0.1 V")
    _, loud = stage(signal="5 V")
    one, other = (judged(c, LOST)[0][0] for c in (quiet, loud))
    assert one.evidence["plate_peak"].value == pytest.approx(other.evidence["plate_peak"].value)


@pytest.mark.parametrize(
    "fault", [LOST, Fault(f.OPEN, "T2.s1-s2"), Fault(f.THROWN, "S1")], ids=lambda x: x.name
)
def test_whatever_takes_the_load_is_one(fault):
    _, circuit = stage()
    findings, _ = judged(circuit, fault)
    assert [x.rule for x in findings] == ["fault.flash-over"]


@pytest.mark.parametrize("fault", [Fault(f.SHORT, "LS1"), Fault(f.OPEN, "R6")])
def test_what_leaves_the_load_is_none(fault):
    _, circuit = stage()
    assert unloaded(circuit, fault) == ()


def test_a_resistor_across_the_secondary_saves_it():
    """220 ohm on 8 are 137 kohm at the primary beside 50: still high, but it is a load."""
    _, circuit = stage(more="T2.s1 --[R9 220 ohm 5 W]-- T2.s2")
    assert judged(circuit, LOST) == ((), "")


def test_a_triode_stands_it():
    _, circuit = stage(screen="V1.screen --[R2 100 ohm]-- V1.plate")
    assert judged(circuit, LOST) == ((), "")


@pytest.mark.parametrize(("factor", "told"), [(0.99, True), (1.01, False)])
def test_from_three_times_its_volts(factor, told, monkeypatch):
    """The limit moved to either side of what the plate swings to."""
    _, circuit = stage()
    [said], _ = judged(circuit, LOST)
    times = said.evidence["plate_peak"].value / said.evidence["plate_dc"].value
    monkeypatch.setattr(
        "coldcheck.bench.faults.driven.FLASHES", type(FLASHES)("", times * factor, "", "")
    )
    assert bool(judged(circuit, LOST)[0]) is told
    assert FLASHES.value == 3.0


def test_without_a_signal_it_is_not_called_harmless():
    text = STAGE.format(
        tube="6V6GT", henries=12, screen="B -- V1.screen", signal="1 V", more=""
    ).replace("IN --[C4 1 uF 400 V]-- ", "").replace("signal IN 1 V 1 kHz\n", "")  # fmt: skip
    drawing = parse_drawing(text, "<test>")
    circuit = build_circuit(drawing)
    found = sweep(circuit, [LOST, Fault(f.SHORT, "LS1")])
    assert [o.fault.name for o in found.harmless] == ["LS1 shorted"]
    said = [x.reason for x in as_review(drawing, circuit, found).not_judged]
    assert said == [
        "LS1 open: what T2 does driven without its load: no signal is drawn, or its limit is not "
        "known"
    ]


def test_it_is_in_the_sweep():
    _, circuit = stage()
    [outcome] = sweep(circuit, [LOST]).outcomes
    assert outcome.level == "notice"
    assert outcome.findings[0].state == "failed LS1 open"


PAIR = """drawing "Buoy: a pair on a bench supply"
B --+[E1 400 V]-- gnd
NEG --[E2 38 V]+-- gnd
tube V1 6L6GC
tube V2 6L6GC
output T2 6.6k ct : 8 ohm 150 ohm 30 H
B -- T2.ct
T2.p1 -- V1.plate
T2.p2 -- V2.plate
B -- V1.screen
B -- V2.screen
V1.cathode -- gnd
V2.cathode -- gnd
signal IN 20 V 1 kHz
IN --[C1 1 uF 400 V]-- V1.grid --[R1 220k]-- NEG
V2.grid --[R2 220k]-- NEG
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""


def test_of_a_pair_both_halves_are_across_the_primary():
    """One winding drives the other: twice what a plate moves stands from plate to plate."""
    circuit = build_circuit(parse_drawing(PAIR, "<test>"))
    [said], _ = judged(circuit, LOST)
    swing = said.evidence["plate_peak"].value - said.evidence["plate_dc"].value
    assert said.evidence["primary_peak"].value == pytest.approx(2 * swing, rel=0.05)
