"""The command drill, without a terminal."""

from __future__ import annotations

import io
from pathlib import Path

from coldcheck.cli import FAILED, OK

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"
ARGUMENTS = ("drill", "--seed", "5", "--count", "2", "--source", "pairs")


def test_answers_are_read_from_the_input(run, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("hint\nshow\nshow\nquit\n"))
    status, out, err = run(*ARGUMENTS)
    assert (status, err) == (OK, "")
    assert "Exercise 2" in out
    assert "The answer:" in out
    assert "0 of 6 points in 1 exercise" in out
    assert "lethal" in out


def test_an_input_that_ends_ends_the_drill(run, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    status, out, _ = run(*ARGUMENTS)
    assert status == OK
    assert "No exercise was finished." in out


def test_a_sheet_for_the_class_and_a_key_for_the_teacher(run, tmp_path):
    key = tmp_path / "key.txt"
    status, sheet, _ = run(*ARGUMENTS, "--list", "--key", key)
    answers = key.read_text(encoding="utf-8")
    assert status == OK
    assert sheet.count("Exercise ") == answers.count("Exercise ") == 2
    assert "The answer:" not in sheet
    assert answers.count("The answer:") == 2
    assert run(*ARGUMENTS, "--list")[1] == sheet


def test_an_unknown_family_and_a_silly_number_are_refused(run):
    status, _, err = run("drill", "--family", "valves")
    assert status == FAILED
    assert "there is no family valves; there are heater" in err
    status, _, err = run("drill", "--count", "0")
    assert status == FAILED
    assert "--count" in err


# -- on paper, of one's own, with readings ------------------------------------------------


def test_sheets_to_print_have_pictures_and_the_key_behind_them(run, tmp_path):
    target = tmp_path / "drill.html"
    status, out, _ = run(*ARGUMENTS, "--report", "html", "--output", target)
    page = target.read_text(encoding="utf-8")
    assert (status, out) == (OK, "")
    sheets, key = page.split('<section class="task key">')
    assert sheets.count('<section class="task">') == 2
    assert sheets.count("<svg") == 2
    assert "remedy" not in sheets.partition("</style>")[2]
    assert 'class="changed"' not in sheets.partition("</style>")[2]
    assert key.count("remedy") >= 2
    assert "<script" not in page


def test_the_key_may_go_to_a_file_of_its_own(run, tmp_path):
    target, key = tmp_path / "drill.html", tmp_path / "key.html"
    run(*ARGUMENTS, "--report", "html", "--output", target, "--key", key)
    assert 'class="task key"' not in target.read_text(encoding="utf-8")
    assert 'class="task key"' in key.read_text(encoding="utf-8")


def test_readings_of_ones_own_drawing(run, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("show\n"))
    status, out, err = run("drill", "--of", SAMPLE, "--readings", "--count", "1", "--seed", "2")
    assert (status, err) == (OK, "")
    assert "DC to gnd, warm" in out
    assert "The answer:" in out


def test_mistakes_in_ones_own_drawing(run):
    status, out, _ = run("drill", "--of", SAMPLE, "--count", "1", "--seed", "2", "--list")
    assert status == OK
    assert "V2 6V6GT" in out
    assert "Harbour" not in out


def test_what_cannot_be_drilled_is_said(run, tmp_path):
    broken = tmp_path / "broken.tube"
    broken.write_text("B1 --[R1\n")
    for words, said in (
        (("--of", broken), "could not be read"),
        (("--of", broken, "--readings"), "could not be read"),
        (("--of", SAMPLE.with_name("twin-quay.tube")), "has sheets"),
        (("--of", SAMPLE, "--source", "pairs"), "--source"),
        (("--readings", "--family", "heater"), "--readings"),
        (("--output", tmp_path / "x"), "--report html"),
    ):
        status, out, err = run("drill", *words)
        assert (status, out) == (FAILED, "")
        assert said in err
