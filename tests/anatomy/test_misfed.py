"""Feeds drawn on the far side of a plate's capacitor, and what is none of them."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.misfed import fed_past_capacitor
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
NB --[E2 30 V]+-- gnd
V1A.plate --[R1 47 ohm 0.5 W]-- PA --[C1 22n 400 V]-- OUT
V1A.cathode --[R2 1k5 0.5 W]-- gnd
V1A.grid --[R3 1M 0.5 W]-- gnd
"""


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("B1 --[R4 100k 1 W]-- OUT\n", [("C1", "R4", "V1A")]),
        ("B1 --[L1 100 H 2 kohm 20 mA]-- OUT\n", [("C1", "L1", "V1A")]),
        ("B1 --[R4 100k 1 W]-- PA\n", []),
        ("B1 --[R4 100k 1 W]-- PA\nB1 --[R5 470k 1 W]-- OUT\n", []),
        ("NB --[R4 220k 1 W]-- OUT\n", []),
        ("OUT --[R4 220k 1 W]-- gnd\n", []),
    ],
    ids=["resistor", "choke", "right", "grid held up by a rail", "bias", "leak"],
)
def test_what_feeds_past_a_capacitor(more: str, expected: list[tuple[str, str, str]]) -> None:
    """Only where nothing feeds the plate itself, and from a rail that is above gnd."""
    circuit = build_circuit(parse_drawing(STAGE + more))
    found = [(m.capacitor.owner, m.feed.owner, m.section.name) for m in fed_past_capacitor(circuit)]
    assert found == expected


def test_the_plates_side_is_named_behind_its_stopper() -> None:
    """The net beside the capacitor, not that of the pin."""
    circuit = build_circuit(parse_drawing(STAGE + "B1 --[R4 100k 1 W]-- OUT\n"))
    (found,) = fed_past_capacitor(circuit)
    assert (circuit.names[found.near][0], circuit.names[found.far][0]) == ("PA", "OUT")
