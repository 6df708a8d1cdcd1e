"""The command parts."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, OK, UNREADABLE

SAMPLES = Path(__file__).parents[2] / "samples"
SUPPLY = """\
drawing "Ferry Bell: two rails"
B1 --+[E1 300 V]-- gnd
B1 --[R1 10k 5 W]-- B2 --[R2 10k 0.5 W]-- gnd
B2 --+[C1 10 uF 160 V]-- gnd
"""


@pytest.fixture
def supply(tmp_path):
    file = tmp_path / "bell.tube"
    file.write_text(SUPPLY, encoding="utf-8")
    return file


def read(run, *arguments):
    status, out, err = run("parts", *arguments, "--report", "csv")
    assert (status, err) == (OK, "")
    return list(csv.DictReader(StringIO(out, newline="")))


def test_what_each_part_must_stand(run, supply):
    """By hand: 150 V and 15 mA, so 2.25 W in each resistor and 150 V across C1."""
    rows = {row["part"]: row for row in read(run, supply)}
    assert float(rows["R2"]["most_w"]) == pytest.approx(2.25, rel=1e-3)
    assert float(rows["R2"]["most_v"]) == pytest.approx(150, rel=1e-3)
    assert rows["R2"]["buy_w"] == "5"  # 2.25 W is to be 60 % at most
    assert rows["R2"]["drawn_w"] == "0.5"
    assert float(rows["C1"]["most_v"]) == pytest.approx(150, rel=1e-3)
    assert rows["C1"]["buy_v"] == "250"  # 1.2 times 150 V within 0.8 of it
    assert rows["R1"]["alike"] == rows["R2"]["alike"] == "2"


def test_the_text_says_the_same(run, supply):
    status, out, err = run("parts", supply)
    assert (status, err) == (OK, "")
    assert "R1    2 x 10 kohm  5 W         150 V warm  2.25 W warm" in out
    assert "R2    10 kohm      5 W  0.5 W  150 V warm  2.25 W warm" in out
    assert "Held by its review (1 finding)" in out
    assert "lethal" in out


def test_every_lead(run, supply):
    rows = read(run, supply, "--wires")
    found = {(r["part"], r["lead"]): (r["point"], r["joins"]) for r in rows}
    assert found["C1", "'+"] == ("B2", "R1; R2")
    assert found["R1", "one end"] == ("B1", "E1 +")
    assert found["R2", "other end"] == ("gnd", "")
    assert {r["ticked"] for r in rows} == {""}
    out = run("parts", supply, "--wires")[1]
    assert "[ ] +  B2: R1, R2" in out
    assert "C1 10 uF 160 V" in out


@pytest.mark.parametrize("wires", [(), ("--wires",)])
@pytest.mark.parametrize("form", ["text", "csv", "html"])
def test_every_form_goes_to_a_file(run, supply, tmp_path, form, wires):
    target = tmp_path / "list"
    asked = ("parts", supply, *wires, "--report", form)
    assert run(*asked, "--output", target) == (OK, "", "")
    printed = run(*asked)[1]
    assert target.read_bytes().decode("utf-8") == printed
    assert "R1" in printed


@pytest.mark.parametrize("wires", [(), ("--wires",)])
def test_the_page_holds_what_the_csv_holds_and_nothing_from_outside(run, tmp_path, wires):
    file = tmp_path / "x.tube"
    file.write_text(SUPPLY.replace("two rails", "<b>&two rails"), encoding="utf-8")
    html = run("parts", file, *wires, "--report", "html")[1]
    assert "&lt;b&gt;&amp;two rails" in html
    assert "<script" not in html
    assert "http:" not in html
    assert "https:" not in html
    for row in read(run, file, *wires):
        assert row["part"] in html


def test_no_formula_reaches_a_spreadsheet(run, supply):
    out = run("parts", supply, "--wires", "--report", "csv")[1]
    cells = [cell for row in csv.reader(StringIO(out, newline="")) for cell in row]
    assert "'+" in cells
    assert not [c for c in cells if c.startswith(("=", "+", "-", "@"))]


def test_without_a_solved_state_there_is_nothing_to_buy_by(run, tmp_path):
    file = tmp_path / "loose.tube"
    file.write_text("A --[R1 1k 1 W]-- B\nB --[C1 1 uF]-- A\n", encoding="utf-8")
    status, out, _ = run("parts", file)
    assert status == OK
    assert "Its review is undecided: nothing is on gnd: draw the wire to gnd;" in out
    assert "  part  value   buy\n  R1    1 kohm  1 W\n" in out


def test_asked_wrongly(run, supply, unreadable):
    status, _, err = run("parts", supply, "--output", supply)
    assert status == FAILED
    assert "overwrite" in err
    status, out, _ = run("parts", unreadable)
    assert status == UNREADABLE
    assert "unreadable" in out


def test_a_sample_of_every_sort_is_told(run):
    out = run("parts", SAMPLES / "breakwater.tube")[1]
    for heading in ("Resistors", "Electrolytics", "Diodes", "Mains transformers", "Tubes", "Fuses"):
        assert f"\n{heading}\n" in out
