"""What the circuit says about names, leads, pins, types and values it cannot use."""

from dataclasses import replace

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.problems import listed, nearest
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, Drawing, Part, Point, Span
from coldcheck.drawing.units import quantity

HEAD = """transformer T1
 winding ht 250 V ct 250 V
 winding warm 6.3 V ct
tube V1 12AX7
tube V2 6V6GT
tube V3 2A3
switch S1 spdt
pot P1 500k
A --[R1 10k]-- B
"""
FIRST = HEAD.count("\n") + 1


def problems(text):
    return build_circuit(parse_drawing(HEAD + text, "a.tube")).problems


@pytest.mark.parametrize(
    ("text", "rule", "column", "found", "hint"),
    [
        (
            "gnd -- V1.plate",
            "unknown-lead",
            8,
            "V1.plate",
            "V1 is a 12AX7 with sections V1A and V1B: say V1A.plate or V1B.plate",
        ),
        (
            "V1A.screen -- gnd",
            "unknown-lead",
            1,
            "V1A.screen",
            "V1A is half of V1, a 12AX7 with sections V1A and V1B: leads plate, grid, cathode",
        ),
        (
            "V2.grod -- gnd",
            "unknown-lead",
            1,
            "V2.grod",
            "V2 is a 6V6GT: leads plate, grid, screen, cathode, h1, h2; did you mean grid?",
        ),
        (
            "V2:9 -- gnd",
            "unknown-lead",
            1,
            "V2:9",
            "V2 is a 6V6GT: pins 1, 2, 3, 4, 5, 6, 7 and 8",
        ),
        (
            "V3.k -- gnd",
            "unknown-lead",
            1,
            "V3.k",
            "V3 is a 2A3: say V3.f1 or V3.f2 (pins V3:1 and V3:4): its filament is the cathode",
        ),
        (
            "V2 -- gnd",
            "unknown-lead",
            1,
            "V2",
            "V2 is a 6V6GT: leads plate, grid, screen, cathode, h1, h2",
        ),
        (
            "R1 -- gnd",
            "unknown-lead",
            1,
            "R1",
            "R1 is the resistor of line 9, its two leads on the wire: name the point beside it, "
            "or otherwise",
        ),
        (
            "T1.warm -- gnd",
            "unknown-lead",
            1,
            "T1.warm",
            "T1.warm has the leads T1.warm.1, T1.warm.ct, T1.warm.2",
        ),
        ("T1.wram.ct -- gnd", "unknown-lead", 1, "T1.wram.ct", "did you mean T1.warm.ct?"),
        (
            "S1.3 -- gnd",
            "unknown-lead",
            1,
            "S1.3",
            "S1 is a switch (spdt): leads common, 1, 2",
        ),
        ("P1.wipr -- gnd", "unknown-lead", 1, "P1.wipr",
         "P1 is a pot: leads top, wiper, bottom; did you mean wiper?"),
        ("P1:2 -- gnd", "unknown-lead", 1, "P1:2", "P1 is a pot; only tubes have numbered pins"),
        ("V22.plate -- gnd", "unknown-name", 1, "V22.plate", "did you mean V2.plate?"),
        (
            "Q9.plate -- gnd",
            "unknown-name",
            1,
            "Q9.plate",
            "declare Q9 first, or use a plain name for the point",
        ),
        ("A --[V22 heater]-- B", "unknown-name", 6, "V22", "did you mean V2?"),
        ("expect BB = 3 V", "unknown-name", 8, "BB", "did you mean B?"),
        ("expect V2.anod = 3 V", "unknown-lead", 8, "V2.anod",
         "V2 is a 6V6GT: leads plate, grid, screen, cathode, h1, h2; did you mean anode?"),
        ("type HOUSE like 6V6GTX", "unknown-type", 1, "6V6GTX",
         "on file: 6V6, 6V6G, 6V6GT, another issue of it"),
        ("type HOUSE like 6V66", "unknown-type", 1, "6V66", ""),
        ("tube V4 6V6GT heater T1.wrm", "unknown-name", 22, "T1.wrm", "did you mean T1.warm?"),
        (
            "tube V4 6V6GT heater T1.warm.1",
            "unknown-name",
            22,
            "T1.warm.1",
            "say T1.warm to put the heater across the whole winding",
        ),
        (
            "tube V4 6V6GT heater T1.warm parallel",
            "bad-value",
            1,
            "parallel",
            "V4 is a 6V6GT: its heater cannot be wired in two halves",
        ),
        (
            "tube V4 0A2 heater T1.warm",
            "bad-value",
            20,
            "V4 heater",
            "V4 is a 0A2, which has a cold cathode",
        ),
    ],
)  # fmt: skip
def test_one_slip_one_problem_with_its_place(text, rule, column, found, hint):
    (problem,) = problems(text)
    assert (problem.rule, problem.found, problem.hint) == (f"drawing.{rule}", found, hint)
    assert (problem.span.file, problem.span.line, problem.span.column) == ("a.tube", FIRST, column)
    assert problem.source_line == text
    assert problem.expected


@pytest.mark.parametrize(
    "point",
    ["V1A.p", "V1A.Anode", "V1B.g1", "V1b.k".replace("b", "B"), "V2.g2", "V2.A", "V3.F1", "V3.h2",
     "V1.h1", "V1.tap", "V1.ht", "V1A.h1", "T1.Warm.CT", "T1.warm.tap", "S1.c", "V1A:6"],
)  # fmt: skip
def test_what_the_trade_calls_a_lead_is_accepted(point):
    assert problems(f"{point} -- gnd") == ()


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("type MY like NIX\ntube V4 MY\nV4.plate -- gnd\nV4A.grid -- gnd\nA --[V4 heater]-- B", 1),
        ("tube V4 6V6GT heatr T1.warm\nV4.plate -- gnd\nA --[V4 heater]-- B", 0),
        ("transfomer T7\nV2.grid -- T7.ht.1", 0),
    ],
)
def test_one_unreadable_declaration_is_not_reported_again_at_every_lead(text, count):
    assert len(problems(text)) == count


def test_rating_lines_are_checked_against_the_known_names_and_units():
    wrong_name, wrong_unit = problems(
        "type MY like 6V6GT\nrating plate-volts 400 V\nrating plate-dissipation 4 V\n"
        "rating screen-voltage 300 V"
    )
    assert (wrong_name.rule, wrong_name.found) == ("drawing.unknown-name", "plate-volts")
    assert wrong_name.hint == "did you mean plate-voltage?"
    assert (wrong_unit.rule, wrong_unit.expected) == ("drawing.bad-value", "a value in watt")


def test_types_that_lean_on_each_other_are_reported_not_followed():
    found = problems("type ONE like TWO\ntype TWO like ONE\ntube V4 ONE")
    assert {p.rule for p in found} == {"drawing.unknown-type"}
    assert {p.span.line for p in found} == {FIRST, FIRST + 1}


@pytest.mark.parametrize(
    "texts",
    [
        ["tube V2 6V6GT"],
        ["tube R1 6V6GT"],
        ["pot P1 10k"],
        ["A --[V2 10k resistor]-- B"],
        ["A --[R1 1k]-- B"],
        ["tube V1A 6V6GT"],
        ["A --[V2 heater]-- B", "B --[V2 heater]-- C"],
        ["tube V4 6V6GT heater T1.warm", "A --[V4 heater]-- B"],
    ],
)
def test_a_name_used_twice_is_reported_also_where_the_parser_said_nothing(texts):
    drawings = [parse_drawing(text) for text in (HEAD, *texts)]
    assert all(not d.problems for d in drawings)
    statements = tuple(s for d in drawings for s in d.statements)
    drawing = replace(drawings[0], statements=statements)
    found = [p.rule for p in build_circuit(drawing).problems]
    assert found == ["drawing.name-used-twice"]


def test_what_the_parser_said_is_not_said_again():
    drawing = parse_drawing(HEAD + "A --[R1 1k]-- B")
    assert [p.rule for p in drawing.problems] == ["drawing.name-used-twice"]
    assert build_circuit(drawing).problems == ()


@pytest.mark.parametrize(
    ("part", "expected"),
    [
        ({"kind": PartKind.SOURCE, "value": quantity(12, "volt")}, "a source whose plus is drawn"),
        ({"kind": PartKind.DIODE}, "a direction"),
        ({"kind": PartKind.ZENER, "value": quantity(12, "volt")}, "a direction"),
        ({"kind": PartKind.RESISTOR, "value": quantity(0, "ohm")}, "a value above zero"),
        ({"kind": PartKind.CAPACITOR, "value": quantity(-1e-6, "farad")}, "a value above zero"),
    ],
)
def test_a_part_that_makes_no_sense_is_reported_and_wired_all_the_same(part, expected):
    span = Span("t", 1, 3, 5)
    points = (Point("A", None, None, span), Point("B", None, None, span))
    chain = Chain(points, (Part("X1", span=span, **part),), span)
    circuit = build_circuit(Drawing("t", ("A --[X1]-- B",), (chain,)))
    (problem,) = circuit.problems
    assert problem.rule == "drawing.bad-value"
    assert problem.expected.startswith(expected)
    assert (circuit.branches["X1"].a, circuit.branches["X1"].b) == ("A", "B")


def test_a_drawing_full_of_slips_still_has_its_good_parts():
    circuit = build_circuit(
        parse_drawing(HEAD + "V9.plate --[R2 1k]-- V2.plate\nV2.sreen --[R3 1k]-- gnd")
    )
    assert len(circuit.problems) == 2
    assert (circuit.branches["R2"].a, circuit.branches["R2"].b) == ("V9.plate", "V2.plate")
    assert circuit.branches["R3"].b == "gnd"


def test_problems_come_in_the_order_of_the_text():
    found = problems("tube V4 6V6GT heater T1.wrm\nV2.x -- gnd\ntype MY like NIX\nexpect BB = 1 V")
    assert [p.span.line for p in found] == [FIRST, FIRST + 1, FIRST + 2, FIRST + 3]


@pytest.mark.parametrize(
    ("word", "names", "near"),
    [
        ("b1", ["B1", "B2"], "B1"),
        ("R1", ["B1"], None),
        ("wrm", ["ht", "warm"], "warm"),
        ("x", [], None),
        ("LIFT", ["line", "B1"], None),  # half of it resembles the live wire
        ("lime", ["line", "B1"], "line"),
        ("LIFT", ["line", "LIFTS"], "LIFTS"),
    ],
)
def test_nearest(word, names, near):
    assert nearest(word, names) == near


def test_listed():
    assert [listed(x) for x in ((), ("a",), ("a", "b"), "abc")] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


def test_sections_of_a_tube_on_an_unreadable_line_are_not_reported_again():
    text = "tube V1 12AX7 heater H1 gnd\nV1A.grid --[R1 1M]-- gnd\nV2A.grid --[R2 1M]-- gnd"
    drawing = parse_drawing(text)
    assert [p.span.line for p in drawing.problems] == [1]
    assert [p.found for p in build_circuit(drawing).problems] == ["V2A.grid"]
