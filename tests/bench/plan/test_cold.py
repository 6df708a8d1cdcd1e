"""Resistance checks before power: every claim holds on the circuit that has the fault."""

from __future__ import annotations

from math import inf
from pathlib import Path

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.plan.cold import INSULATION, ColdBench, Place, apart, cold_checks
from coldcheck.bench.plan.places import (
    known,
    tube_faults,
    tube_places,
    wiring_faults,
    wiring_places,
)
from coldcheck.circuit import build_circuit
from coldcheck.circuit.paths import NO_CHANGE, Change
from coldcheck.drawing import read_drawing
from coldcheck.solve.faults.fault import LEAK, SHORT, Fault, altered

SAMPLES = sorted((Path(__file__).parents[3] / "samples").glob("*.tube"))

HARBOUR = next(p for p in SAMPLES if p.stem == "harbour-light")

DIVIDER = """\
B1 --+[E1 300 V]-- gnd
B1 --[R1 10k 10 %]-- MID --[R2 20k 10 %]-- gnd
MID --+[C1 10 uF 350 V]-- gnd
"""


def both(circuit):
    """The two steps, all tubes out and all in: what is changed, and the checks with the rest."""
    out = Change(pulled=frozenset(circuit.tubes))
    wiring = known(circuit, wiring_places(circuit)), wiring_faults(circuit)
    tubes = known(circuit, tube_places(circuit)), tube_faults(circuit)
    yield out, cold_checks(circuit, out, *wiring)
    yield NO_CHANGE, cold_checks(circuit, NO_CHANGE, *tubes)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_every_fault_a_check_claims_to_show_reads_outside_its_range(path):
    circuit = build_circuit(read_drawing(path))
    claims = 0
    for change, (checks, _) in both(circuit):
        for check in checks:
            for catch in check.catches:
                claims += 1
                meter = Ohmmeter(altered(circuit, [catch.fault], graph=False), change)
                ohms = meter.read(circuit.points[check.point], circuit.points[check.other])
                assert (ohms.low, ohms.high) == pytest.approx((catch.low, catch.high), rel=1e-6)
                below = check.stop_below is not None and ohms.high < check.stop_below
                above = check.stop_above is not None and ohms.low > check.stop_above
                assert below or above, (check, catch.fault.name)
    assert claims > 5


@pytest.mark.parametrize("path", SAMPLES[::4], ids=lambda p: p.stem)
def test_every_fault_looked_for_is_either_shown_or_owned_up_to(path):
    circuit = build_circuit(read_drawing(path))
    for _, (checks, unseen) in both(circuit):
        shown = [c.fault for check in checks for c in check.catches]
        assert len(set(shown)) == len(shown)
        assert not set(shown) & set(unseen)
    wiring = next(both(circuit))[1]
    shown = {c.fault for check in wiring[0] for c in check.catches}
    assert shown | set(wiring[1]) == set(wiring_faults(circuit))


def test_a_shorted_capacitor_by_hand(circuit):
    """B1 reads R1 + R2 = 27k to 33k; with C1 shorted R1 alone, 9k to 11k."""
    drawn = circuit(DIVIDER)
    checks, unseen = cold_checks(drawn, NO_CHANGE, [Place("B1", "gnd")], [Fault(SHORT, "C1")])
    (check,) = checks
    assert (check.low, check.expected, check.high) == pytest.approx((27e3, 30e3, 33e3))
    (catch,) = check.catches
    assert (catch.low, catch.high) == pytest.approx((9e3, 11e3), rel=1e-3)
    assert unseen == ()


def test_a_leak_that_drowns_in_the_tolerance_is_not_claimed(circuit):
    """1 Mohm across R2 = 20k makes 19.6k of it: well within 10 %."""
    drawn = circuit(DIVIDER)
    leak = Fault(LEAK, "C1", 1e6)
    checks, unseen = cold_checks(drawn, NO_CHANGE, [Place("MID", "gnd")], [leak])
    assert checks == ()
    assert unseen == (leak,)


def test_readings_apart_leave_room_for_the_meter():
    assert apart(100.0, 110.0, 90.0, 98.0) == 0.0  # 98 + 1 % + 0.5 is above 100 - 1 % - 0.5
    assert apart(100.0, 110.0, 80.0, 90.0) > 1
    assert apart(100.0, 110.0, 120.0, 130.0) > 1
    assert apart(1e6, inf, 0.0, 0.01) > 1e5


def test_a_diode_that_the_meter_turns_on_widens_the_range(circuit):
    """D1 joins 1k to 10k with the + lead on A; on the other polarity only 10k is read."""
    drawn = circuit("A --[R1 10k 1 %]-- gnd\nA --[D1 1N4007]-> K\nK --[R2 1k 1 %]-- gnd\n")
    (found,) = ColdBench(drawn, NO_CHANGE).found([Place("A", "gnd")])
    assert not found.plus  # the lead that leaves the diode alone
    assert found.least == pytest.approx(9.9e3)
    both_ways = circuit(
        "A --[R1 10k 1 %]-- gnd\nA --[D1 1N4007]-> K\nA <-[D2 1N4007]-- K\nK --[R2 1k 1 %]-- gnd\n"
    )
    (found,) = ColdBench(both_ways, NO_CHANGE).found([Place("A", "gnd")])
    assert found.least == pytest.approx(900, rel=0.02)  # 10k and 1k in parallel


def test_the_plug_and_the_protective_earth_are_always_read():
    circuit = build_circuit(read_drawing(HARBOUR))
    checks, _ = next(both(circuit))[1]
    pairs = {(c.point, c.other): c for c in checks}
    assert {("line", "neutral"), ("line", "chassis"), ("neutral", "chassis")} <= set(pairs)
    assert pairs["line", "chassis"].low == INSULATION
    assert pairs["earth", "chassis"].high <= 0.5
