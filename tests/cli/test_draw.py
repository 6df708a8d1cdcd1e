"""``coldcheck draw``: what it writes, what it refuses, what it says of half a drawing."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.picture.readback import recover

from coldcheck.cli import main

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "samples" / "harbour-light.tube"
WRONG = ROOT / "samples" / "mistakes" / "heater.cathode-stress" / "wrong.tube"


def _texts(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def _drawn(capsys, *words):
    status = main(["draw", *map(str, words)])
    return status, capsys.readouterr()


def test_the_volts_of_the_state_stand_in_the_picture(capsys):
    status, told = _drawn(capsys, SAMPLE)
    assert status == 0
    assert "volts to gnd, warm" in _texts(told.out)
    assert any(re.fullmatch(r"1[23]\.\d V", text) for text in _texts(told.out))


def test_another_state_has_other_volts(capsys):
    warm = _drawn(capsys, SAMPLE)[1].out
    cold = _drawn(capsys, SAMPLE, "--state", "cold")[1].out
    assert "volts to gnd, cold" in _texts(cold)
    assert sorted(_texts(warm)) != sorted(_texts(cold))


def test_without_volts_there_are_none(capsys):
    texts = _texts(_drawn(capsys, SAMPLE, "--no-volts")[1].out)
    assert not any("to gnd" in text for text in texts)


def test_an_unknown_state_is_refused_with_those_there_are(capsys):
    status, told = _drawn(capsys, SAMPLE, "--state", "lukewarm")
    assert status == 3
    assert "warm" in told.err
    assert told.out == ""


def test_findings_are_marked_and_listed_by_their_words(capsys):
    texts = _texts(_drawn(capsys, WRONG, "--findings")[1].out)
    assert texts.count("1") >= 2
    assert any(text.startswith("NOTICE") and "V1A" in text for text in texts)


def test_one_panel_alone(capsys):
    parts, _, _ = recover(_drawn(capsys, SAMPLE, "--only", "supply")[1].out)
    names = {part.name for part in parts}
    assert {"T1", "L1"} <= names
    assert "V2" not in names


def test_the_panel_of_a_part(capsys):
    parts, _, _ = recover(_drawn(capsys, SAMPLE, "--only", "r7")[1].out)
    names = {part.name for part in parts}
    assert {"R7", "V2"} <= names
    assert "T1" not in names


def test_a_part_that_is_not_there(capsys):
    status, told = _drawn(capsys, SAMPLE, "--only", "R77")
    assert status == 3
    assert "R77" in told.err


def test_half_a_drawing_is_drawn_as_far_as_it_goes(tmp_path, capsys):
    half = tmp_path / "half.tube"
    half.write_text("tube V1 12AX7\nB1 --[R1 100k]-- V1A.plate\nV1A.cathode --[R2 1k5\n")
    status, told = _drawn(capsys, half)
    assert status == 2
    assert "half.tube" in told.err
    assert "not all of it could be read" in _texts(told.out)
    assert {"R1", "V1A"} <= {part.name for part in recover(told.out)[0]}


def test_nothing_at_all_is_a_sheet_without_parts(tmp_path, capsys):
    empty = tmp_path / "empty.tube"
    empty.write_text('drawing "Nothing yet"\n')
    status, told = _drawn(capsys, empty)
    assert status == 0
    assert recover(told.out)[0] == []


def test_the_drawing_is_never_overwritten(tmp_path, capsys):
    mine = tmp_path / "mine.tube"
    mine.write_text(SAMPLE.read_text())
    status, _ = _drawn(capsys, mine, "--output", mine)
    assert status == 3
    assert mine.read_text() == SAMPLE.read_text()


def test_the_page_holds_the_picture_and_nothing_from_elsewhere(capsys):
    page = _drawn(capsys, SAMPLE, "--report", "html")[1].out
    assert page.startswith("<!DOCTYPE html>")
    assert "<svg" in page
    assert "<script" not in page
    assert not re.search(r"""(src|href)=|url\(""", page)
    assert "default-src 'none'" in page


@pytest.mark.parametrize("name", ["harbour-light"])
def test_the_picture_of_the_guide_is_todays(name, capsys):
    kept = (ROOT / "samples" / "guide" / f"{name}.svg").read_text(encoding="utf-8")
    assert _drawn(capsys, ROOT / "samples" / f"{name}.tube")[1].out == kept
