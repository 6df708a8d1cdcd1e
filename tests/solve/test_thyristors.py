"""Thyristors and triacs: off, fired by their gate, or fired as a state.

Outside check: Ohm's law with the drop of a fired one written by hand; on the mains the mean of a
triac is none and that of a thyristor a half wave's.
"""

from __future__ import annotations

from math import asin, cos, pi, sqrt

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.circuit import build_circuit
from coldcheck.circuit.thyristors import TYPES
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import OPEN, SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver

DC = """B --+[E1 100 V]-- gnd
B --[R1 100 ohm]-- A
C --+[E2 5 V]-- gnd
C --[R2 {ohms}]-- SCR1.g
SCR1.a -- A
SCR1.k -- gnd
thyristor SCR1 400 V 4 A gate 10 mA
"""
AC = """mains 120 V 60 Hz
line --[R1 100 ohm]-- A
neutral -- gnd
{sort} Q9 400 V 4 A
{leads}
"""


def circuit(text: str):
    built = build_circuit(parse_drawing(text))
    assert not built.problems, built.problems
    return built


def solved(text: str, state: str = "warm"):
    found = solve_states(circuit(text))[state]
    assert found.converged
    return found


@pytest.mark.parametrize(("ohms", "fires"), [("390", True), ("470", False)])
def test_its_gate_fires_it(ohms: str, fires: bool) -> None:
    """(5 - 0.7) V over 430 ohm are 10 mA."""
    found = solved(DC.format(ohms=ohms))
    fired = (100 - 0.9) / 100.1
    assert found.current("R1").dc == pytest.approx(fired if fires else 0, rel=1e-3, abs=1e-6)


def test_a_state_has_it_fired_whatever_its_gate_gets() -> None:
    found = solved(DC.format(ohms="1M"), "fired SCR1")
    assert found.state.kind == "fired"
    assert found.waves["A"].dc == pytest.approx(0.9 + 0.1 * 99.1 / 100.1, rel=1e-3)


def test_a_triac_passes_both_half_waves_and_a_thyristor_one() -> None:
    """Mean of a half wave beyond the drop: (2 Vm cos a - Vd (pi - 2a)) / (2 pi R)."""
    triac = solved(AC.format(sort="triac", leads="A -- Q9.mt2\nQ9.mt1 -- gnd"), "fired Q9")
    one = solved(AC.format(sort="thyristor", leads="A -- Q9.a\nQ9.k -- gnd"), "fired Q9")
    assert triac.current("R1").rms == pytest.approx((120 - 0.9) / 100.1, rel=0.01)
    assert triac.current("R1").dc == pytest.approx(0, abs=1e-6)
    peak = 120 * sqrt(2)
    start = asin(0.9 / peak)
    mean = (2 * peak * cos(start) - 0.9 * (pi - 2 * start)) / (2 * pi * 100.1)
    assert one.current("R1").dc == pytest.approx(mean, rel=0.01)


def test_its_faults() -> None:
    solver = FaultSolver(circuit(DC.format(ohms="1k")))
    assert solver.solve(Fault(SHORT, "SCR1.main")).waves["A"].dc == pytest.approx(0, abs=0.1)
    assert solver.solve(Fault(OPEN, "SCR1.main")).waves["A"].dc == pytest.approx(100, rel=1e-3)
    fired = FaultSolver(circuit(DC.format(ohms="390")))
    assert fired.solve(Fault(OPEN, "SCR1.gate")).waves["A"].dc > 99


def test_an_ohmmeter_sees_nothing_of_one_that_is_off() -> None:
    meter = Ohmmeter(circuit(DC.format(ohms="1k")))
    assert meter.read("A").nominal == float("inf")


def test_a_type_stands_what_its_sheet_says() -> None:
    """C106 series, makers' sheets: 200, 400 and 600 V, 4 A rms, gate 0.2 A and 6 V (found)."""
    assert [TYPES[f"C106{x}"].volts for x in "BDM"] == [200, 400, 600]
    for letter in "BDM":
        kind = TYPES[f"C106{letter}"]
        assert (kind.amps, kind.gate_amps, kind.gate_volts) == (4, 0.2, 6)
    part = circuit(DC.format(ohms="1k").replace("400 V 4 A", "C106M")).branches["SCR1.main"].part
    assert part.voltage.m_as("volt") == 600


def test_a_type_that_is_not_on_file_needs_its_figures() -> None:
    text = DC.format(ohms="1k").replace("400 V 4 A", "TIC999")
    (problem,) = build_circuit(parse_drawing(text)).problems
    assert problem.rule == "drawing.unknown-type"
    assert not build_circuit(parse_drawing(text.replace("TIC999", "TIC999 400 V 4 A"))).problems
