"""Which capacitors a hand sets."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tuning import adjustable
from coldcheck.drawing import parse_drawing


@pytest.mark.parametrize(
    ("written", "set_by_hand"),
    [
        ("VC1 365p variable ganged", True),
        ("TC1 30p trimmer", True),
        ("C1 430p padder", True),
        ("C1 100p 500 V mica", False),
        ("C1 100p", False),
    ],
)
def test_a_capacitor_that_is_called_so(written: str, set_by_hand: bool) -> None:
    circuit = build_circuit(parse_drawing(f"a --[{written}]-- gnd\na --[R1 1k]-- gnd\n"))
    assert not circuit.problems
    (capacitor,) = (b for b in circuit.branches.values() if b.name != "R1")
    assert adjustable(capacitor) is set_by_hand
