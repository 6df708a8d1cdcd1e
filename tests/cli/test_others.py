"""The commands trace, tubes and why."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.circuit.tubes import known_types, plain_name, tube_type
from coldcheck.cli import FAILED, OK, UNREADABLE
from coldcheck.verdict.pairs import pairs
from coldcheck.verdict.registry import RULES, rule_by_id

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"


def test_trace_shows_each_part_its_resistance_current_and_voltage(run, good):
    status, out, err = run("trace", good, "MID")
    assert (status, err) == (OK, "")
    lines = [" ".join(line.split()) for line in out.splitlines()]
    # 24 V over two equal resistors of 10 kohm: 12 V in the middle, 1.2 mA
    assert "voltage 12.0 V DC to gnd, warm" in lines
    assert "DC paths 2 paths to gnd" in lines
    assert "R2 10 kohm 1.2 mA gnd 0.00" in lines
    assert "R1 10 kohm -1.2 mA B1 24.0" in lines
    assert "hangs on no single part: any one may open and a path to gnd is left" in lines


def test_trace_names_the_single_parts(run):
    _, out, _ = run("trace", SAMPLE, "V2.grid")
    assert "hangs on    R5 and R6: if any of them opens, no DC path to gnd is left" in out


def test_trace_of_a_point_without_a_path(run, tmp_path):
    file = tmp_path / "float.tube"
    file.write_text(
        "B1 --+[E1 24 V]-- gnd\nB1 --[C1 10 nF 50 V]-- X --[C2 10 nF 50 V]-- gnd\n",
        encoding="utf-8",
    )
    status, out, _ = run("trace", file, "X")
    assert status == OK
    assert "DC paths    none" in out
    assert "no number" in out
    assert "Path 1" not in out


def test_trace_takes_a_socket_pin_and_any_case(run):
    for name in ("V2:8", "v2.CATHODE"):
        assert run("trace", SAMPLE, name)[1].startswith("V2.cathode in ")


def test_trace_of_an_unknown_point_offers_the_nearest(run, good):
    status, out, err = run("trace", good, "MIDD")
    assert (status, out) == (FAILED, "")
    assert err == f"coldcheck: there is no point MIDD in {good}; near it: MID\n"


def test_trace_of_an_unreadable_drawing(run, unreadable, tmp_path):
    for file in (unreadable, tmp_path / "none.tube"):
        status, out, _ = run("trace", file, "MID")
        assert status == UNREADABLE
        assert "verdict: unreadable" in out


def test_tubes_lists_every_type_once(run):
    status, out, _ = run("tubes")
    assert status == OK
    firsts = [
        line.split()[0] for line in out.splitlines() if line.startswith("  ") and line[2:3] != " "
    ]
    assert sorted(plain_name(f) for f in firsts if f != "type") == sorted(known_types())
    assert max(map(len, out.splitlines())) <= 80


def test_tubes_shows_pins_ratings_points_and_sources(run):
    status, out, _ = run("tubes", "ecc83")
    assert status == OK
    lines = [" ".join(line.split()) for line in out.splitlines()]
    assert lines[0] == "12AX7 double triode"
    for line in (
        "6 A plate",
        "9 heater tap",
        "series h1 to h2 12.6 V 150 mA [1]",
        "plate-voltage 300 V found [1]",
        "grid-leak-fixed-bias 1 Mohm memory [2]",
        "[2] memory: Philips ECC83 data sheet -> philips-sheets",
        "philips-sheets Philips, data sheets of receiving tubes (from memory)",
    ):
        assert line in lines
    # the published point of 250 V, -2 V, and what the fitted law makes of it
    assert [x for x in lines if x.startswith("250 V / -2 V plate current 1.2 mA 1.201 mA")]


@pytest.mark.parametrize("name", known_types())
def test_every_type_prints_within_80_columns(name):
    from io import StringIO

    from rich.console import Console

    from coldcheck.report.pages import tube_sheet

    console = Console(file=StringIO(), width=80, color_system=None, _environ={})
    tube_sheet.render(tube_type(name), console)
    text = console.file.getvalue()
    assert max(map(len, text.splitlines())) <= 80
    assert "…" not in text
    for number in tube_type(name).ratings.values():
        assert number.source.split()[0] in text


def test_an_unknown_type_offers_its_relatives(run):
    status, out, err = run("tubes", "25SQ7")
    assert (status, out) == (FAILED, "")
    assert "6SQ7, 12SQ7, by its name the same electrodes at another heater" in err


def test_why_lists_every_rule(run):
    status, out, _ = run("why")
    assert status == OK
    assert {r.id for r in RULES} <= set(out.split())


def test_why_tells_all_about_a_rule(run):
    rule = rule_by_id("heater.cathode-stress")
    status, out, _ = run("why", rule.id)
    flat = " ".join(out.split())
    assert status == OK
    for text in (rule.title, rule.why, rule.criterion, rule.needs, rule.states, rule.limits):
        assert text in flat
    assert rule.source in flat


def test_why_shows_both_drawings_side_by_side_with_their_reviews(run):
    _, out, _ = run("why", "drawing.bad-value")
    lines = out.splitlines()
    pair = "  × B2 --[R2 10Ok 1 W]-- gnd            + B2 --[R2 100k 1 W]-- gnd"
    assert pair in lines
    wrong, right = (lines.index(f"Review of the {side} drawing") for side in ("wrong", "right"))
    assert lines[wrong + 1].startswith('  notice in line 4: found "10Ok"')
    assert lines[right + 1].startswith("  nothing found by the rules that could be judged")


def test_why_takes_a_further_case_of_a_rule(run):
    case = next(p for p in pairs() if p.case)
    _, out, _ = run("why", case.rule)
    assert f"coldcheck why {case.name}" in out
    status, out, _ = run("why", case.name)
    assert status == OK
    assert case.lesson.split(".")[0] in " ".join(out.split())


def test_why_refuses_a_case_there_is_not(run):
    status, out, err = run("why", "drawing.bad-value/nothing")
    assert (status, out) == (FAILED, "")
    assert "drawing.bad-value has no case nothing" in err


def test_an_unknown_rule_offers_the_nearest(run):
    status, out, err = run("why", RULES[0].id + "s")
    assert (status, out) == (FAILED, "")
    assert RULES[0].id in err


def test_the_page_of_a_rule_draws_its_pair(run, tmp_path):
    target = tmp_path / "rule.html"
    status, out, _ = run("why", "grid.no-return", "--report", "html", "--output", target)
    assert (status, out) == (OK, "")
    page = target.read_text(encoding="utf-8")
    assert page.count("<svg") == 2
    assert "Fit a grid leak" in page


def test_a_page_is_that_of_one_rule_and_a_file_that_of_a_page(run, tmp_path):
    assert run("why", "--report", "html")[0] == FAILED
    assert run("why", "grid.no-return", "--output", tmp_path / "x")[0] == FAILED
    assert run("why", "drawing.syntax", "--report", "html")[0] == OK
