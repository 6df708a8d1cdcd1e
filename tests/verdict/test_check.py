"""The checks of a rule and its pairs: each thing that can be wrong is found by itself."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from coldcheck.drawing.kinds import PartKind
from coldcheck.extending import Case, Outcome, Rule, check, pairs_in, rule
from coldcheck.verdict.check import faults_of, text_faults
from coldcheck.verdict.registry import rule_by_id

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from coldcheck.extending import Pair

WRONG = """# A resistor called R9 is a bad omen here. Any other number does.
B1 --+[E1 10 V]-- gnd
B1 --[R9 10k]-- gnd
"""
RIGHT = WRONG.replace("[R9 10k]-- gnd", "[R1 10k]-- gnd  # mended")


@rule(
    "omen.bad-number",
    title="Resistor with an unlucky number",
    level="notice",
    states="none: the drawing alone",
    needs="a resistor",
    criterion="A resistor that is called R9.",
    why="Whoever numbers a resistor nine has miscounted, since the ninth one is always missing.",
    source="invented for this test",
    limits="Only resistors are looked at.",
)
def omen(case: Case) -> Iterator[Outcome]:
    if "R9" in case.circuit.branches:
        yield omen.finding(case, ("R9",), "R9 is unlucky", "Call it R10")


def pairs(folder: Path, wrong: str = WRONG, right: str = RIGHT) -> tuple[Pair, ...]:
    place = folder / omen.id
    place.mkdir()
    (place / "wrong.tube").write_text(wrong, "utf-8")
    (place / "right.tube").write_text(right, "utf-8")
    return pairs_in(folder)


def test_a_rule_with_its_pair_passes(tmp_path: Path) -> None:
    assert check(omen, pairs(tmp_path)) == []


def test_one_of_our_own_passes_and_does_not_run_twice() -> None:
    ours = rule_by_id("heater.no-reference")
    from coldcheck.verdict.pairs import pairs_of

    assert check(ours, pairs_of(ours.id)[:1]) == []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"id": "Omen.bad"}, "the identifier is not of the form"),
        ({"id": "omen.must-check"}, "names a cure"),
        ({"level": "grave"}, "the level is not one of"),
        ({"title": "an omen"}, "title has no capital first"),
        ({"title": "An omen."}, "title has no capital first"),
        ({"why": "Too short."}, "why says too little: at least 10 words"),
        ({"criterion": "A resistor called so is what is looked for"}, "criterion is no sentence"),
        ({"limits": ""}, "limits is empty"),
        ({"source": "a\x1b[31mred one"}, "source has characters that cannot be printed"),
        ({"needs": 7}, "needs is no text"),
        ({"judge": None}, "judge is no function"),
    ],
)
def test_each_fault_of_form_is_told(change: dict[str, object], told: str) -> None:
    faults = faults_of(replace(omen, **change))  # type: ignore[arg-type]
    assert len(faults) == 1
    assert told in faults[0]


def test_what_is_no_rule() -> None:
    assert faults_of(lambda case: []) == ["function is no rule: make rules with @rule(...)"]


def judged(judge: object) -> Rule:
    return replace(omen, judge=judge)  # type: ignore[arg-type]


def silent(case: Case) -> list[Outcome]:
    return []


def everywhere(case: Case) -> list[Outcome]:
    name = next(b.name for b in case.circuit.branches.values() if b.kind is PartKind.RESISTOR)
    return [omen.finding(case, (name,), "a resistor", "Take it out")]


def sloppy(case: Case) -> list[Outcome]:
    return [replace(f, remedy="no capital") for f in omen.judge(case)]  # type: ignore[type-var]


def raising(case: Case) -> list[Outcome]:
    raise OSError("no omens today")


@pytest.mark.parametrize(
    ("judge", "told"),
    [
        (silent, ["wrong: the rule does not fire"]),
        (everywhere, ["right: omen.bad-number fires", "right: the rule fires"]),
        (sloppy, ["wrong: a finding has no remedy, or one without a capital first"]),
    ],
)
def test_the_pair_tells_what_the_rule_does(judge: object, told: list[str], tmp_path: Path) -> None:
    assert check(judged(judge), pairs(tmp_path)) == [f"{omen.id}: {text}" for text in told]


def test_a_rule_that_raises_is_told_of_both_drawings(tmp_path: Path) -> None:
    faults = check(judged(raising), pairs(tmp_path))
    assert sum("the rule failed: OSError: no omens today" in f for f in faults) == 2


def test_no_pair(tmp_path: Path) -> None:
    assert check(omen, pairs_in(tmp_path)) == ["there is no pair of drawings for it"]


def test_another_rule_that_fires_and_a_drawing_that_cannot_be_read(tmp_path: Path) -> None:
    wrong = WRONG + "gnd --+[C1 10 uF 50 V]-- B1\n"
    faults = check(omen, pairs(tmp_path, wrong, RIGHT.replace("10k", "10q")))
    assert f"{omen.id}: wrong: capacitor.reversed fires as well" in faults
    assert f"{omen.id}: right: cannot be read" in faults


@pytest.mark.parametrize(
    ("wrong", "right", "told"),
    [
        (WRONG[1:], RIGHT[1:], "wrong: does not open with a comment"),
        (WRONG, WRONG, "right: is the wrong drawing"),
        (WRONG, RIGHT.replace("  # mended", ""), "right: a line differs that is not marked"),
        (
            WRONG,
            RIGHT.replace("-- gnd\n", "-- gnd # mended\n", 1).replace("  # mended", "# mended"),
            "",
        ),
        (RIGHT, RIGHT + "B1 --[R2 1k]-- gnd # mended\n", "right: a line is marked as mended that"),
    ],
)
def test_the_texts_of_a_pair(wrong: str, right: str, told: str) -> None:
    faults = list(text_faults(wrong.splitlines(), right.splitlines()))
    assert [f for f in faults if f.startswith(told)] if told else faults == []
