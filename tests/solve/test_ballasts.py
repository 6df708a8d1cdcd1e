"""Barretters hold their current within their range; photocells in the dark and in the light."""

from __future__ import annotations

from itertools import pairwise

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import OPEN, SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver

LINE = (
    "mains {volts} V 60 Hz tolerance 10 %\n"
    "line --[BAL1 barretter 150 mA 30 V 80 V]-- A --[R1 {ohms}]-- neutral\nneutral -- gnd\n"
)


def solved(text: str):
    found = solve_states(build_circuit(parse_drawing(text)))
    assert all(s.converged for s in found.values())
    return found


@pytest.mark.parametrize("state", ["warm", "high line", "low line"])
def test_within_its_range_the_current_is_its_own(state: str) -> None:
    """120 V less 60 V in the resistor leave 48 to 72 V, so that 0.15 A hold at any mains."""
    found = solved(LINE.format(volts=120, ohms=400))[state]
    assert found.current("R1").rms == pytest.approx(0.15, rel=2e-3)
    factor = {"warm": 1.0, "high line": 1.1, "low line": 0.9}[state]
    assert found.between("line", "A").rms == pytest.approx(120 * factor - 60, rel=5e-3)


@pytest.mark.parametrize(("volts", "end"), [(60, 30.0), (200, 80.0)])
def test_beyond_it_is_the_resistance_of_that_end(volts: int, end: float) -> None:
    """Ohm's law with 30 V / 0.15 A or 80 V / 0.15 A."""
    found = solved(LINE.format(volts=volts, ohms=400))["warm"]
    assert found.current("R1").rms == pytest.approx(volts / (400 + end / 0.15), rel=2e-3)


def test_on_direct_current_and_with_others_in_parallel() -> None:
    text = (
        "B --+[E1 100 V]-- gnd\nB --[BAL1 barretter 100 mA 20 V 60 V]-- A --[R1 1k]-- gnd\n"
        "A --[R2 1k]-- gnd\nB --[BAL2 ballast 50 V 0.1 A]-- gnd\n"
    )
    found = solved(text)["warm"]
    assert found.current("BAL1").dc == pytest.approx(0.1, rel=2e-3)
    assert found.wave("A").dc == pytest.approx(50, rel=3e-3)
    assert found.current("BAL2").dc == pytest.approx(0.2, rel=1e-5)  # a resistor of 500 ohm


def test_faults_start_from_where_it_rests() -> None:
    solver = FaultSolver(build_circuit(parse_drawing(LINE.format(volts=120, ohms=400))))
    assert solver.solve(Fault(OPEN, "BAL1")).current("R1").rms < 1e-6
    assert solver.solve(Fault(SHORT, "BAL1")).current("R1").rms == pytest.approx(0.3, rel=1e-3)


def test_a_photocell_in_the_dark_and_lit() -> None:
    text = "B --+[E1 100 V]-- gnd\nB --[R1 100k]-- A --[LDR1 900k 1k]-- gnd\nB --[LDR2 1k]-- gnd\n"
    found = solved(text)
    assert list(found) == ["warm", "lit LDR1"]
    assert found["warm"].wave("A").dc == pytest.approx(90, rel=1e-4)
    assert found["lit LDR1"].wave("A").dc == pytest.approx(100 / 101, rel=1e-4)


@pytest.mark.parametrize(
    "text",
    [
        "a --[BAL1 barretter 40 V 120 V]-- b\n",
        "a --[BAL1 barretter 0.3 A 120 V 40 V]-- b\n",
        "a --[LDR1 1k 1M]-- b\n",
    ],
)
def test_what_is_written_the_wrong_way_is_refused(text: str) -> None:
    problems = build_circuit(parse_drawing(text)).problems
    assert [p.rule for p in problems] == ["drawing.bad-value"]


TAPPED = (
    "mains 117 V 60 Hz\nballast BAL1 {}\nline -- BAL1.1\nBAL1.2 -- A --[R1 {}]-- neutral\n"
    "neutral -- gnd\nBAL1.tap --[R2 1M]-- A\n"
)


def test_the_sections_of_a_ballast_tube_are_in_series():
    """40 V and 9 V at 0.3 A are 133.3 and 30 ohm: the rest of 117 V is the string's."""
    found = solved(TAPPED.format("40 V 300 mA : 9 V 300 mA", "226.67 ohm"))["warm"]
    assert found.current("R1").rms == pytest.approx(0.3, rel=1e-3)
    assert found.between("line", "BAL1.tap").rms == pytest.approx(40.0, rel=1e-3)
    assert found.between("BAL1.tap", "A").rms == pytest.approx(9.0, rel=1e-3)


def test_so_are_those_of_a_line_cord():
    """135 and 25 ohm with 230 ohm behind them: a divider."""
    found = solved(TAPPED.format("135 ohm 15 W : 25 ohm", "230 ohm"))["warm"]
    assert found.between("BAL1.tap", "A").rms == pytest.approx(117 * 25 / 390, rel=1e-3)


def test_sections_between_several_taps_are_counted_from_lead_one():
    circuit = build_circuit(parse_drawing("ballast R50 5k 10 W : 3k : 1k\n"))
    assert not circuit.problems
    assert [b.name for b in circuit.branches.values()] == ["R50.a", "R50.b", "R50.c"]
    ends = [circuit.net(f"R50.{lead}") for lead in ("1", "tap1", "tap2", "2")]
    assert [(b.a, b.b) for b in circuit.branches.values()] == list(pairwise(ends))


def test_a_tube_of_unknown_type_in_a_string_leaves_the_string_open():
    """Its heater's ohms are not known: the voltages along the string are not either."""
    text = (
        "mains 117 V 60 Hz\ntube V1 25ZZ6\ntube V2 25L6\n"
        "line --[V1 heater]-- A --[V2 heater]-- gnd\n"
    )
    found = solved(text + "neutral -- gnd\n")["warm"]
    assert found.circuit.net("A") not in found.waves
    assert "line" in found.waves
