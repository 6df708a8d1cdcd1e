"""Which stages make their bias of the drive of another one, and which look like it and do not."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.class_c import driven
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

FINAL = """
B1 --+[E1 400 V]-- gnd
tube V1 6AQ5
tube V2 807
B1 --[R1 5k]-- V1.plate --[C1 100p 1000 V]-- V2.grid
V1.screen -- B1
V1.cathode -- gnd
V1.grid --[R2 47k]-- gnd
V2.grid --[RFC1 2.5 mH]-- GL --[R3 22k]-- gnd
V2.cathode -- gnd
V2.screen --[R4 50k]-- B1
transformer T1
    primary p impedance 6k ct
    winding s impedance 5k 200 ohm 100 mA
T1.p.ct -- B1
T1.s.1 -- B1
T1.s.2 -- MOD --[RFC2 2.5 mH 40 ohm]-- V2.plate
"""


def found(text):
    drawing = parse_drawing(text)
    circuit = build_circuit(drawing)
    assert (drawing.problems, circuit.problems) == ((), ())
    return [(d.section.name, d.driver) for d in driven(circuit)]


def test_a_final_driven_over_a_leak_by_another_tube():
    assert found(FINAL) == [("V2", "V1")]


def test_the_coils_of_its_plate_end_at_the_supply():
    (stage,) = driven(build_circuit(parse_drawing(FINAL)))
    assert stage.coils == {"RFC2", "T1.s"}


def test_by_a_signal_of_a_radio_frequency():
    text = FINAL.replace("V1.plate --[C1", "V1.plate -- X\nV2.grid -- DRIVE\nY --[C1")
    assert found(text + "signal DRIVE 20 V 7 MHz\n") == [("V2", "DRIVE")]
    assert found(text + "signal DRIVE 20 V 1 kHz\n") == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("V2.cathode -- gnd", "V2.cathode --[R9 330 ohm]-- gnd"),
        ("GL --[R3 22k]-- gnd", "GL --[R3 470k]-- gnd"),
        ("GL --[R3 22k]-- gnd", "GL --[R3 100 ohm]-- gnd"),
        ("[RFC2 2.5 mH 40 ohm]", "[L2 5 H 40 ohm]"),
        ("[C1 100p 1000 V]-- V2.grid", "[C1 100p 1000 V]-- Z"),
    ],
    ids=["cathode resistor", "audio grid leak", "hardly a leak", "choke of henries", "no drive"],
)  # fmt: skip
def test_others_are_judged_by_what_they_draw(old, new):
    assert old in FINAL
    assert found(FINAL.replace(old, new)) == []


@pytest.mark.parametrize(("ohms", "is_one"), [("999 ohm", False), ("1k", True), ("100k", True),
                                              ("101k", False)])  # fmt: skip
def test_the_size_of_a_leak(ohms, is_one):
    assert bool(found(FINAL.replace("[R3 22k]", f"[R3 {ohms}]"))) is is_one


@pytest.mark.parametrize(("henries", "is_one"), [("10 mH", True), ("11 mH", False)])
def test_the_size_of_the_plates_coil(henries, is_one):
    assert bool(found(FINAL.replace("RFC2 2.5 mH", f"RFC2 {henries}"))) is is_one


@pytest.mark.parametrize(("hertz", "is_one"), [("100 kHz", True), ("99 kHz", False)])
def test_what_is_a_radio_frequency(hertz, is_one):
    text = FINAL.replace("V1.plate --[C1", "V1.plate -- X\nV2.grid -- DRIVE\nY --[C1")
    assert bool(found(text + f"signal DRIVE 20 V {hertz}\n")) is is_one
