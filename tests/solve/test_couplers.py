"""Optocouplers: one statement, a lamp and the cell that it lights.

Outside check: Ohm's law with the ohms of the cell in the dark and in the light.
"""

from __future__ import annotations

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import OPEN, SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver

FED = """B --+[E1 100 V]-- gnd
C --+[E2 {volts} V]-- gnd
C --[R1 {ohms}]-- K
B --[R2 10k]-- OUT
OC1.cell1 -- OUT
OC1.cell2 -- gnd
"""
LED = FED + "optocoupler OC1 led 20 mA cell 1M 500 ohm\nK -- OC1.a\nOC1.k -- gnd\n"
LIT, DARK = 100 * 500 / 10500, 100 * 1e6 / 1.01e6


def circuit(text: str):
    built = build_circuit(parse_drawing(text))
    assert not built.problems, built.problems
    return built


def out(text: str, state: str = "warm") -> float:
    found = solve_states(circuit(text))[state]
    assert found.converged
    return found.waves["OUT"].dc


def test_its_parts_have_its_name() -> None:
    made = circuit(LED.format(volts=5, ohms="470"))
    assert made.branches["OC1.lamp"].kind is PartKind.LED
    assert made.branches["OC1.cell"].kind is PartKind.PHOTOCELL
    assert made.couplers["OC1"].cell is made.branches["OC1.cell"]


@pytest.mark.parametrize(("ohms", "volts"), [("470", LIT), ("2k9", LIT), ("3k3", DARK)])
def test_an_led_lights_its_cell_from_one_milliampere(ohms: str, volts: float) -> None:
    """(5 - 1.9) V over 3.1 kohm is 1 mA."""
    assert out(LED.format(volts=5, ohms=ohms)) == pytest.approx(volts, rel=1e-3)


def test_what_is_dark_has_a_state_in_the_light() -> None:
    text = LED.format(volts=1, ohms="470")
    assert out(text) == pytest.approx(DARK, rel=1e-3)
    assert out(text, "lit OC1") == pytest.approx(LIT, rel=1e-3)


def test_a_neon_and_a_filament_light_it_too() -> None:
    neon = FED + "optocoupler OC1 neon cell 1M 500 ohm\nK -- OC1.lamp1\nOC1.lamp2 -- gnd\n"
    assert out(neon.format(volts=150, ohms="100k")) == pytest.approx(LIT, rel=1e-3)
    assert out(neon.format(volts=50, ohms="100k")) == pytest.approx(DARK, rel=1e-3)
    bulb = neon.replace("neon", "lamp 6 V 40 mA")
    assert out(bulb.format(volts=6, ohms="100")) == pytest.approx(LIT, rel=1e-3)
    assert out(bulb.format(volts=6, ohms="200")) == pytest.approx(DARK, rel=1e-3)


def test_a_fault_of_its_lamp_darkens_it() -> None:
    made = circuit(LED.format(volts=5, ohms="470"))
    solver = FaultSolver(made)
    assert solver.solve(Fault(OPEN, "R1")).waves["OUT"].dc == pytest.approx(DARK, rel=1e-3)
    assert solver.solve(Fault(OPEN, "OC1.lamp")).waves["OUT"].dc == pytest.approx(DARK, rel=1e-3)
    assert solver.solve(Fault(SHORT, "OC1.cell")).waves["OUT"].dc == pytest.approx(0, abs=0.05)


def test_an_ohmmeter_sees_the_dark_cell_and_no_way_across() -> None:
    meter = Ohmmeter(circuit(LED.format(volts=5, ohms="470")))
    assert meter.read("OUT").nominal == pytest.approx(1e6, rel=0.02)
    assert meter.read("C").nominal == float("inf")


def test_one_that_darkens_its_own_lamp_is_no_rest() -> None:
    """Its cell shunts the LED that lights it: it goes to and fro."""
    text = """C --+[E2 5 V]-- gnd
C --[R1 1k]-- K
optocoupler OC1 led cell 1M 100 ohm
K -- OC1.a
OC1.k -- gnd
OC1.cell1 -- K
OC1.cell2 -- gnd
"""
    found = solve_states(circuit(text))["warm"]
    assert not found.converged
    assert "OC1 goes to and fro" in found.reason
