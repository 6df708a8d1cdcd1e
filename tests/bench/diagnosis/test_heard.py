"""Readings with the signal on, against the textbook's formulas of a triode stage."""

from __future__ import annotations

import numpy as np
import pytest

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.heard import SPREAD, SPREAD_EACH, _response, signal_volts
from coldcheck.bench.diagnosis.judged import HIGH, LOW, UNKNOWN, WITHIN
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import solve_state
from coldcheck.solve.faults.fault import Fault, altered

STAGE = """\
drawing "Bell Buoy: a triode stage, coupled on"
B1 --+[E1 300 V]-- gnd
tube V1 12AX7
signal IN 100 mV 1 kHz
IN --[C1 100 nF]-- GRID
GRID --[R1 1M]-- gnd
GRID -- V1A.grid
B1 --[R2 100k]-- V1A.plate
V1A.cathode --[R3 1k5]-- gnd
V1A.cathode --+[C2 25 uF 25 V]-- gnd
V1A.plate --[C3 22 nF 400 V]-- OUT --[R4 1M]-- gnd
"""
MU, INNER = 100.0, 70e3
"""Of the 12AX7 at about 1 mA, by its sheet: amplification 100, plate resistance 62.5 to 80 kohm."""

LOAD = 1 / (1 / 100e3 + 1 / 1e6)
BYPASSED = MU * LOAD / (LOAD + INNER)
OPEN = MU * LOAD / (LOAD + INNER + (MU + 1) * 1500)
"""Gain of a triode stage without and with its cathode resistor in the signal's way (textbook,
from memory: mu R / (R + r) and mu R / (R + r + (mu + 1) Rk))."""


@pytest.fixture(scope="module")
def stage():
    return build_circuit(parse_drawing(STAGE, "buoy.tube"))


def evening(circuit, text):
    found, slips = parse_readings(circuit, text)
    assert not slips
    evening = Evening(circuit)
    evening.take(found)
    return evening


def test_the_signal_of_a_stage_is_the_textbook_s(stage):
    solution = solve_state(stage)
    assert signal_volts(solution, "V1A.plate") == pytest.approx(0.1 * BYPASSED, rel=0.1)
    assert signal_volts(solution, "IN") == pytest.approx(0.1, rel=1e-3)
    across = signal_volts(solution, "V1A.plate", stage.points["OUT"])
    assert across == pytest.approx(0.1 * BYPASSED / (2 * np.pi * 1e3 * 22e-9 * 1e6), rel=0.15)


def test_an_open_cathode_capacitor_takes_what_the_textbook_says(stage):
    """An open capacitor moves no direct current: the working point of the sound stage holds."""
    plain = evening(stage, "V1A.plate signal 1")
    diagnosis, _ = plain.diagnosis()
    library = diagnosis.library
    at = library.channel("signal", "V1A.plate")
    volts = {
        s.key: float(np.exp(library.mean[library.owner == k][0, at]))
        for k, s in enumerate(library.suspects)
    }
    assert volts["C2 open"] / volts["good"] == pytest.approx(OPEN / BYPASSED, rel=0.1)
    assert volts["C1 open"] < 0.005
    assert volts["C3 open"] == pytest.approx(volts["good"], rel=0.1)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("V1A.plate signal 5.6\nOUT signal 1 mV", "C3 open"),
        ("V1A.plate signal 3.0\nV1A.cathode signal 60 mV", "C2 open"),
        ("V1A.plate signal 0\nGRID signal 0", "C1 open"),
    ],
)
def test_open_capacitors_are_found_though_every_voltage_is_right(stage, text, key):
    told = evening(stage, f"V1A.plate dc 200\nV1A.cathode dc 1.5\n{text}").account()
    assert told.leading[0].members[0].suspect.key == key
    assert not told.unused


def test_a_signal_is_judged_to_a_third(stage):
    volts = signal_volts(solve_state(stage), "V1A.plate")
    for factor, verdict in ((0.68, LOW), (0.75, WITHIN), (1.35, WITHIN), (1.45, HIGH)):
        (one,) = evening(stage, f"V1A.plate signal {volts * factor}").account().judged
        assert one.verdict == verdict


def test_a_drawing_without_a_signal_has_no_such_reading():
    text = STAGE.replace("signal IN 100 mV 1 kHz\n", "").replace("IN --[C1", "gnd --[C1")
    told = evening(build_circuit(parse_drawing(text, "b.tube")), "V1A.plate signal 5").account()
    assert told.judged[0].verdict == UNKNOWN
    assert [r.kind for r in told.unused] == ["signal"]


def test_what_is_altered_is_solved_about_its_own_working_point(stage):
    """The cathode at gnd: the stage without its bias, solved whole."""
    library = evening(stage, "V1A.plate signal 1").diagnosis()[0].library
    at = library.channel("signal", "V1A.plate")
    place = next(k for k, s in enumerate(library.suspects) if s.key == "R3 short")
    faulty = altered(stage, (Fault("short", "R3"),))
    truth = signal_volts(solve_state(faulty), "V1A.plate")
    assert np.exp(library.mean[library.owner == place][0, at]) == pytest.approx(truth, rel=0.02)


def test_a_tired_tube_is_heard(stage):
    """A tenth of the emission is a tenth of the slopes at those volts: ten times the inner ohms."""
    solution = solve_state(stage)
    tired = _response(stage, solution, {"V1": 0.1})
    inner = MU * LOAD / (LOAD + 10 * INNER)
    assert abs(tired["V1A.plate"]) == pytest.approx(0.1 * inner, rel=0.1)
    assert abs(_response(stage, solution, {"V1": 0.0})["V1A.plate"]) < 1e-3


def test_all_sources_of_one_frequency_drive_together(stage):
    text = (
        STAGE
        + "signal AUX 50 mV 1 kHz\nAUX --[R9 1M]-- gnd\n"
        + "signal FAR 1 V 50 kHz\nFAR --[R8 1M]-- gnd\n"
    )
    found = _response(circuit := build_circuit(parse_drawing(text, "b")), solve_state(circuit))
    assert abs(found["IN"]) == pytest.approx(0.1, rel=1e-3)
    assert abs(found["AUX"]) == pytest.approx(0.05, rel=1e-3)
    assert abs(found["FAR"]) < 1e-6


def test_a_signal_is_asked_for_at_a_stage_and_not_at_rails(stage):
    library = Evening(stage).known.library()
    points = {c.point for c in library.channels if c.kind == "signal"}
    assert {"V1A.plate", "V1A.cathode"} <= points
    assert "B1" not in points
    plain = build_circuit(parse_drawing(STAGE.replace("signal IN 100 mV 1 kHz\n", ""), "b"))
    assert not [c for c in Evening(plain).known.library().channels if c.kind == "signal"]


def test_readings_of_a_signal_share_what_amplifies(stage):
    """Two a fifth low are no two signs of a fault: their common deviation is the larger."""
    library = Evening(stage).known.library()
    at = [k for k, c in enumerate(library.channels) if c.kind == "signal"]
    spread = library.covariance[0][np.ix_(at, at)]
    assert spread[0, 1] == pytest.approx(SPREAD**2)
    assert spread[0, 0] == pytest.approx(SPREAD**2 + SPREAD_EACH**2, rel=0.05)


def test_where_a_fault_moves_a_stage_its_signal_is_less_sure(stage):
    library = Evening(stage).known.library()
    at = library.channel("signal", "V1A.plate")
    wide = {
        s.key: float(library.covariance[library.owner == k][-1, at, at])
        for k, s in enumerate(library.suspects)
    }
    assert wide["R2 high"] > 2 * wide["good"]
    assert wide["C2 open"] == pytest.approx(wide["good"], rel=0.1)
