"""Readings as text: what is understood, and every slip with its line and column."""

from __future__ import annotations

import csv
from io import StringIO
from math import inf
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.bench.chart.chart import chart_of
from coldcheck.bench.chart.points import point_named
from coldcheck.bench.diagnosis.noted import (
    MOST_LINES,
    MOST_SLIPS,
    ReadingsParser,
    parse_readings,
)
from coldcheck.bench.diagnosis.noted_fields import split
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.report.chart import csv as chart_csv

DIVIDER = """\
drawing "Lamp Post: a divider on a bench supply"
B1 --+[E1 24 V]-- gnd
B1 --[R1 10k 0.5 W]-- MID --[R2 10k 0.5 W]-- gnd
"""


@pytest.fixture(scope="module")
def circuit():
    return build_circuit(parse_drawing(DIVIDER, "post.tube"))


def test_header_quotes_units_comments_and_separators(circuit):
    text = '\ufeffpoint,kind,value,state\n# a comment\n"MID", dc, 11.9 V, warm\n'
    text += "b1;V;24\nMID\tohm\t4k9\n"
    found, slips = parse_readings(circuit, text)
    assert not slips
    assert [(r.point, r.kind, r.value, r.line) for r in found] == [
        ("MID", "dc", 11.9, 3),
        ("B1", "dc", 24.0, 4),
        ("MID", "ohm", 4900.0, 5),
    ]


def test_columns_in_another_order(circuit):
    found, slips = parse_readings(circuit, "value,point,kind\n12 V,MID,dc\n")
    assert not slips
    assert (found[0].point, found[0].value) == ("MID", 12.0)


def test_numbers_as_spreadsheets_write_them(circuit):
    text = "MID,ohm,1.066e+06\nMID,ac,3.2E-03\nMID,dc,-1.2e1\nMID,dc,1e999\n"
    found, slips = parse_readings(circuit, text)
    assert [(r.kind, r.value) for r in found] == [
        ("ohm", pytest.approx(1.066e6)),
        ("ac", pytest.approx(3.2e-3)),
        ("dc", pytest.approx(-12)),
    ]
    assert [(s.line, s.column) for s in slips] == [(4, 8)]


def test_an_overload_is_no_path(circuit):
    found, slips = parse_readings(circuit, "MID,ohm,OL")
    assert not slips
    assert found[0].value == inf


def test_all_slips_at_once_with_line_and_column(circuit):
    text = (
        "MID,dc,12\nMUD,dc,3\nMID,hot,1\nMID,dc,4 ohm\nMID,ac,-1\ngnd,dc,0\nMID,dc,\nMID,dc,1,hot\n"
    )
    found, slips = parse_readings(circuit, text)
    assert len(found) == 1
    assert [(s.line, s.column) for s in slips] == [
        (2, 1), (3, 5), (4, 8), (5, 8), (6, 1), (7, 8), (8, 10),
    ]  # fmt: skip
    words = "\n".join(s.message for s in slips)
    assert "no point MUD; near it: MID" in words
    assert "'hot' is no kind of reading" in words
    assert "'4 ohm' is in ohms" in words
    assert "there is no state hot: warm" in words


def test_a_filled_chart_is_a_set_of_readings(circuit):
    lines = chart_csv.render(chart_of(circuit)).splitlines()
    mid = next(k for k, line in enumerate(lines) if ",MID," in line)
    assert lines[mid].endswith(",,,")
    lines[mid] = lines[mid][:-2] + "5.1k,11.8,"
    # the last three columns: ohms, DC, AC
    found, slips = parse_readings(circuit, "\r\n".join(lines))
    assert not slips
    assert {(r.point, r.kind, r.value) for r in found} == {
        ("MID", "ohm", 5100.0),
        ("MID", "dc", 11.8),
    }


@pytest.mark.parametrize(
    ("typed", "kind", "value"),
    [("mid 11.9", "dc", 11.9), ("MID 300 mV", "dc", 0.3), ("MID ac 20 mV", "ac", 0.02),
     ("MID,ohm,5k", "ohm", 5000.0), ("MID dc 0.9 V", "dc", 0.9)],
)  # fmt: skip
def test_typed_in(circuit, typed, kind, value):
    reading = ReadingsParser(circuit).one(typed)
    assert reading is not None
    assert (reading.point, reading.kind, reading.value) == ("MID", kind, pytest.approx(value))


def test_equal_readings_are_one_reading(circuit):
    """Of one wire, kind and state; another value is another reading."""
    text = "MID,dc,11.9\nmid,dc,11.9 V\nMID,dc,12.1\nMID,ac,0\n" + "MID,dc,11.9\n" * 3000
    found, slips = parse_readings(circuit, text)
    assert slips == ()
    assert [(r.kind, r.value) for r in found] == [("dc", 11.9), ("dc", 12.1), ("ac", 0.0)]
    assert found[0].line == 1


def test_lines_have_an_end_that_is_said(circuit):
    found, slips = parse_readings(circuit, "MID,dc,11.9\n" * (MOST_LINES + 1000))
    assert [(s.line, s.column) for s in slips] == [(MOST_LINES + 1, 1)]
    assert f"more than {MOST_LINES} lines" in slips[0].message
    assert len(found) == 1
    _, slips = parse_readings(circuit, "MID,dc,11.9\n" * MOST_LINES)
    assert slips == ()


def test_what_is_wrong_is_not_told_without_end(circuit):
    _, slips = parse_readings(circuit, "".join(f"NIX{k},dc,1\n" for k in range(3000)))
    assert len(slips) == MOST_SLIPS + 1
    assert slips[-1].line == MOST_SLIPS + 1
    assert "the rest was not read" in slips[-1].message


@given(
    st.lists(
        st.text(
            st.characters(exclude_characters="\r\n\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029"), max_size=8
        ),
        min_size=1,
        max_size=5,
    )
)
def test_quoted_fields_come_back(fields):
    line = ",".join('"' + f.replace('"', '""') + '"' for f in fields)
    assert [text for _, text in split(line)] == [f.strip() for f in fields]


@given(st.text(max_size=60))
def test_nothing_typed_breaks_it(text):
    circuit = build_circuit(parse_drawing(DIVIDER, "post.tube"))
    found, slips = parse_readings(circuit, text)
    assert all(s.line > 0 and s.column > 0 for s in slips)
    nets = {*circuit.points.values(), *circuit.branches}
    assert all(r.net in nets and r.other in nets for r in found)


# -- figures as people write them --------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "value"),
    [("MID 11,9", 11.9), ("MID dc 11,9 V", 11.9), ("MID,dc,11,9", 11.9), ("MID dc 0,125", 0.125),
     ("MID 1,19e1", 11.9), ("MID 1.19E1 V", 11.9), ("MID 11900e-3", 11.9),
     ("MID 1,190.5 mV", 1.1905),
     ("MID mv 46", 0.046), ("MID mV 46 mV", 0.046), ("MID 46mV", 0.046), ("MID;dc;1,234", 1.234)],
)  # fmt: skip
def test_figures_with_commas_exponents_and_prefixes(circuit, typed, value):
    found, slips = parse_readings(circuit, typed)
    assert not slips
    assert [(r.point, r.kind, r.value) for r in found] == [("MID", "dc", pytest.approx(value))]


@pytest.mark.parametrize("typed", ["MID dc 3,100", "MID 3,100 V", "MID,dc,3,100"])
def test_a_comma_that_may_be_either_is_asked_about(circuit, typed):
    parser = ReadingsParser(circuit)
    assert parser.one(typed) is None
    assert "3.100" in parser.slips[0].message
    assert "3100" in parser.slips[0].message


def test_a_decimal_comma_and_a_state(circuit):
    found, slips = parse_readings(circuit, "MID,dc,11,9,warm\nMID,ac,0,5\n")
    assert not slips
    assert [(r.kind, r.value, r.state) for r in found] == [
        ("dc", 11.9, "warm"),
        ("ac", 0.5, "warm"),
    ]


# -- places ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "point", "ends", "kind", "value"),
    [
        ("b1 to mid dc 12", "B1 to MID", ("B1", "MID"), "dc", 12.0),
        ("MID to B1,dc,-12", "MID to B1", ("MID", "B1"), "dc", -12.0),
        ("gnd to MID -12", "MID", ("MID", "gnd"), "dc", 12.0),
        ("MID to gnd 12", "MID", ("MID", "gnd"), "dc", 12.0),
        ("across r1 12 V", "across R1", ("B1", "MID"), "dc", 12.0),
        ("across R1;ohm;10k", "across R1", ("B1", "MID"), "ohm", 10e3),
        ("across R1 10 kohm", "across R1", ("B1", "MID"), "ohm", 10e3),
        ("B1 to MID OL", "B1 to MID", ("B1", "MID"), "ohm", inf),
        ("through R1 1.2 mA", "through R1", ("R1", "gnd"), "current", 1.2e-3),
        ("through R1 mA 1.2", "through R1", ("R1", "gnd"), "current", 1.2e-3),
        ("through R1 1.2", "through R1", ("R1", "gnd"), "current", 1.2e-3),
        ("through R1 a 1.2", "through R1", ("R1", "gnd"), "current", 1.2),
    ],
)
def test_where_a_reading_is_taken(circuit, typed, point, ends, kind, value):
    reading = ReadingsParser(circuit).one(typed)
    assert reading is not None
    assert (reading.point, (reading.net, reading.other)) == (point, ends)
    assert (reading.kind, reading.value) == (kind, pytest.approx(value))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("R1 12", "R1 is a part: write across R1"),
        ("across R9 12", "no part R9 with two ends; near it: "),
        ("B1 to MUD 12", "no point MUD; near it: MID"),
        ("MID to MID 12", "both are one wire"),
        ("MID 12 mA", "through R7"),
        ("through R1 dc 12", "a current is read, in mA"),
        ("MID dc OL", "an overload is no reading of volts"),
    ],
)
def test_what_is_no_place_is_said(circuit, typed, said):
    parser = ReadingsParser(circuit)
    assert parser.one(typed) is None
    assert said in parser.slips[0].message


# -- the chart comes back ----------------------------------------------------------------------

SAMPLES = sorted((Path(__file__).parents[3] / "samples").glob("*.tube"))


@pytest.mark.parametrize("comma", [False, True], ids=["plain", "decimal commas"])
@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_the_chart_of_every_sample_comes_back_filled(path, comma):
    """Filled by a spreadsheet, also by one of a place where the comma is the decimal point."""
    circuit = build_circuit(read_drawing(path))
    rows = list(csv.DictReader(StringIO(chart_csv.render(chart_of(circuit)), newline="")))
    expected, figures = set(), {"measured_ohms": "ohms", "measured_dc_v": "dc_v"}
    for row in rows:
        for cell, figure in {**figures, "measured_ac_v_rms": "ac_v_rms"}.items():
            row[cell] = row[figure].replace(".", ",") if comma else row[figure]
            kind = {"ohms": "ohm", "dc_v": "dc", "ac_v_rms": "ac"}[figure]
            net = _net(circuit, row["point"]) if row[figure] else "gnd"
            if net != "gnd":
                value = inf if row[figure] == "infinite" else float(row[figure])
                expected.add((net, kind, value))
    out = StringIO(newline="")
    writer = csv.DictWriter(out, rows[0], delimiter=";" if comma else ",")
    writer.writeheader()
    writer.writerows(rows)
    found, slips = parse_readings(circuit, out.getvalue())
    assert slips == ()
    assert {(r.net, r.kind, r.value) for r in found} == expected
    assert len(expected) > 30


def _net(circuit, cell):
    return circuit.points[point_named(circuit, cell.removeprefix("'"))]


def test_a_pin_at_gnd_that_reads_something_is_said(circuit):
    head = "point,measured_dc_v,measured_ohms\n"
    assert parse_readings(circuit, f"{head}gnd,0.05,2\n") == ((), ())
    _, (slip,) = parse_readings(circuit, f"{head}gnd,0.06,2\n")
    assert "its wire to gnd is open" in slip.message
    _, (slip,) = parse_readings(circuit, f"{head}gnd,0,2.1\n")
    assert slip.column == 7
