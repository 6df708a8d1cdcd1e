"""The command faults: the table, the other forms, the exit status."""

from __future__ import annotations

import csv
import json
from dataclasses import replace

import pytest

from coldcheck.bench.faults import faults
from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE
from coldcheck.judge.finding import NotJudged, Unjudged

DRAWING = """drawing "a supply with its bleeder"
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 210 V 50 mA 100 ohm
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> IN
IN --[S1 switch]-- RES
RES --+[C1 47 uF 450 V]-- gnd
RES --[R1 220k 2 W]-- gnd
"""


@pytest.fixture
def bleeder(tmp_path):
    path = tmp_path / "bleeder.tube"
    path.write_text(DRAWING, encoding="utf-8")
    return path


def test_a_rule_that_breaks_down_over_a_fault_is_no_pass(run, bleeder, monkeypatch):
    really = faults.as_review

    def instead(*given):
        said = NotJudged("supply.no-bleeder", (), "it failed with R1 open", Unjudged.RULE_FAILED)
        return replace(really(*given), not_judged=(said,))

    monkeypatch.setattr(faults, "as_review", instead)
    status, _, err = run("faults", bleeder)
    assert status == FAILED
    assert "supply.no-bleeder: it failed with R1 open" in err


def test_the_table_can_be_signed(run, bleeder, tmp_path):
    target = tmp_path / "faults.txt"
    status, out, err = run("faults", bleeder, "--output", target)
    assert (status, out, err) == (FOUND, "", "")
    text = target.read_text(encoding="utf-8")
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80
    assert "  1  [ ]  DANGER  R1 open" in lines
    assert "only R1 unbroken" in text
    assert "until it is" in text
    assert "stays above 60 V for 18 s after switch-off" in " ".join(text.split())
    assert text.count("date ______________") == 3
    assert "Tube equipment holds lethal voltages" in text
    assert "verdict: held" in text


def test_one_part_only(run, bleeder):
    status, out, _ = run("faults", bleeder, "--part", "S1")
    assert status == OK
    assert "1 single fault, none with which" in out
    assert "S1 thrown" in out
    assert "R1" not in out


def test_an_unknown_part(run, bleeder):
    status, _, err = run("faults", bleeder, "--part", "R77")
    assert status == FAILED
    assert "R77" in err


def test_the_gate(run, bleeder):
    assert run("faults", bleeder, "--gate", "danger")[0] == FOUND
    assert run("faults", bleeder, "--part", "S1", "--gate", "advice")[0] == OK


def test_json_and_sarif(run, bleeder):
    status, out, _ = run("faults", bleeder, "--report", "json")
    (drawing,) = json.loads(out)["drawings"]
    assert status == FOUND
    (danger,) = [x for x in drawing["findings"] if x["level"] == "danger"]
    assert danger["rule"] == "supply.no-bleeder"
    assert "failed R1 open" in danger["state"]
    assert danger["line"] == 9
    _, out, _ = run("faults", bleeder, "--report", "sarif")
    results = json.loads(out)["runs"][0]["results"]
    assert any("R1 open" in x["message"]["text"] and x["level"] == "error" for x in results)


def test_what_cannot_be_read(run, tmp_path):
    path = tmp_path / "bad.tube"
    path.write_text("B --[R1 1k]-- \n", encoding="utf-8")
    assert run("faults", path)[0] == UNREADABLE


def test_a_drawing_is_not_overwritten(run, bleeder):
    status, _, _ = run("faults", bleeder, "--output", bleeder)
    assert status == FAILED
    assert bleeder.read_text(encoding="utf-8") == DRAWING


def test_the_settings_of_the_project_hold_here_too(run, tmp_path):
    """The mains of the settings, without which the drawing has no numbers; and their gate."""
    path = tmp_path / "bleeder.tube"
    path.write_text(DRAWING.replace("mains 120 V 60 Hz\n", ""), encoding="utf-8")
    (tmp_path / "coldcheck.toml").write_text(
        'gate = "danger"\n[mains]\nvoltage = "120 V"\nfrequency = "60 Hz"\n', encoding="utf-8"
    )
    status, out, _ = run("faults", path)
    assert status == FOUND
    assert "DANGER  R1 open" in out
    assert "at danger" in out


@pytest.mark.parametrize("form", ["html", "csv"])
def test_a_sheet_to_sign(run, bleeder, tmp_path, form):
    target = tmp_path / f"sheet.{form}"
    status, _, err = run("faults", bleeder, "--sheet", target)
    assert (status, err) == (FOUND, "")
    text = target.read_text(encoding="utf-8")
    for words in (
        *("R1 open", "only R1 unbroken", "Mark of the drawing:", "Mains: 132 V", "measure"),
        *("approved by", "lethal voltages"),
    ):
        assert words in text
    assert "evision" in text


def test_the_sheet_can_be_read_back(run, bleeder, tmp_path):
    target = tmp_path / "sheet.csv"
    run("faults", bleeder, "--sheet", target)
    rows = list(csv.reader(target.read_text(encoding="utf-8").splitlines()))
    start = next(k for k, row in enumerate(rows) if row[:1] == ["number"])
    head, first = rows[start], rows[start + 1]
    assert len(first) == len(head)
    found = dict(zip(head, first, strict=True))
    assert (found["number"], found["level"], found["fault"]) == ("1", "DANGER", "R1 open")
    assert (found["measure"], found["by"], found["date"]) == ("", "", "")


@pytest.mark.parametrize("name", ["sheet.txt", "bleeder.tube"])
def test_a_sheet_that_cannot_be(run, bleeder, tmp_path, name):
    status, _, err = run("faults", bleeder, "--sheet", tmp_path / name)
    assert status == FAILED
    assert name in err
