"""Statements, lines, whole-file checks, limits, and text nobody meant as a drawing."""

from __future__ import annotations

import subprocess
import sys
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.drawing import lines, model, parse_drawing, read_drawing
from coldcheck.drawing.units import magnitude, quantity


def read(text):
    drawing = parse_drawing(text)
    assert drawing.problems == ()
    return drawing.statements


def one(text):
    (statement,) = read(text)
    return statement


def volts(value):
    return None if value is None else magnitude(value, "volt")


# -- statements ----------------------------------------------------------------------------


def test_title_and_mains():
    drawing = parse_drawing('drawing "A # in quotes"  # comment\nmains 117 V 50 Hz')
    assert drawing.title == "A # in quotes"
    mains = drawing.statements[1]
    assert (volts(mains.voltage), magnitude(mains.frequency, "hertz")) == (117, 50)
    assert mains.tolerance is None
    assert one("mains 230 V 50 Hz tolerance 6 %").tolerance == pytest.approx(0.06)


@pytest.mark.parametrize(
    ("fields", "voltages", "tapped"),
    [("250 V ct 250 V 70 mA 160 ohm", [250, 250], True), ("6.3 V ct 2.5 A", [6.3], True),
     ("5 V 2 A", [5], False)],
)  # fmt: skip
def test_windings(fields, voltages, tapped):
    transformer, winding = read(f"transformer T1\n  winding w {fields}")
    assert transformer.name == "T1"
    assert [volts(v) for v in winding.voltages] == voltages
    assert (winding.tapped, winding.primary, winding.name) == (tapped, False, "w")
    assert winding.current is not None


def test_primary():
    _, primary = read("transformer T1\nprimary pri 120 V 4.1 ohm")
    assert primary.primary
    assert primary.current is None
    assert magnitude(primary.resistance, "ohm") == pytest.approx(4.1)


def test_tube():
    tube = one("tube V1 12AX7 heater T1.warm series")
    assert (tube.name, tube.type, tube.heater_mode) == ("V1", "12AX7", "series")
    assert (tube.heater.owner, tube.heater.lead) == ("T1", "warm")
    assert (tube.type_span.column, tube.type_span.end_column) == (9, 14)
    bare = one("tube V1 6SN7GT/G")
    assert (bare.type, bare.heater, bare.heater_mode) == ("6SN7GT/G", None, None)


def test_output():
    got = one("output T2 6k6 ct taps 40 % : 8 ohm 210 ohm 20 H")
    assert magnitude(got.primary, "ohm") == 6600
    assert (magnitude(got.secondary, "ohm"), magnitude(got.resistance, "ohm")) == (8, 210)
    assert magnitude(got.inductance, "henry") == 20
    assert got.tapped
    assert got.tap == pytest.approx(0.4)
    plain = one("output T2 5k:8")
    assert (plain.tapped, plain.tap, plain.resistance, plain.inductance) == (False,) + (None,) * 3


def test_pot_switch_jack_signal():
    pot = one("pot P1 500k 0.5 W at 25 %")
    assert (magnitude(pot.value, "ohm"), pot.at, magnitude(pot.power, "watt")) == (5e5, 0.25, 0.5)
    assert one("pot P1 500k").at == 0.5
    assert one("pot P1 ? at 0 %").value is None
    switch = one("switch S1 dpdt at 2")
    assert (switch.layout, switch.at, one("switch S1 spst").at) == ("dpdt", 2, 1)
    assert one("jack J1").name == "J1"
    signal = one("signal IN 0.4 V 1 kHz")
    assert (signal.name, volts(signal.voltage), magnitude(signal.frequency, "hertz")) == (
        "IN", 0.4, 1000,
    )  # fmt: skip
    assert one("signal J1.tip 0.1 V").name == "J1.tip"


def test_dots():
    assert [w.dot for w in read("transformer T1\nwinding a 5 V\nwinding b 5 V dot 2")[1:]] == [
        "1", "2",
    ]  # fmt: skip
    assert one("output T2 5k : 8 ohm").dots == ("p1", "s1")
    assert one("output T2 5k : 8 ohm dot s2").dots == ("p1", "s2")
    assert one("output T2 5k : 8 ohm dot s2 dot p2 210 ohm").dots == ("p2", "s2")


def test_insulation_of_a_winding():
    _, primary, winding = read(
        "transformer T1\nprimary p 120 V insulation 1.5 kV\n"
        "winding ht 350 V ct 350 V 70 mA insulation 1000 V dot 2 160 ohm"
    )
    assert (volts(primary.insulation), volts(winding.insulation)) == (1500, 1000)
    assert [volts(v) for v in winding.voltages] == [350, 350]
    assert (winding.dot, magnitude(winding.resistance, "ohm")) == ("2", 160)
    assert read("transformer T1\nwinding a 5 V")[1].insulation is None


@pytest.mark.parametrize(
    ("fields", "amps", "gapped"),
    [("", None, None), ("gapped 60 mA", 0.06, True), ("0.1 A ungapped", 0.1, False),
     ("gapped", None, True)],
)  # fmt: skip
def test_the_dc_an_output_transformer_may_carry(fields, amps, gapped):
    got = one(f"output T2 5k : 8 ohm 210 ohm {fields}")
    assert (got.current is None) is (amps is None)
    assert amps is None or magnitude(got.current, "ampere") == pytest.approx(amps)
    assert got.gapped is gapped


def test_contacts_have_ratings():
    ac, dc, bare = (one(f"switch S1 spst {f}") for f in ("250 Vac 3 A", "500 V 2 A at 2", ""))
    assert (volts(ac.voltage), ac.voltage_is_ac, magnitude(ac.current, "ampere")) == (250, True, 3)
    assert (volts(dc.voltage), dc.voltage_is_ac, dc.at) == (500, False, 2)
    assert (bare.voltage, bare.current) == (None, None)
    jack = one("jack J1 50 V 1 A plugged")
    assert (volts(jack.voltage), jack.plugged) == (50, True)
    assert [one(f"jack J1 {w}").plugged for w in ("unplugged", "")] == [False, None]
    turned = one("jack J1 unplugged 400 V")
    assert (volts(turned.voltage), turned.plugged) == (400, False)


def test_type_and_rating():
    kind, rating = read("type MY6V6 like 6V6GT\n  rating plate-voltage 400 V")
    assert (kind.name, kind.like) == ("MY6V6", "6V6GT")
    assert (rating.name, volts(rating.value)) == ("plate-voltage", 400)


def test_a_type_may_have_another_heater_base_and_pins():
    plain = one("type MINE like 6V6GT")
    assert (plain.heater, plain.base, plain.pins) == (None, None, None)
    kind = one('type MINE like 6V6GT pins "1 h1 2 h2" heater 12.6 V 225 mA base "octal 7AC"')
    assert volts(kind.heater[0]) == pytest.approx(12.6)
    assert kind.heater[1].m_as("ampere") == pytest.approx(0.225)
    assert (kind.base, kind.pins) == ("octal 7AC", "1 h1 2 h2")


@pytest.mark.parametrize(
    ("bounds", "low", "high", "state"),
    [
        ("= 10 V", 9, 11, None), ("= 10 V within 20 %", 8, 12, None),
        ("= -40 V within 2 V", -42, -38, None), ("= -40 V within 10 %", -44, -36, None),
        ("= 0 V within 1 V", -1, 1, None), ("below 400 V in cold", None, 400, "cold"),
        ("above 200 V in high line", 200, None, "high line"),
        ('above 200 V in "high line"', 200, None, "high line"),
        ("between 250 V and 300 V in pulled V2", 250, 300, "pulled V2"),
        ("between -10 V and -20 V", -20, -10, None),
    ],
)  # fmt: skip
def test_expect(bounds, low, high, state):
    got = one(f"expect  V2.cathode {bounds}")
    assert (volts(got.low), volts(got.high)) == (pytest.approx(low), pytest.approx(high))
    assert (got.state, got.text) == (state, f"expect V2.cathode {bounds}")
    assert got.point.text == "V2.cathode"


def test_accept():
    got = one('accept tube.idle-dissipation at V2 because "a -- b # c" until 2027-06-30')
    assert (got.rule, got.place) == ("tube.idle-dissipation", "V2")
    assert (got.reason, got.until) == ("a -- b # c", date(2027, 6, 30))
    assert one('accept grid.no-return at V1A.grid because "x"').until is None


def test_sheet():
    got = one('sheet "sub/channel.tube" as L joining B+, gnd, IN = IN_L, H1 = T1.warm.1')
    assert (got.path, got.name) == ("sub/channel.tube", "L")
    assert [(a.text, b.text) for a, b in got.joints] == [
        ("B+", "B+"), ("gnd", "gnd"), ("IN", "IN_L"), ("H1", "T1.warm.1"),
    ]  # fmt: skip
    assert one('sheet "channel.tube" as L').joints == ()


def test_two_sheets_have_two_names():
    (problem,) = parse_drawing('sheet "a.tube" as L\nsheet "b.tube" as L').problems
    assert (problem.rule, problem.span.line) == ("drawing.name-used-twice", 2)


def test_what_is_inside_a_sheet_may_be_expected_and_waived():
    got = one("expect L/V2.cathode - L/M/B1 below 5 V in pulled L/V2")
    assert (got.point.owner, got.point.lead, got.other.text) == ("L/V2", "cathode", "L/M/B1")
    assert one('accept grid.no-return at L/V1A.grid because "x"').place == "L/V1A.grid"


# -- points and wires ----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["B1", "LIFT", "B+", "B+2", "C-", "IN_L", "2", "V1A.plate",
                                  "T1.warm.ct", "T1.ht.1", "V3:8"])  # fmt: skip
def test_points(name):
    chain = one(f"{name} -- {name} --[R1 1k]-- {name}")
    assert [p.text for p in chain.points] == [name] * 3
    assert chain.links[0] is None


def test_point_parts():
    chain = one("T1.warm.ct -- V3:8 -- gnd")
    assert [(p.owner, p.lead, p.pin) for p in chain.points] == [
        ("T1", "warm.ct", None), ("V3", None, "8"), ("gnd", None, None),
    ]  # fmt: skip


@pytest.mark.parametrize("middle", ["]--[", "]-- --[", "]-- -- --[", "]-->[", "] ["])
def test_parts_that_meet(middle):
    drawing = parse_drawing(f"gnd --[R1 10k{middle}C1 1n]-- X")
    if middle in ("]--[", "]-- --["):
        chain = drawing.statements[0]
        assert [p and p.text for p in chain.points] == ["gnd", None, "X"]
        assert [link.name for link in chain.links] == ["R1", "C1"]
    else:
        assert drawing.problems


def test_marks_between_parts_that_meet():
    chain = one("A --[D1 1N4007]->[D2 1N4007]-> <-[D3 1N4007]--+[C1 20u]-- gnd")
    assert [(x.arrow, x.plus) for x in chain.links] == [
        ("right", None), ("right", None), ("left", None), (None, "left"),
    ]  # fmt: skip
    assert len(chain.points) == len(chain.links) + 1


# -- lines ---------------------------------------------------------------------------------


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_tabs_and_mark_at_the_start(end):
    text = end.join(["\ufeffA\t--[R1\t10k]--\tB  # x", "", "   ", "# only", "B -- C"])
    drawing = parse_drawing(text)
    assert drawing.problems == ()
    assert [s.span.line for s in drawing.statements] == [1, 5]


def test_continuation_keeps_places():
    text = "A --[R1 10k]-- # first\n# between\n   B --\n  [R2 1O0k]-- C\nX -- Y"
    drawing = parse_drawing(text)
    (problem,) = drawing.problems
    assert (problem.span.line, problem.span.column) == (4, 7)
    assert problem.source_line == "  [R2 1O0k]-- C"
    assert [s.span.line for s in drawing.statements] == [5]
    chain = parse_drawing(text.replace("O", "0")).statements[0]
    assert [(p.text, p.span.line, p.span.column) for p in chain.points] == [
        ("A", 1, 1), ("B", 3, 4), ("C", 4, 15),
    ]  # fmt: skip


@pytest.mark.parametrize("after", ["", "\n\nB -- C", "\ntube V1 12AX7"])
def test_a_wire_that_goes_nowhere(after):
    drawing = parse_drawing("A --[R1 10k]--" + after)
    (problem,) = drawing.problems
    assert (problem.span.line, problem.found) == (1, "the end of the line")
    assert "point the wire goes to" in problem.hint


def test_all_problems_of_a_file_in_order():
    drawing = parse_drawing("A - B\nC -- D\ntubes V1 12AX7\nR -- --\n\nE --[R1 1O0]-- F\nG -- H")
    assert [p.span.line for p in drawing.problems] == [1, 3, 4, 6]
    assert [s.span.line for s in drawing.statements] == [2, 7]
    for problem in drawing.problems:
        assert drawing.lines[problem.span.line - 1] == problem.source_line


@pytest.mark.parametrize("position", ["0.5", "3", "?", "-1", "1k", "9" * 5_000])
def test_a_position_no_switch_has(position):
    drawing = parse_drawing(f"switch S3 dpst at {position}\nA -- B\n")
    assert [p.span.line for p in drawing.problems] == [1]
    assert [s.span.line for s in drawing.statements] == [2]


# -- the whole file ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "line", "first"),
    [
        ("A --[R1 1k]-- B\nB --[R1 2k]-- C", 2, 1),
        ("tube V1 12AX7\n\ntube V1 12AU7", 3, 1),
        ("tube V1 12AX7\npot V1 1k", 2, 1),
        ("switch S1 spst\nA --[S1 switch]-- B", 2, 1),
        ("transformer T1\nwinding a 5 V\nwinding a 6 V", 3, 2),
        ("mains 120 V 60 Hz\nmains 230 V 50 Hz", 2, 1),
        ("type A1 like 6V6\ntype A1 like 6L6", 2, 1),
        ("A --[V5 heater]-- B\nB --[V5 heater]-- C", 2, 1),
    ],
)
def test_names_used_twice(text, line, first):
    (problem,) = parse_drawing(text).problems
    assert (problem.rule, problem.span.line) == ("drawing.name-used-twice", line)
    assert f"line {first} has" in problem.expected


def test_names_that_may_come_again():
    read("tube V5 35L6GT\nA --[V5 heater]-- B")
    read("transformer T1\nwinding a 5 V\ntransformer T2\nwinding a 5 V")


@pytest.mark.parametrize("text", ["winding a 5 V", "tube V1 6V6\nprimary a 5 V",
                                  "rating plate-voltage 4 V"])  # fmt: skip
def test_lines_out_of_their_place(text):
    (problem,) = parse_drawing(text).problems
    assert "above" in problem.expected


def test_a_lead_without_its_dot():
    (problem,) = parse_drawing("tube V1 12AX7\nV1Ak --[R1 1k]-- gnd").problems
    assert problem.hint == "for the cathode write V1A.k"
    read("V1Ak --[R1 1k]-- gnd")  # no tube V1: a name like any other


# -- files and limits ----------------------------------------------------------------------


def test_files(tmp_path):
    path = tmp_path / "a.tube"
    path.write_bytes(b"\xef\xbb\xbfA -- B\r\nB --[R1 4.7 k\xce\xa9]-- C\r\n")
    drawing = read_drawing(path)
    assert (drawing.file, drawing.problems, len(drawing.statements)) == (str(path), (), 2)


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"A -- B\nC --[C1 1 \xb5F]-- D", "not UTF-8 (hexadecimal b5)"),
        ("A -- B".encode("utf-16"), "UTF-16"),
        (b"\x7fELF\0\0", "zero byte"),
        (b"A -- B\n" * 300_000, "too big"),
    ],
)
def test_unreadable_files(tmp_path, data, found):
    path = tmp_path / "a.tube"
    path.write_bytes(data)
    (problem,) = read_drawing(path).problems
    assert problem.rule == "drawing.unreadable-file"
    assert found in problem.found


def test_not_utf8_names_the_place(tmp_path):
    path = tmp_path / "a.tube"
    path.write_bytes("A -- B\rC --[R1 1 Ω]--[C1 1 ".encode() + b"\xb5F]-- D")
    (problem,) = read_drawing(path).problems
    assert (problem.span.line, problem.span.column) == (2, 21)
    assert problem.source_line == "C --[R1 1 Ω]--[C1 1 \ufffdF]-- D"


@pytest.mark.parametrize("name", ["missing.tube", ".", "a\0b"])
def test_files_that_are_not_there(tmp_path, name):
    (problem,) = read_drawing(f"{tmp_path}/{name}").problems
    assert problem.rule == "drawing.unreadable-file"


def test_limits():
    long = "A -- B\n" + "C -- " + "x" * lines.MAX_LINE + "\nD -- E"
    drawing = parse_drawing(long)
    assert [p.span.line for p in drawing.problems] == [2]
    assert len(drawing.statements) == 2
    endless = "A --\n" + "B --\n" * (lines.MAX_JOINED // 4) + "C"
    assert f"{lines.MAX_JOINED} characters" in parse_drawing(endless).problems[0].found


def test_too_many_statements(monkeypatch):
    monkeypatch.setattr(lines, "MAX_STATEMENTS", 3)
    drawing = parse_drawing("A -- B\n" * 5)
    assert len(drawing.statements) == 3
    (problem,) = drawing.problems
    assert (problem.span.line, problem.rule) == (4, "drawing.unreadable-file")


def test_the_data_classes_do_not_load_the_parser():
    code = "import sys, coldcheck.drawing.model; print('lark' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "False"


# -- properties ----------------------------------------------------------------------------

PIECES = st.sampled_from([
    "A", "B+", "V1A.plate", "--", "->", "<-", "+", "[R1 10k]", "[", "]", "R1", "10k", "?", '"',
    "#", "tube", "mains", "expect", "accept", "=", "ct", ":", "in", "\n", " ", "\t", "µ", "Ω",
    "—", "V5", "heater", "winding", "transformer T1\n", "1e9", "C1 22n", "%", "output", "taps",
    "at", "until", "because", "sheet", "\r", "\u2028", "\x85", "\ud800",
])  # fmt: skip


def well_formed(drawing):
    assert list(drawing.problems) == sorted(
        drawing.problems, key=lambda p: (p.span.line, p.span.column)
    )
    for problem in drawing.problems:
        assert problem.rule.startswith("drawing.")
        assert problem.found
        assert problem.expected
        assert 1 <= problem.span.column < problem.span.end_column
        assert problem.span.line >= 1
        if drawing.lines:
            assert problem.source_line == drawing.lines[problem.span.line - 1][: lines.MAX_LINE]
            assert problem.span.column <= len(problem.source_line) + 1
        assert not any(word in problem.expected for word in ("ANON", "LSQB", "$END", "END-OF"))


@settings(max_examples=300)
@given(st.text(max_size=120))
def test_any_text_is_read_without_an_exception(text):
    well_formed(parse_drawing(text))


@settings(max_examples=400)
@given(st.lists(PIECES, max_size=20), st.sampled_from(["", " "]))
def test_any_pieces_of_the_language_are_read_without_an_exception(pieces, glue):
    well_formed(parse_drawing(glue.join(pieces)))


@given(st.binary(max_size=200))
def test_any_bytes_are_read_without_an_exception(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("bytes") / "x.tube"
    path.write_bytes(data)
    well_formed(read_drawing(path))


NAMES = st.from_regex(r"[A-Z][A-Z0-9_]{0,6}", fullmatch=True)
PARTS = st.sampled_from([
    ("R", "--", "--", "k", "ohm", 1e3), ("R", "--", "--", "", "ohm", 1.0),
    ("C", "--+", "--", " uF", "farad", 1e-6), ("C", "--", "+--", "n", "farad", 1e-9),
    ("L", "--", "--", " mH", "henry", 1e-3), ("Z", "--", "->", " V", "volt", 1.0),
    ("Z", "<-", "--", "", "volt", 1.0), ("F", "--", "--", " mA", "ampere", 1e-3),
])  # fmt: skip


@given(st.lists(st.tuples(PARTS, st.integers(1, 999), NAMES), min_size=1, max_size=8))
def test_a_drawing_written_from_parts_reads_back(parts):
    text = "START"
    for number, ((letter, left, right, unit, _, _), value, name) in enumerate(parts):
        text += f" {left}[{letter}{number} {value}{unit}]{right} {name}_"
    chain = one(text)
    assert [p.text for p in chain.points] == ["START", *(name + "_" for _, _, name in parts)]
    for link, (shape, value, _) in zip(chain.links, parts, strict=True):
        _, left, right, _, unit, scale = shape
        assert magnitude(link.value, unit) == pytest.approx(value * scale)
        assert link.plus == ("left" if "+" in left else "right" if "+" in right else None)
        assert link.arrow == ("left" if "<" in left else "right" if ">" in right else None)


def test_quantities_belong_to_the_project_registry():
    mains = one("mains 120 V 60 Hz")
    assert mains.voltage == quantity(120, "volt")
    assert isinstance(mains, model.Mains)


def test_a_misspelt_transformer_is_one_problem_not_one_a_winding() -> None:
    drawing = parse_drawing(
        "tranformer T1\n  primary pri 120 V\n  winding h 6.3 V 2 A\nB1 -- gnd\n"
    )
    assert [(p.span.line, p.rule) for p in drawing.problems] == [(1, "drawing.syntax")]
