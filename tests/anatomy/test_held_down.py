"""The largest capacitor from a point to gnd."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.held_down import held_down
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

TEXT = """A --[C1 1 uF 400 V]-- gnd
A --+[C2 10 uF 400 V]-- gnd
A --+[C3 100 uF 400 V]-- B
A --[C4 ?]-- gnd
B --[R1 1k]-- gnd
"""


@pytest.mark.parametrize(
    ("net", "least", "name"), [("A", 1e-6, "C2"), ("A", 11e-6, None), ("B", 1e-6, None)]
)
def test_what_holds_a_point_down(net: str, least: float, name: str | None) -> None:
    found = held_down(build_circuit(parse_drawing(TEXT)), net, least)
    assert (found and found.name) == name
