"""Circuits above the size for dense algebra: the same numbers by the sparse ways."""

import numpy as np
import pytest
from tests.benchmarks.drawings import copies

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_state, solve_states
from coldcheck.solve.cycle.triplets import DENSE_UP_TO

FIGURES = ("plate_v", "plate_ma", "grid_v", "cathode_v", "plate_w", "heater_v")


def built(tubes, supplies=1):
    circuit = build_circuit(parse_drawing(copies(tubes, supplies), "x.tube"))
    assert not circuit.drawing.problems
    assert not circuit.problems
    return circuit


@pytest.fixture(scope="module")
def large():
    """Twenty tubes on two supplies, all states, and the circuit."""
    circuit = built(20, 2)
    assert len(circuit.graph) > DENSE_UP_TO
    return circuit, solve_states(circuit)


def test_two_supplies_of_ten_are_two_circuits_of_ten(large) -> None:
    small = solve_state(built(10))
    assert len(small.circuit.graph) < DENSE_UP_TO
    for name, like in (("V1A", "V1A"), ("V2A", "V1A"), ("V19B", "V10B"), ("V20B", "V10B")):
        for figure in FIGURES:
            here = getattr(large[1]["warm"].readings[name], figure)
            there = getattr(small.readings[like], figure)
            assert here == pytest.approx(there, rel=1e-4, abs=1e-6), (name, figure)


@pytest.mark.parametrize("state", ["cold", "high line", "low line", "pulled V1", "pulled V20"])
def test_a_state_after_others_is_the_state_on_its_own(large, state) -> None:
    """Factors, slopes and starts are handed from state to state; the answer must not notice."""
    circuit, solutions = large
    alone, after = solve_state(circuit, state), solutions[state]
    assert alone.converged
    assert after.converged
    for net, wave in alone.waves.items():
        assert np.abs(after.waves[net].samples - wave.samples).max() < 1e-4, net


def test_every_tube_is_pulled_once(large) -> None:
    circuit, solutions = large
    assert all(s.converged for s in solutions.values())
    for tube in circuit.tubes:
        readings = solutions[f"pulled {tube}"].readings
        assert {s.name for s in circuit.sections() if s.tube != tube} == readings.keys()
