"""Fixtures of the solver's tests: from a drawing's text to its solution."""

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing


@pytest.fixture(scope="session")
def circuit_of():
    """Drawing text -> circuit; a slip in a test's own drawing is the test's fault."""

    def build(text):
        drawing = parse_drawing(text, "<test>")
        circuit = build_circuit(drawing)
        assert not drawing.problems, drawing.problems
        assert not circuit.problems, circuit.problems
        return circuit

    return build


@pytest.fixture(scope="session")
def solved(circuit_of):
    """Drawing text, state name -> a solution that must have been reached."""
    from coldcheck.solve import solve_state

    def solve(text, name="warm", instants=128):
        solution = solve_state(circuit_of(text), name, instants)
        assert solution.converged, solution.reason
        return solution

    return solve
