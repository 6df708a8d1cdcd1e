"""Fixtures of the published tables: a drawing's text solved, and a row's inputs as numbers."""

import functools

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing


@functools.lru_cache(maxsize=64)
def _solution(text, state):
    from coldcheck.solve import solve_state

    drawing = parse_drawing(text, "<test>")
    circuit = build_circuit(drawing)
    assert not drawing.problems, drawing.problems
    assert not circuit.problems, circuit.problems
    solution = solve_state(circuit, state)
    assert solution.converged, solution.reason
    return solution


@pytest.fixture(scope="session")
def solved():
    """Drawing text -> a warm solution that must have been reached."""
    return lambda text, state="warm": _solution(text, state)


@pytest.fixture(scope="session")
def inputs():
    """A row's ``inputs`` column: ``volts=300 read=rms`` -> numbers where they are numbers."""

    def parse(row):
        pairs = (word.split("=") for word in row["inputs"].split())
        return {k: v if k in ("tube", "read") else float(v) for k, v in pairs}

    return parse
