"""Readings between any two points, held against circuits solved whole and sums done by hand."""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.judged import HIGH, LOW, UNKNOWN, WITHIN
from coldcheck.bench.diagnosis.library import library_of, with_channels
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import Solver
from coldcheck.solve.faults.fault import Fault, altered
from coldcheck.solve.solution import WARM, State

SENSED = """\
drawing "Toll Gate: an output stage with an ohm to sense its current"
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 6 ohm
    winding warm 6.3 V 2 A 0.1 ohm
    winding low 12 V 1 A 0.8 ohm
line -- T1.pri.1
T1.pri.2 -- neutral
tube V1 6V6GT heater T1.warm
output T2 5k : 8 ohm 200 ohm
B1 --+[E1 250 V]-- gnd
B1 --[R5 470 ohm]-- V1.screen
B1 -- T2.p1
T2.p2 -- V1.plate
gnd --[R1 470k]-- DRIVE
DRIVE --[R2 1k]-- V1.grid
BIAS --+[E2 12.5 V]-- gnd
"""
FIXED = SENSED.replace("gnd --[R1", "NEG --[R1").replace(
    "BIAS --+[E2 12.5 V]-- gnd", "gnd --+[E2 12.5 V]-- NEG\nV1.cathode --[R3 1 ohm 1 W]-- gnd"
)
HEATED = (
    FIXED
    + """\
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
T1.warm.2 -- gnd
T1.low.1 --[D1 1N4007]-> H1
H1 --+[C1 10000 uF 25 V]-- T1.low.2
H1 --[R4 40 ohm 10 W]-- T1.low.2
T1.low.2 --[R6 100 ohm]-- gnd
"""
)


@pytest.fixture(scope="module")
def sensed():
    return build_circuit(parse_drawing(HEATED, "gate.tube"))


@pytest.fixture(scope="module")
def library(sensed):
    return library_of(sensed, suspects_of(sensed))


def judged(circuit, text):
    found, slips = parse_readings(circuit, text)
    assert not slips
    evening = Evening(circuit)
    evening.take(found)
    return [evening.judged(r) for r in evening.readings]


def account(circuit, text):
    found, slips = parse_readings(circuit, text)
    assert not slips
    evening = Evening(circuit)
    evening.take(found)
    return evening.account()


# -- the floor is the meter's --------------------------------------------------------------


def test_an_absent_output_tube_shows_across_the_ohm_in_its_cathode(sensed):
    """45 mA of a 6V6GT at 250 V and -12.5 V, by its sheet, and 4.5 mA of its screen: 49.5 mV."""
    one, none = judged(sensed, "across R3 49.5 mV\nacross R3 dc 0")
    assert one.verdict == WITHIN
    assert one.expected == pytest.approx(0.0495, rel=0.1)
    assert none.verdict == LOW
    told = account(sensed, "across R3 dc 0 mV")
    keys = [r.suspect.key for g in told.leading[:2] for r in g.members]
    assert "V1 dead" in keys
    assert not told.leading[0].sound


def test_what_a_meter_cannot_show_is_no_difference(divider):
    """3 steps of 0.1 mV, 1 % of 46 mV, and 0.3 mV of contacts: 0.8 mV beside the tolerances."""
    (one,) = judged(divider, "LOW dc 46 mV")
    off = np.hypot(
        one.expected * np.sqrt(2 * 0.05**2 + 0.01**2), np.hypot(0.0003 + 0.01 * 0.046, 0.0003)
    )
    assert one.high - one.expected == pytest.approx(off, rel=0.05)
    within, beyond = (one.expected + x * off for x in (0.9, 1.1))
    assert [j.verdict for j in judged(divider, f"LOW dc {within} V")] == [WITHIN]
    assert [j.verdict for j in judged(divider, f"LOW dc {beyond} V")] == [HIGH]


@pytest.fixture(scope="module")
def divider():
    text = (
        'drawing "Kerb"\nB1 --+[E1 46 V]-- gnd\nB1 --[R1 1k 5 W 5 %]-- LOW --[R2 1 ohm 5 %]-- gnd\n'
    )
    return build_circuit(parse_drawing(text, "kerb.tube"))


# -- between two points --------------------------------------------------------------------


def test_across_heaters_and_windings(sensed):
    """6.3 V of a winding, its two ends; 12 V rms behind a diode and 10 000 uF: some 15 V."""
    warm, low, ohms = judged(
        sensed, "across V1.heater ac 6.4\nH1 to T1.low.2 dc 15\nacross T1.low ohm 0.8"
    )
    assert warm.verdict == ohms.verdict == WITHIN
    assert warm.expected == pytest.approx(6.3, rel=0.15)
    solution = Solver(sensed).solve(State(WARM, WARM))
    assert low.expected == pytest.approx(solution.between("H1", "T1.low.2").dc, rel=1e-3)


def test_a_part_named_the_other_way_round_reads_the_same(sensed):
    text = "H1 to T1.low.2 dc 15\nT1.low.2 to H1 dc -15\nacross C1 dc 15.1"
    up, down, across = judged(sensed, text)
    assert up.expected == pytest.approx(-down.expected)
    assert across.expected == pytest.approx(up.expected)
    assert up.verdict == down.verdict == across.verdict


def test_ohms_between_any_two_points(sensed):
    """From B+ to the plate the copper alone: 200 ohm, and 470 ohm more by way of the screen."""
    copper, screen, none = judged(
        sensed, "B1 to V1.plate ohm 200\nV1.screen to V1.plate ohm 670\nB1 to H1 ohm OL"
    )
    assert (copper.expected, screen.expected) == (pytest.approx(200), pytest.approx(670))
    assert none.expected == inf
    assert {copper.verdict, screen.verdict, none.verdict} == {WITHIN}


def test_a_floating_winding_reads_between_its_ends():
    """Nothing holds T1.warm: no volts to gnd, 6.3 V from end to end."""
    loose = build_circuit(parse_drawing(HEATED.replace("T1.warm.2 -- gnd\n", ""), "gate.tube"))
    alone, ends = judged(loose, "T1.warm.1 ac 3\nT1.warm.1 to T1.warm.2 ac 6.4")
    assert alone.verdict == UNKNOWN
    assert ends.verdict == WITHIN


# -- currents ------------------------------------------------------------------------------


def test_a_current_through_a_lifted_lead(sensed):
    """The sheet of the 6V6GT: 45 mA of plate and 4.5 mA of screen at 250 V and -12.5 V."""
    plate, screen, sense = judged(
        sensed, "through V1.plate 45 mA\nthrough R5 mA 4.5\nthrough R3 49.5 mA"
    )
    assert {plate.verdict, screen.verdict, sense.verdict} == {WITHIN}
    assert plate.expected + screen.expected == pytest.approx(sense.expected, rel=1e-3)
    told = account(sensed, "through R3 mA 0\nB1 dc 250")
    assert [r.point for r in told.unused] == ["through R3"]
    assert told.judged[0].verdict == LOW


# -- the models ----------------------------------------------------------------------------

WANTED = (
    Channel("dc", "H1", "H1 to T1.low.2", 20.0, 0.0, "T1.low.2"),
    Channel("ac", "T1.low.1", "T1.low.1 to T1.low.2", 20.0, 0.0, "T1.low.2"),
    Channel("ohm", "B1", "B1 to V1.plate", 0.0, 0.0, "T2.p2"),
)


def test_a_channel_between_two_points_comes_from_what_was_solved(sensed, library):
    wide = with_channels(library, sensed, [_on_nets(sensed, c) for c in WANTED])
    count = len(library.channels)
    assert np.array_equal(wide.mean[:, :count], library.mean)
    assert np.array_equal(wide.covariance[:, :count, :count], library.covariance)
    assert np.allclose(wide.covariance, wide.covariance.transpose(0, 2, 1))
    assert np.linalg.eigvalsh(wide.covariance + np.eye(count + 3) * 1e-9).min() > -1e-6
    solution = Solver(sensed).solve(State(WARM, WARM))
    dc, ac, ohm = wide.mean[0, count:]
    assert dc == pytest.approx(solution.between("H1", "T1.low.2").dc, rel=2e-3)
    assert np.exp(ac) == pytest.approx(solution.between("T1.low.1", "T1.low.2").ac_rms, rel=0.02)
    assert np.exp(ohm) == pytest.approx(200 + 1.0)
    spread = solution.spread().volts("H1", solution.circuit.points["T1.low.2"])
    assert np.sqrt(3 * wide.covariance[0, count, count]) == pytest.approx(spread, rel=0.1)


def test_a_fault_moves_it_as_the_circuit_with_the_fault_does(sensed, library):
    """Solved whole, with the capacitor out: half waves across 40 ohm."""
    wide = with_channels(library, sensed, [_on_nets(sensed, WANTED[0])])
    place = next(k for k, s in enumerate(library.suspects) if s.key == "C1 open")
    model = int(np.flatnonzero(library.owner == place)[0])
    faulty = altered(sensed, (Fault("open", "C1"),))
    truth = Solver(faulty).solve(State(WARM, WARM)).between("H1", "T1.low.2").dc
    assert wide.mean[model, -1] == pytest.approx(truth, rel=0.01)


def _on_nets(circuit, channel):
    at = circuit.points
    return Channel(
        channel.kind, at.get(channel.net, channel.net), channel.point, channel.peak, 0.0,
        at.get(channel.other, channel.other),
    )  # fmt: skip
