"""Rules of other packages: what is taken, what is refused, and that every refusal is told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit.entries import Entry
from coldcheck.extending import Case, Finding, NotJudged, Outcome, Rule
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import PACKAGES, Unjudged
from coldcheck.judge.outcome import MOST, sound
from coldcheck.verdict.added import Added, gathered
from coldcheck.verdict.engine import run_rules
from coldcheck.verdict.registry import RULES, rule_by_id

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from coldcheck.verdict.review import Review

OURS = rule_by_id("resistor.over-power")
THEIRS = replace(OURS, id="omen.bad-number")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a pair for the rule; only its form is looked at here."""
    place = tmp_path / "mistakes" / THEIRS.id
    place.mkdir(parents=True)
    (place / "wrong.tube").write_text("# A lesson.\nA -- B\n", "utf-8")
    (place / "right.tube").write_text("# A lesson.\nA -- C  # mended\n", "utf-8")
    return tmp_path


def of(found: object, folder: Path | None, package: str = "omens 1", fault: str = "") -> Entry:
    return Entry(package, found, folder, fault)


def reasons(added: Added) -> list[tuple[str, str]]:
    return [(r.rule, r.reason) for r in added.remarks]


def test_a_rule_in_form_is_taken_with_its_package_and_pair(folder: Path) -> None:
    added = gathered([of([THEIRS], folder)])
    assert added.rules == (THEIRS,)
    assert added.packages == {THEIRS.id: "omens 1"}
    assert [p.name for p in added.pairs] == [THEIRS.id]
    assert added.remarks == ()


def test_names_that_are_taken_are_refused(folder: Path) -> None:
    added = gathered([of([OURS, THEIRS], folder), of([THEIRS], folder, "more omens 2")])
    assert [r.id for r in added.rules] == [THEIRS.id]
    assert reasons(added) == [
        (OURS.id, "not run, a rule of omens 1: coldcheck has a rule of that name"),
        (THEIRS.id, "not run, a rule of more omens 2: omens 1 has a rule of that name"),
    ]


def test_rules_out_of_form_or_without_a_pair_are_not_run(folder: Path, tmp_path: Path) -> None:
    bad = replace(THEIRS, why="Short.")
    added = gathered([of([bad, "heater.no-reference", replace(THEIRS, id="omen.other")], folder)])
    assert added.rules == ()
    assert reasons(added) == [
        (THEIRS.id, "not run, a rule of omens 1: why says too little: at least 10 words"),
        (PACKAGES, "not run, a rule of omens 1: str is no rule: make rules with @rule(...)"),
        ("omen.other", "not run, a rule of omens 1: there is no pair of drawings for it"),
    ]


def test_a_package_that_fails_as_a_whole(folder: Path) -> None:
    def raising() -> Iterator[Rule]:
        yield THEIRS
        raise RuntimeError("the\nstars\x1b[2J")

    added = gathered([of(raising(), folder), of(7, folder), of(None, None, fault="ImportError: x")])
    assert added.rules == ()
    assert reasons(added) == [
        (PACKAGES, "the rules of omens 1 failed: RuntimeError: the stars\x1b[2J"),
        (PACKAGES, "the rules of omens 1 are no list of rules"),
        (PACKAGES, "the rules of omens 1 failed: ImportError: x"),
    ]


# -- what a rule gives ------------------------------------------------------------------


@pytest.fixture(scope="module")
def case(review: Callable[[str], Review]) -> Case:
    looked = review("B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k 5 W]-- gnd\n")
    assert looked.circuit is not None
    return Case(looked.circuit, looked.solutions)


def finding(case: Case, **change: object) -> Finding:
    return replace(THEIRS.finding(case, ("R1",), "it is", "Mend it"), **change)  # type: ignore[arg-type]


def test_findings_and_remarks_in_form_pass(case: Case) -> None:
    outcomes = [
        finding(case, evidence={"peak": figure(3, "V"), "text": "x"}, limit=figure(2, "V")),
        THEIRS.not_judged((), "no"),
    ]
    assert sound(THEIRS, outcomes) == outcomes


@pytest.mark.parametrize(
    "change",
    [
        {"level": "grave"},
        {"at": ["R1"]},
        {"at": (1,)},
        {"message": None},
        {"evidence": {"volts": [1]}},
        {"evidence": {"volts": 3.0}},
        {"evidence": {"volts": Figure(3.0, "volts")}},
        {"limit": 3.0},
        {"evidence": None},
        {"span": (1, 2)},
        {"certainty": "sure"},
        {"excess": "much"},
        {"accepted": "by the rule itself"},
        {"standing": True},
        {"rule": OURS.id},
        {"also_in": "warm"},
    ],
)
def test_a_finding_out_of_form_is_the_failure_of_its_rule(
    change: dict[str, object], case: Case
) -> None:
    bad = replace(THEIRS, judge=lambda case: [finding(case, **change)])
    (told,) = run_rules(case, [bad], {THEIRS.id: "omens 1"})
    assert isinstance(told, NotJudged)
    assert told.reason.startswith("the rule failed: ")
    assert told.reason.endswith("; it comes with omens 1")
    assert told.kind is Unjudged.ADDED_RULE_FAILED


def endless(case: Case) -> Iterator[Outcome]:
    while True:
        yield THEIRS.not_judged((), "again")


@pytest.mark.parametrize(
    ("judge", "why"),
    [
        (lambda case: None, "TypeError"),
        (lambda case: ["a finding"], "str is neither a finding nor a remark"),
        (lambda case: [NotJudged(THEIRS.id, "R1", "x")], "a remark out of form"),
        (lambda case: [NotJudged(OURS.id, (), "x")], f"in the name of {OURS.id}"),
        (endless, f"more than {MOST} outcomes"),
        (lambda case: (_ for _ in ()).throw(SystemExit(0)), "SystemExit: 0"),
    ],
)
def test_whatever_else_a_rule_does_is_told(
    judge: Callable[[Case], object], why: str, case: Case
) -> None:
    bad = replace(THEIRS, judge=judge)  # type: ignore[arg-type]
    (told,) = run_rules(case, [bad])
    assert isinstance(told, NotJudged)
    assert why in told.reason


def test_our_own_rules_are_those_of_the_registry() -> None:
    from coldcheck.verdict.added import with_rule

    assert OURS not in with_rule(OURS).rules
    assert THEIRS in with_rule(THEIRS).rules
    assert len({r.id for r in RULES}) == len(RULES)
