"""Heaters: across a winding, in a string, lead by lead, and not drawn at all."""

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.units import magnitude


def clean(text):
    drawing = parse_drawing(text)
    circuit = build_circuit(drawing)
    assert (drawing.problems, circuit.problems) == ((), ())
    return circuit


def across(volts, tube, said=""):
    text = f"transformer T1\n winding w {volts} V\ntube V1 {tube} heater T1.w {said}"
    return clean(text)


def shown(heater):
    return [(b.name, b.a, b.b) for b in heater.branches]


def total_current(heater, circuit):
    """Amperes drawn at the rated volts between the winding's ends."""
    legs = {}
    for branch in heater.branches:
        legs.setdefault(frozenset((branch.a, branch.b)), []).append(magnitude(branch.value, "ohm"))
    if len(legs) == 1:
        (parallel,) = legs.values()
        ohms = 1 / sum(1 / r for r in parallel)
    else:
        ohms = sum(r for (r,) in legs.values())
    return magnitude(heater.volts, "volt") / ohms


@pytest.mark.parametrize(
    ("volts", "tube", "said", "mode"),
    [
        (6.3, "12AX7", "", "parallel"),
        (12.6, "12AX7", "", "series"),
        (12.6, "12AX7", "parallel", "parallel"),
        (6.3, "12AX7", "series", "series"),
        (7.5, "12AX7", "", "parallel"),
        (40, "12AX7", "", "series"),
        (6.3, "6V6GT", "", "single"),
        (6.3, "6V6GT", "series", "single"),
        (5, "5Y3GT", "", "single"),
    ],
)
def test_the_way_follows_from_the_voltage_unless_said(volts, tube, said, mode):
    circuit = across(volts, tube, said)
    heater = circuit.tubes["V1"].heater
    way = next(w for w in tube_type(tube).heaters if w.mode == mode)
    assert (heater.mode, heater.winding) == (mode, "T1.w")
    assert magnitude(heater.volts, "volt") == pytest.approx(way.volts.value)
    assert total_current(heater, circuit) == pytest.approx(way.amps.value)


def test_parallel_halves_are_both_ends_against_the_tap():
    heater = across(6.3, "12AX7").tubes["V1"].heater
    assert shown(heater) == [
        ("V1.heater.h1-tap", "T1.w.1", "T1.w.2"),
        ("V1.heater.tap-h2", "T1.w.2", "T1.w.1"),
    ]
    assert heater.nets == ("T1.w.1", "T1.w.2")


def test_a_filament_is_the_heater():
    circuit = across(5, "5Y3GT")
    assert shown(circuit.tubes["V1"].heater) == [("V1.heater", "T1.w.1", "T1.w.2")]
    assert circuit.tubes["V1"].sections[0].cathode_nets == ("T1.w.1", "T1.w.2")


def test_a_cathode_joined_to_the_heater_inside_is_on_its_net():
    circuit = across(5, "5AR4")
    assert circuit.net("V1.cathode") == circuit.net("V1.h2") == "T1.w.2"


def test_a_string_runs_through_the_heaters_in_the_order_drawn():
    circuit = clean(
        "tube V1 35W4\ntube V2 50C5\ntube V3 12AV6\n"
        "line --[V1 heater]-- --[V2 heater]-- JOIN --[V3 heater]-- neutral"
    )
    nets = [circuit.tubes[v].heater.nets for v in ("V1", "V2", "V3")]
    assert nets == [("line", "V1.h2"), ("V1.h2", "JOIN"), ("JOIN", "neutral")]
    assert circuit.net("V2.h1") == "V1.h2"
    assert {circuit.tubes[v].heater.winding for v in ("V1", "V2", "V3")} == {None}


def test_a_twin_triode_in_a_string_has_its_halves_in_series():
    heater = clean("tube V1 12AX7\nA --[V1 heater]-- B").tubes["V1"].heater
    assert (heater.mode, shown(heater)) == ("series", [("V1.heater", "A", "B")])


@pytest.mark.parametrize(
    ("tube", "tap_pin", "upper", "lower"),
    # 7.5 of the 35 V are the dial lamp's part: pins 6-4 of the 35W4 (tap to h2), pins 2-3 of the
    # 35Z5GT (h1 to tap). Memory: RCA sheets.
    [("35W4", 6, 27.5, 7.5), ("35Z5GT", 3, 7.5, 27.5)],
)
def test_the_dial_lamp_tap_divides_the_heater(tube, tap_pin, upper, lower):
    circuit = clean(
        f"tube V1 {tube}\nA --[V1 heater]-- B\nV1:{tap_pin} --[PL1 lamp 6.3 V 0.15 A]-- B"
    )
    first, second = circuit.tubes["V1"].heater.branches
    assert (first.a, first.b, second.b) == ("A", "V1.tap", "B")
    volts = [magnitude(b.value, "ohm") * 0.15 for b in (first, second)]
    assert volts == pytest.approx([upper, lower])


@pytest.mark.parametrize(
    ("wires", "mode", "branches"),
    [
        ("V1:4 -- A\nV1:5 -- A\nV1:9 -- B", "parallel", [("A", "B", 42), ("B", "A", 42)]),
        ("V1:4 -- A\nV1:5 -- B", "series", [("A", "B", 84)]),
        ("V1.h1 -- A\nV1.h2 -- B\nV1.tap -- M", "series", [("A", "M", 42), ("M", "B", 42)]),
        ("V1.h1 -- A\nV1.tap -- B", "series", [("A", "B", 42), ("B", "V1.h2", 42)]),
    ],
)
def test_a_heater_wired_lead_by_lead(wires, mode, branches):
    heater = clean(f"tube V1 12AX7\n{wires}").tubes["V1"].heater
    assert heater.mode == mode
    found = [(b.a, b.b, magnitude(b.value, "ohm")) for b in heater.branches]
    assert found == [(a, b, pytest.approx(r)) for a, b, r in branches]


@pytest.mark.parametrize(
    ("tube", "wires", "drawn"),
    [
        ("6V6GT", "V1.plate -- A", False),
        ("6V6GT", "V1.h1 -- A", True),
        ("5Y3GT", "V1:8 -- A", False),
        ("5Y3GT", "V1:8 -- A\nV1:2 -- B", True),
        ("5AR4", "V1:8 -- A", False),
        ("5AR4", "V1:2 -- A", True),
        ("0A2", "V1.plate -- A", False),
    ],
)
def test_whether_a_heater_is_drawn(tube, wires, drawn):
    heater = clean(f"tube V1 {tube}\n{wires}").tubes["V1"].heater
    assert (heater is not None) is drawn


def test_a_filament_that_is_not_drawn_is_one_piece_of_metal():
    circuit = clean("tube V1 5Y3GT\nV1:8 -- B1")
    assert circuit.tubes["V1"].sections[0].cathode_nets == ("B1", "B1")


def test_heaters_on_one_winding_share_its_nets():
    circuit = clean(
        "transformer T1\n winding w 6.3 V ct\ntube V1 12AX7 heater T1.w\n"
        "tube V2 6V6GT heater T1.W\nT1.w.ct -- gnd"
    )
    assert circuit.tubes["V1"].heater.nets == circuit.tubes["V2"].heater.nets
    assert circuit.tubes["V2"].heater.winding == "T1.w"
