"""The coupled stage and all that its faults would show, for the tests that ask for them."""

from __future__ import annotations

import pytest
from tests.bench.drawings import COUPLED

from coldcheck.bench.diagnosis.library import library_of
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing


@pytest.fixture(scope="module")
def coupled():
    return build_circuit(parse_drawing(COUPLED, "buoy.tube"))


@pytest.fixture(scope="module")
def library(coupled):
    return library_of(coupled, suspects_of(coupled))
