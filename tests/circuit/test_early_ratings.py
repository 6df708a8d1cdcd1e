"""Names of old issues carry the ratings of their time (RCA 6V6 and Philips ECC82, from memory)."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

EXPECTED = [
    ("6V6", "plate-dissipation", 12),
    ("6V6G", "plate-dissipation", 12),
    ("6V6G", "heater-positive-peak", 90),
    ("6V6GT", "plate-dissipation", 14),
    ("6V6GTA", "heater-positive-peak", 200),
    ("ECC82", "heater-positive-peak", 180),
    ("12AU7", "heater-positive-peak", 200),
]


@pytest.mark.parametrize(("name", "rating", "value"), EXPECTED)
def test_each_name_has_the_ratings_of_its_issue(name: str, rating: str, value: float) -> None:
    circuit = build_circuit(parse_drawing(f"tube V1 {name}\n", "t.tube"))
    found = circuit.tubes["V1"].type.rating(rating)
    assert found is not None
    assert found.value == value
