"""Readings as text: what is understood, and every slip with its line and column."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.bench.chart.chart import chart_of
from coldcheck.bench.diagnosis.readings import (
    MOST_LINES,
    MOST_SLIPS,
    ReadingsParser,
    parse_readings,
    split,
)
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
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
    assert all(r.point in circuit.points for r in found)
