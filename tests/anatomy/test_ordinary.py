"""Where a part stands, by which its usual values go."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.ordinary import Place, place_of
from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of

DIRECT = """\
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 1 W]-- V1A.plate -- V1B.grid
B1 --[R2 47k 1 W]-- V1B.plate
V1B.cathode --[R3 1k5 0.5 W]-- gnd
V1A.cathode --[R4 1k5 0.5 W]-- gnd
V1A.grid --[R5 1M 0.5 W]-- gnd
"""
LEAK = "V1B.grid --[R6 470k 0.5 W]-- gnd\n"


@pytest.mark.parametrize(("leak", "place"), [("", Place.TAIL), (LEAK, Place.SMALL_CATHODE)])
def test_a_grid_with_a_leak_was_not_meant_to_hang_on_a_plate(leak: str, place: Place) -> None:
    """The short of a coupling capacitor made the next stage's cathode resistor look like a slip."""
    circuit = circuit_of(parse_drawing(DIRECT + leak))
    assert place_of(circuit, circuit.branches["R3"]) is place


@pytest.mark.parametrize(
    ("wire", "place"),
    [
        ("WARM --+[C9 10000 uF 25 V]-- gnd", Place.LOW_RESERVOIR),
        ("WARM --+[C9 10000 uF 40 V]-- gnd", Place.RESERVOIR),
        ("gnd --+[C9 100 uF 25 V]-- BIAS", Place.RESERVOIR),
    ],
)
def test_the_dc_of_heaters_has_reservoirs_of_its_own(wire: str, place: Place) -> None:
    circuit = circuit_of(parse_drawing(DIRECT + wire))
    assert place_of(circuit, circuit.branches["C9"]) is place
