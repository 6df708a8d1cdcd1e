"""Brackets on a wire: kinds, fields, polarity, direction."""

from __future__ import annotations

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import FORMS, PartKind
from coldcheck.drawing.units import magnitude


def part(bracket, left="--", right="--"):
    drawing = parse_drawing(f"A {left}[{bracket}]{right} B")
    assert drawing.problems == ()
    return drawing.statements[0].links[0]


def problem(bracket, left="--", right="--"):
    (only,) = parse_drawing(f"A {left}[{bracket}]{right} B").problems
    return only


@pytest.mark.parametrize(
    ("bracket", "kind", "unit", "value"),
    [
        ("R1 10k", "resistor", "ohm", 1e4), ("R1 R47", "resistor", "ohm", 0.47),
        ("C1 22n", "capacitor", "farad", 22e-9), ("L1 8", "inductor", "henry", 8),
        ("CH1 3 H", "inductor", "henry", 3), ("T9 choke 3 H", "inductor", "henry", 3),
        ("F1 1", "fuse", "ampere", 1), ("F1 500 mA", "fuse", "ampere", 0.5),
        ("LS1 8", "speaker", "ohm", 8), ("RT1 10", "thermistor", "ohm", 10),
        ("R9 thermistor 10", "thermistor", "ohm", 10), ("X1 12 ohm", "resistor", "ohm", 12),
        ("Y1 455 kHz", "crystal", "hertz", 455e3),
        ("X1 1 uF", "capacitor", "farad", 1e-6), ("X1 2 H", "inductor", "henry", 2),
    ],
)  # fmt: skip
def test_kind_and_value(bracket, kind, unit, value):
    got = part(bracket)
    assert got.kind is PartKind(kind)
    assert magnitude(got.value, unit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("bracket", "kind"),
    [
        ("S1", "switch"), ("SW2 standby", "switch"), ("J1", "jack"), ("V5 heater", "heater"),
        ("PL1 6.3 V 150 mA", "lamp"), ("X1 lamp 6.3 V", "lamp"), ("NE1", "lamp"),
        ("Y1", "crystal"), ("XTAL2", "crystal"), ("X3 crystal", "crystal"), ("X4 xtal", "crystal"),
    ],
)  # fmt: skip
def test_kinds_without_a_value(bracket, kind):
    got = part(bracket)
    assert (got.kind, got.value) == (PartKind(kind), None)


def test_every_kind_can_be_written():
    brackets = {
        "resistor": "R1 1k", "capacitor": "C1 1n", "inductor": "L1 1", "fuse": "F1 1",
        "switch": "S1", "thermistor": "RT1 5", "lamp": "PL1", "speaker": "LS1 8", "jack": "J1",
        "heater": "V1 heater", "meter": "M1 1 mA", "arrester": "MOV1 275 Vac",
        "crystal": "Y1 7 MHz", "photocell": "LDR1 1M", "barretter": "B1 barretter 55 V 0.3 A",
    }  # fmt: skip
    arrows = {"diode": "D1", "zener": "Z1 12", "led": "LED1"}
    assert {part(b).kind.value for b in brackets.values()} == set(brackets)
    assert {part(b, right="->").kind.value for b in arrows.values()} == set(arrows)
    assert part("E1 12", left="--+").kind is PartKind.SOURCE
    assert set(brackets) | set(arrows) | {"source"} == {kind.value for kind in FORMS}


def test_fields_in_any_order():
    one = part("R1 4k7 2 W 5 % 500 V carbon")
    two = part("R1 carbon 500 V 5% 2W 4.7 kohm")
    for got in (one, two):
        assert magnitude(got.value, "ohm") == pytest.approx(4700)
        assert magnitude(got.power, "watt") == 2
        assert magnitude(got.voltage, "volt") == 500
        assert got.tolerance == pytest.approx(0.05)
        assert got.words == ("carbon",)


def test_capacitor_fields():
    got = part("C9 4.7n 250 Vac Y2 film 10 %")
    assert got.voltage_is_ac
    assert magnitude(got.voltage, "volt") == 250
    assert (got.safety_class, got.words) == ("Y2", ("film",))
    assert not part("C9 4.7n 250 V").voltage_is_ac


def test_choke_fuse_switch_words():
    assert magnitude(part("L1 8 H 250 ohm 90 mA").resistance, "ohm") == 250
    assert part("F1 fuse 1 A slow").words == ("slow",)
    assert not part("S1 switch").open
    assert not part("S1 closed").open
    got = part("S1 switch open standby")
    assert got.open
    assert got.words == ("open", "standby")


@pytest.mark.parametrize(
    ("word", "class_"),
    [("X1", "X1"), ("x2", "X2"), ("Y1", "Y1"), ("y2", "Y2"), ("X1/Y2", "Y2"), ("X2Y1", "Y1")],
)
def test_safety_classes(word, class_):
    assert part(f"C9 4.7n {word}").safety_class == class_


def test_insulation_of_a_choke_is_not_its_working_voltage():
    got = part("L1 8 H 250 ohm insulation 1.5 kV 90 mA")
    assert magnitude(got.insulation, "volt") == pytest.approx(1500)
    assert (got.voltage, got.words) == (None, ())
    assert magnitude(got.current, "ampere") == pytest.approx(0.09)
    assert part("L1 8 H").insulation is None


def test_ratings_of_switches_and_jacks():
    dc, ac = part("S2 switch 500 V 2 A"), part("S3 switch 250 Vac 3 A")
    assert [magnitude(s.voltage, "volt") for s in (dc, ac)] == [500, 250]
    assert [s.voltage_is_ac for s in (dc, ac)] == [False, True]
    assert [magnitude(s.current, "ampere") for s in (dc, ac)] == [2, 3]
    assert magnitude(part("J1 jack 50 V").voltage, "volt") == 50


def test_thermistor_second_resistance_is_hot():
    got = part("RT1 10 ohm 0.3 ohm 5 A")
    assert magnitude(got.value, "ohm") == 10
    assert magnitude(got.resistance, "ohm") == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("bracket", "type_"),
    [("D1 1N4007", "1N4007"), ("D1 BY127 1000 V", "BY127"), ("D1 silicon 1000 V 1 A", "silicon"),
     ("D1 UF4007", "UF4007"), ("Z1 1N4742A", "1N4742A"), ("D1 1S1588", "1S1588")],
)  # fmt: skip
def test_diode_types(bracket, type_):
    got = part(bracket, right="->")
    assert (got.type, got.value) == (type_, None)


def test_zener_and_led_volts_are_their_value():
    assert magnitude(part("Z1 zener 12 V 1 W", right="->").value, "volt") == 12
    assert magnitude(part("Z1 5V1", right="->").value, "volt") == pytest.approx(5.1)
    assert magnitude(part("LED1 2 V 20 mA", right="->").current, "ampere") == pytest.approx(0.02)
    assert magnitude(part("D1 1N4007 1000 V", right="->").voltage, "volt") == 1000


def test_plus_and_arrow_sides():
    assert part("C1 20u 450 V", left="--+").plus == "left"
    assert part("C1 20u 450 V", right="+--").plus == "right"
    assert part("C1 20u 450 V").plus is None
    assert part("D1 1N4007", right="->").arrow == "right"
    assert part("D1 1N4007", left="<-").arrow == "left"
    assert part("E1 250", right="+--").plus == "right"


def test_unknown_values():
    got = part("C1 ? 450 V")
    assert (got.value, got.unknown) == (None, {"value"})
    assert part("R1 ?").unknown == {"value"}
    assert part("R1 10k").unknown == frozenset()


def test_span_covers_the_inside_of_the_bracket():
    got = part("R1 10k 2 W")
    assert (got.span.line, got.span.column, got.span.end_column) == (1, 6, 16)


@pytest.mark.parametrize(
    ("bracket", "left", "right", "rule"),
    [
        ("R1 22 uF", "--", "--", "drawing.wrong-unit"),
        ("C1 22 uF 2 ohm", "--", "--", "drawing.wrong-unit"),
        ("L1 8 H 20 %", "--", "--", "drawing.wrong-unit"),
        ("L1 8 H tap", "--", "--", "drawing.not-supported"),
        ("V1 heater 45 V", "--", "--", "drawing.wrong-unit"),
        ("V1 heater 0.1 A", "--", "--", "drawing.wrong-unit"),
        ("J1 jack 1 A", "--", "--", "drawing.wrong-unit"),
        ("L1 8 uF", "--", "--", "drawing.wrong-unit"),
        ("LS1 8 ohm 20 V", "--", "--", "drawing.wrong-unit"),
        ("R1 10k", "--+", "--", "drawing.syntax"),
        ("R1 10k", "--", "->", "drawing.syntax"),
        ("C1 22n", "<-", "--", "drawing.syntax"),
        ("C1 22u", "--+", "+--", "drawing.syntax"),
        ("D1 1N4007", "--", "--", "drawing.syntax"),
        ("D1 1N4007", "<-", "->", "drawing.syntax"),
        ("E1 12 V", "--", "--", "drawing.syntax"),
        ("E1 12 Vac", "--+", "--", "drawing.not-supported"),
        ("R1", "--", "--", "drawing.bad-value"),
        ("R1 -5", "--", "--", "drawing.bad-value"),
        ("R1 10k 2 W 3 W", "--", "--", "drawing.bad-value"),
        ("R1 10k 22k", "--", "--", "drawing.bad-value"),
        ("R1 1N4007", "--", "--", "drawing.bad-value"),
        ("C1 22n Y3", "--", "--", "drawing.bad-value"),
        ("C1 22n flim", "--", "--", "drawing.bad-value"),
        ("X1", "--", "--", "drawing.bad-value"),
        ("V5", "--", "--", "drawing.not-supported"),
    ],
)  # fmt: skip
def test_refused_parts(bracket, left, right, rule):
    got = problem(bracket, left, right)
    assert got.rule == (rule or "drawing.bad-value")
    assert bracket.split()[0] in got.source_line


def test_a_bracket_has_a_limit():
    got = problem("R1 10k" + " 1" * 30)
    assert (got.span.column, got.found) == (6, "R1 with 31 words and numbers")


def test_two_bad_parts_on_one_line_are_both_reported():
    drawing = parse_drawing("A --[R1 1O0k]-- B --[R2 22 uF]-- C")
    assert [p.span.column for p in drawing.problems] == [9, 25]
    assert drawing.statements == ()


def test_the_turns_of_a_coil_beside_its_henries_are_a_note():
    found = part("L1 20 uH 12 turns 1 ohm")
    assert magnitude(found.value, "henry") == pytest.approx(20e-6)
    assert magnitude(found.resistance, "ohm") == pytest.approx(1)
    assert "12 turns" in found.words
    assert magnitude(part("L1 12 turns 20 uH").value, "henry") == pytest.approx(20e-6)


def test_turns_say_nothing_of_a_resistor_and_are_no_inductance():
    assert problem("R1 10k 12 turns").rule == "drawing.wrong-unit"
    assert problem("L1 12 turns").rule == "drawing.bad-value"
