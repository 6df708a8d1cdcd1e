"""Random drawings through everything, few of them; ``python -m tests.fuzz`` takes many."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from tests.fuzz.errors import outcome_of
from tests.fuzz.hunt import hunt
from tests.fuzz.strategies import drawings

from coldcheck.drawing.reader import parse_drawing
from coldcheck.report.review import junit
from coldcheck.verdict import engine, registry


def test_random_drawings_bring_no_internal_error():
    tally = hunt(40, "suite")
    assert tally.errors == {}
    assert tally.drawings == 40
    assert tally.readable >= 24  # some of what is drawn contradicts itself


@settings(max_examples=60)
@given(drawings())
def test_every_statement_is_one_the_grammar_knows(text):
    """A line may name what is not there, or ask for a tube's heater in a way it has not."""
    problems = parse_drawing(text, "random.tube").problems
    assert [p for p in problems if p.rule == "drawing.syntax"] == [], text


def test_what_breaks_down_is_found_and_its_drawing_made_plain(monkeypatch):
    def judge(case):
        return [1 / 0 for b in case.circuit.branches.values() if b.kind.value == "capacitor"]

    broken = replace(registry.RULES[0], judge=judge)
    monkeypatch.setattr(engine, "RULES", (broken, *registry.RULES[1:]))
    monkeypatch.setattr("tests.fuzz.errors._BY_ID", {broken.id: broken})
    tally = hunt(60, "broken rule", chart=False)
    ((error, text),) = tally.errors.items()
    assert (error.doing, error.type) == (broken.id, "ZeroDivisionError")
    assert len(text.splitlines()) <= 2
    assert "[C" in text


@pytest.mark.parametrize(("where", "doing"), [("_suite", "junit"), ("render", "junit")])
def test_a_report_that_raises_is_an_error(monkeypatch, where, doing):
    def fail(*_given):
        raise KeyError(where)

    monkeypatch.setattr(junit, where, fail)
    outcome = outcome_of("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n")
    assert {(e.doing, e.type) for e in outcome.errors} == {(doing, "KeyError")}


def test_the_command_counts_the_drawings_of_all_its_processes():
    command = [sys.executable, "-m", "tests.fuzz", "--count", "6", "--jobs", "2", "--no-chart"]
    root = Path(__file__).parents[2]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("6 drawings, ")
    assert done.stdout.endswith(": 0 internal errors\n")


def test_the_recorded_run_found_none():
    kept = tomllib.loads((Path(__file__).parent / "recorded.toml").read_text("utf-8"))
    assert kept["drawings"] >= 3_000
    assert kept["errors"] == 0
