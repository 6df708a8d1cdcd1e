"""Every drawing and every command of the guide on transcriptions, run as a reader would."""

from __future__ import annotations

import json
import re
import shlex
from itertools import pairwise
from pathlib import Path

import pytest

from coldcheck.cli import main

PAGE = (Path(__file__).parents[2] / "samples" / "guide" / "transcribing.md").read_text("utf-8")
FILES = dict(re.findall(r"<!-- file: (\S+) -->\n```tube\n(.*?)```", PAGE, re.DOTALL))
SHOWN = re.findall(r"```console\n\$ coldcheck (.*?)\n(.*?)```", PAGE, re.DOTALL)
STATUS = {"compare": 1, "review": 1, "chart": 0, "parts": 0}


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder with the drawings of the page in it."""
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_page_shows_each_of_its_checks() -> None:
    shown = [command.split()[0] for command, _ in SHOWN]
    assert shown == ["compare", "review", "chart", "parts", "parts"]
    assert PAGE.count("```tube") == len(FILES) == 3
    assert PAGE.count("```console") == len(SHOWN)


@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=[c for c, _ in SHOWN])
def test_a_command_prints_what_the_page_shows(desk, capsys, command, shown) -> None:
    """Line by line; ``...`` stands for lines that are left out."""
    words = shlex.split(command)
    cache = ["--no-cache"] if words[0] == "review" else []
    assert main([*words, *cache]) == STATUS[words[0]]
    printed = capsys.readouterr().out.splitlines()
    at = 0
    for number, line in enumerate(shown.splitlines()):
        if line == "...":
            continue
        skipping = number > 0 and shown.splitlines()[number - 1] == "..."
        assert line in printed[at:], line
        place = printed.index(line, at)
        assert skipping or place == at, f"{line!r} does not follow"
        at = place + 1


def test_mended_as_the_page_says_nothing_differs(desk, capsys) -> None:
    text = (
        FILES["second.tube"]
        .replace("R2 22k", "R2 2k2")
        .replace("-- V1B.cathode\nV1A", "-- gnd\nV1A")
    )
    (desk / "second.tube").write_text(text, encoding="utf-8")
    assert main(["compare", "first.tube", "second.tube"]) == 0
    assert "Parts" not in capsys.readouterr().out
    assert main(["review", "printed.tube", "--no-cache"]) == 0


def test_nothing_shown_is_out_of_order() -> None:
    for _, shown in SHOWN:
        lines = shown.splitlines()
        assert not any(a == b == "..." for a, b in pairwise(lines))
        assert any(line != "..." for line in lines)


def test_the_needle_shows_what_the_page_says(desk, capsys) -> None:
    """With the paper's meter in the settings, as the page says."""
    (desk / "coldcheck.toml").write_text(
        '[[instruments]]\nname = "the paper\'s"\nresponse = "mean"\nohms-per-volt = 1000\n'
        'ranges = ["250 V"]\nmax-volts = "250 V"\n',
        encoding="utf-8",
    )
    assert main(["chart", "first.tube", "--at", "V1A.plate", "--report", "json"]) == 0
    meters = json.loads(capsys.readouterr().out)["meters"]
    (own,) = (m for m in meters if m["instrument"] == "the paper's")
    assert own["shown"] == pytest.approx(85, abs=3)
    assert "the needle shows 85 V" in PAGE
