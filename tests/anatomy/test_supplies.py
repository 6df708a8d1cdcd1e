"""Which diodes rectify, and whether a drawing makes a plate supply at all."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.supplies import has_plate_supply, quick_supply, rectifying_diodes
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

HEAD = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 10 ohm
    winding ht  200 V 60 mA 100 ohm
T1.ht.2 -- gnd
"""
FILTER = "B1 --+[C1 22 uF 450 V]-- gnd\nB1 --[R1 100k 2 W]-- gnd\n"


@pytest.mark.parametrize(
    ("wires", "names", "plates"),
    [
        ("T1.ht.1 --[D1 1N4007]-> B1\n" + FILTER, {"D1"}, True),
        ("T1.ht.1 --[D1 1N4007]-> M --[D2 1N4007]-> B1\n" + FILTER, {"D1", "D2"}, True),
        # A bias through 100k from the high-tension winding: negative.
        ("T1.ht.1 --[R2 100k]-- X <-[D1 1N4007]-- NEG\ngnd --+[C1 22 uF 100 V]-- NEG\n"
         "NEG --[R1 22k]-- gnd\n", {"D1"}, False),
        ("T1.ht.1 <-[D1 1N4007]-- NEG\ngnd --+[C1 22 uF 100 V]-- NEG\nNEG --[R1 22k]-- gnd\n",
         {"D1"}, False),
        # A doubler: the first diode and the second hang on the far side of C2.
        ("T1.ht.1 --[C2 10 uF 400 V film]-- X\ngnd --[D1 1N4007]-> X --[D2 1N4007]-> B1\n" + FILTER,
         {"D1", "D2"}, True),
        # Behind the filter nothing alternates: D2 holds a grid, or blocks a meter.
        ("T1.ht.1 --[D1 1N4007]-> B1\n" + FILTER + "B1 --[R3 100k]-- Y --[D2 1N4148]-> Z\n"
         "Z --[R4 100k]-- gnd\n", {"D1"}, True),
        # A choke input has no capacitor before its choke.
        ("T1.ht.1 --[D1 1N4007]-> IN --[L1 10 H 100 ohm]-- B1\n" + FILTER, {"D1"}, True),
    ],
)  # fmt: skip
def test_what_rectifies(wires: str, names: set[str], plates: bool) -> None:
    circuit = build_circuit(parse_drawing(HEAD + wires, "t.tube"))
    assert circuit.problems == ()
    assert {d.name for d in rectifying_diodes(circuit)} == names
    assert has_plate_supply(circuit) is plates
    assert quick_supply(circuit) is plates


def test_a_rectifier_with_its_own_cathode_is_not_quick() -> None:
    tube = "tube V1 {}\nT1.ht.1 -- V1.plate1\n{} -- B1\n" + FILTER
    slow = build_circuit(parse_drawing(HEAD + tube.format("EZ80", "V1.cathode"), "t"))
    assert has_plate_supply(slow)
    assert not quick_supply(slow)
    quick = build_circuit(parse_drawing(HEAD + tube.format("5Y3GT", "V1:8"), "t"))
    assert quick_supply(quick)
