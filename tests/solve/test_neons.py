"""Neons without figures: dark, struck, or open where copies differ (common practice).

Outside check: a struck neon is a source of its volts behind its slope, so what flows is a fraction
written by hand; on the mains the mean over a half cycle is an integral in closed form.
"""

from __future__ import annotations

from math import asin, cos, pi, sqrt

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import solve_state, solve_states
from coldcheck.solve.faults.fault import OPEN, SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.signal.linearised import Linearised

FED = (
    "B --+[E1 {volts} V]-- gnd\nB --[R1 100k]-- K --[NE1 neon{marked}]-- gnd\nK --[R2 10M]-- gnd\n"
)


def circuit(text: str):
    built = build_circuit(parse_drawing(text))
    assert not built.problems
    return built


def warm(text: str):
    return solve_state(circuit(text))


def test_below_its_least_striking_volts_it_is_dark() -> None:
    found = warm(FED.format(volts=59, marked=""))
    assert found.current("NE1").dc == 0
    assert found.waves["K"].dc == pytest.approx(59 * 10 / 10.1, rel=1e-3)


def test_beyond_its_most_it_holds_its_volts() -> None:
    """Node law: (200 - v) / 100k = v / 10M + (v - 55) / 4k."""
    found = warm(FED.format(volts=200, marked=""))
    volts = (200 / 100e3 + 55 / 4e3) / (1 / 100e3 + 1 / 10e6 + 1 / 4e3)
    assert found.waves["K"].dc == pytest.approx(volts, abs=0.01)
    assert found.current("NE1").dc == pytest.approx((volts - 55) / 4e3, rel=1e-3)
    assert found.spread().volts("K") > 4  # copies hold 50 to 60 V


def test_its_own_volts_are_what_it_holds() -> None:
    found = warm(FED.format(volts=200, marked=" 65 V"))
    assert found.waves["K"].dc == pytest.approx(65 + 4 * 1.3, abs=0.3)


def test_where_copies_differ_it_is_left_open_and_said() -> None:
    found = warm(FED.format(volts=75, marked=""))
    assert "K" not in found.waves
    assert str(found.undefined["K"]) == "depends on whether NE1 strikes"
    assert found.waves["B"].dc == pytest.approx(75)


MAINS = """mains 120 V 60 Hz
line --[R1 100k]-- K --[NE1 neon]-- neutral
neutral -- gnd
"""


def test_on_the_mains_it_conducts_either_way_beyond_what_it_holds() -> None:
    """Mean: the integral of (Vm sin x - 55) / (R + 4k) where it is positive, over pi."""
    amps = abs(warm(MAINS).current("NE1").samples).mean()
    peak = 120 * sqrt(2)
    start = asin(55 / peak)
    mean = (2 * peak * cos(start) - 55 * (pi - 2 * start)) / pi / 104e3
    assert amps == pytest.approx(mean, rel=0.01)
    assert warm(MAINS).current("NE1").dc == pytest.approx(0, abs=1e-6)


def test_one_marked_for_the_mains_has_its_resistor_inside() -> None:
    text = "mains 120 V 60 Hz\nline --[PL1 neon 120 V]-- neutral\nneutral -- gnd\n"
    assert 0.2e-3 < abs(warm(text).current("PL1").samples).mean() < 1e-3


def test_one_with_a_capacitor_across_it_is_left_open() -> None:
    found = warm(FED.format(volts=200, marked="") + "K --[C1 10n]-- gnd\n")
    assert "K" not in found.waves
    assert (
        not circuit(FED.format(volts=200, marked="") + "B --[C1 10n]-- gnd\n")
        .branches["NE1"]
        .traits.needs_value
    )


def test_a_signal_is_worked_out_beside_it() -> None:
    """Lit it is its slope, dark nothing: 4k and 10M beside 100k at K."""
    for volts, ohms in ((200, 1 / (1 / 4e3 + 1 / 100e3 + 1 / 10e6)), (50, 1 / (1e-5 + 1e-7))):
        made = circuit(FED.format(volts=volts, marked=""))
        line = Linearised(made, solve_states(made)["warm"])
        column = line.column({made.points["K"]: 1.0})
        got = abs(line.solve(1000.0, column[:, None])[line.network.at(made.points["K"]), 0])
        assert got == pytest.approx(ohms, rel=0.01)


def test_a_neon_that_opens_lets_its_point_rise() -> None:
    made = circuit(FED.format(volts=200, marked=""))
    found = FaultSolver(made).solve(Fault(OPEN, "NE1"))
    assert found.waves["K"].dc == pytest.approx(200 * 10 / 10.1, rel=1e-3)
    assert FaultSolver(made).solve(Fault(SHORT, "NE1")).waves["K"].dc == pytest.approx(0, abs=0.1)
    # R2 gone changes next to nothing; R1 ten times as large leaves it lit
    assert FaultSolver(made).solve(Fault(OPEN, "R2")).waves["K"].dc == pytest.approx(60, abs=2)


def test_an_ohmmeter_sees_nothing_of_it() -> None:
    meter = Ohmmeter(circuit("K --[NE1 neon]-- gnd\nK --[R2 10k]-- gnd\n"))
    assert meter.read("K").nominal == pytest.approx(10e3)
