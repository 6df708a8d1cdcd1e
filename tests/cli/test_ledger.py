"""Gating with a ledger of standing findings."""

from __future__ import annotations

import json
from datetime import date

import pytest

from coldcheck.cli import FAILED, FOUND, OK

REVERSED = "gnd --+[C1 10 uF 50 V]-- MID\n"
MORE = "B1 --[R3 100 0.5 W]-- gnd\n"
ANOTHER = "gnd --+[C2 10 uF 50 V]-- MID\n"


@pytest.fixture
def repository(tmp_path, make):
    """Two drawings, one with a standing finding, and a ledger made from them."""
    make("a.tube")
    with (tmp_path / "a.tube").open("a") as drawing:
        drawing.write(REVERSED)
    make("sub/b.tube")
    return tmp_path


def test_an_old_collection_starts_gating_today(run, repository):
    ledger = repository / "standing.ledger"
    assert run("review", repository)[0] == FOUND
    assert run("review", repository, "--ledger", ledger, "--update-ledger")[0] == OK
    lines = ledger.read_text().splitlines()
    assert lines[0].startswith("# coldcheck ledger 2")
    (fields,) = [line.split("\t") for line in lines[1:]]
    assert fields[1:6] == ["a.tube", "capacitor.reversed", "C1", "notice", "12"]
    assert fields[6:8] == [date.today().isoformat(), "-"]
    status, out, err = run("review", repository, "--ledger", ledger)
    assert (status, err) == (OK, "")
    assert "Standing, known to the ledger" in out


def test_only_what_is_new_stops_the_change(run, repository):
    ledger = repository / "standing.ledger"
    run("review", repository, "--ledger", ledger, "--update-ledger")
    with (repository / "a.tube").open("a") as drawing:
        drawing.write(MORE)
    status, out, _ = run("review", repository, "--ledger", ledger, "--report", "json")
    assert status == FOUND
    findings = [f for d in json.loads(out)["drawings"] for f in d["findings"]]
    assert {(f["rule"], f["at"][0], f["standing"]) for f in findings} == {
        ("capacitor.reversed", "C1", True),
        ("resistor.over-power", "R3", False),
    }


def test_what_a_known_slip_comes_to_explain_stops_the_change(run, repository):
    """E1 the wrong way round explains two capacitors, and is told instead of them."""
    ledger = repository / "standing.ledger"
    with (repository / "a.tube").open("a") as drawing:
        drawing.write(ANOTHER)
    run("review", repository, "--ledger", ledger, "--update-ledger")
    assert run("review", repository, "--ledger", ledger)[0] == OK
    with (repository / "a.tube").open("a") as drawing:
        drawing.write(ANOTHER.replace("C2", "C3"))
    status, out, _ = run("review", repository, "--ledger", ledger, "--report", "json")
    assert status == FOUND
    findings = [f for d in json.loads(out)["drawings"] for f in d["findings"]]
    assert [(f["at"][0], f["standing"]) for f in findings] == [("E1", False)]


def test_what_is_gone_is_said_and_an_update_takes_it_out(run, repository, make):
    ledger = repository / "standing.ledger"
    run("review", repository, "--ledger", ledger, "--update-ledger")
    make("a.tube")
    status, _, err = run("review", repository, "--ledger", ledger)
    assert status == OK
    assert "a.tube: capacitor.reversed at C1" in err
    run("review", repository, "--ledger", ledger, "--update-ledger")
    assert len(ledger.read_text().splitlines()) == 1


def test_an_update_of_one_drawing_keeps_the_others(run, repository):
    ledger = repository / "standing.ledger"
    run("review", repository, "--ledger", ledger, "--update-ledger")
    before = ledger.read_text()
    run("review", repository / "sub" / "b.tube", "--ledger", ledger, "--update-ledger")
    assert ledger.read_text() == before


def test_a_ledger_that_cannot_be_used_is_asked_wrongly(run, good, tmp_path):
    status, _, err = run("review", good, "--ledger", tmp_path / "none")
    assert status == OK  # the first day: everything counts, and that is said
    assert "everything counts (--update-ledger makes one)" in err
    (tmp_path / "bad").write_text("nonsense\n")
    status, _, err = run("review", good, "--ledger", tmp_path / "bad")
    assert status == FAILED
    assert "line 1: expected fingerprint" in err
    status, _, err = run("review", good, "--update-ledger")
    assert status == FAILED
    assert "--ledger FILE" in err


def test_a_name_with_the_end_of_a_line_forges_no_line(run, repository, make):
    forged = repository / "x\n0123456789abcdef\tb.tube"
    forged.write_text((repository / "a.tube").read_text())
    ledger = repository / "standing.ledger"
    status, _, err = run("review", repository, "--ledger", ledger, "--update-ledger")
    assert status == FAILED
    assert "rename the drawing" in err
    assert not ledger.exists()
