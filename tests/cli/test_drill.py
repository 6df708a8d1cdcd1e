"""The command drill, without a terminal."""

from __future__ import annotations

import io

from coldcheck.cli import FAILED, OK

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
