"""Drawings for the bench: one sample, and small ones of our own."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.bench.chart.chart import Bench
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing

SAMPLES = Path(__file__).parents[2] / "samples"


def circuit_of(text):
    drawing = parse_drawing(text, "test.tube")
    assert drawing.problems == ()
    circuit = build_circuit(drawing)
    assert circuit.problems == ()
    return circuit


@pytest.fixture
def circuit():
    return circuit_of


@pytest.fixture
def bench():
    """A bench for the text of a drawing, in a state."""
    return lambda text, state="warm": Bench(circuit_of(text), state)


@pytest.fixture(scope="session")
def harbour():
    """The bench of the sample the hand calculation is about."""
    return Bench(build_circuit(read_drawing(SAMPLES / "harbour-light.tube")))


@pytest.fixture(scope="session")
def harbour_chart(harbour):
    return harbour.chart()


@pytest.fixture(scope="session")
def galley():
    """A set on the mains without a transformer."""
    return Bench(build_circuit(read_drawing(SAMPLES / "galley.tube")))
