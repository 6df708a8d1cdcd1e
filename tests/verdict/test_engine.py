"""The engine: merging, waivers, fingerprints, order, and what happens when something fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.anatomy.case import Case
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.model import Span
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import LEVELS, Finding, Unjudged
from coldcheck.judge.rule import rule
from coldcheck.verdict import engine
from coldcheck.verdict.engine import merge, review_drawing, review_file, run_rules

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from coldcheck.verdict.review import Review

HOT = 'drawing "Hot"\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 4k7 10 W wirewound]-- gnd\n'
WARMISH = "B1 --+[E1 250 V]-- gnd\nB1 --[R1 22k 4 W wirewound]-- gnd\n"


def finding(
    state: str, excess: float, level: str = "notice", at: tuple[str, ...] = ("R1",), line: int = 1
) -> Finding:
    return Finding("x.y", level, state, at, Span("f", line, 1, 2), "m", "r", excess=excess)


def test_merging_keeps_the_worst_state_and_names_the_others() -> None:
    (one,) = merge([finding("warm", 1.1), finding("high line", 1.3), finding("low line", 1.0)])
    assert (one.state, one.excess) == ("high line", 1.3)
    assert one.also_in == ("warm", "low line")


def test_what_is_barely_beyond_its_limit_stands_behind_what_is_wired_wrongly() -> None:
    """Within a level: first what has no limit or is far beyond one, then the order of lines."""
    barely = replace(finding("warm", 1.1, line=1), limit=figure(100, "V"))
    far = replace(finding("warm", 1.3, line=3), limit=figure(100, "V"))
    wired = finding("drawing", 1.0, line=2)
    assert [f.span.line for f in engine._finish(None, [barely, far, wired])] == [2, 3, 1]


def test_a_graver_level_beats_a_larger_excess() -> None:
    (one,) = merge([finding("warm", 9.0, "advice"), finding("cold", 1.1, "caution")])
    assert (one.level, one.state, one.also_in) == ("caution", "cold", ("warm",))


def test_what_is_only_possible_gives_way_to_what_is_surer() -> None:
    edge = finding("cold", 0.97, "advice")
    edge = replace(edge, certainty="possible", evidence={"reach": figure(510.0, "V")})
    (one,) = merge([edge, finding("pulled V1", 0.9, "advice")])
    assert (one.state, one.certainty, one.also_in) == ("pulled V1", "likely", ())
    (alone,) = merge([edge, replace(edge, state="warm", excess=0.95)])
    assert (alone.state, alone.certainty, alone.also_in) == ("cold", "possible", ("warm",))
    may = replace(finding("warm", 1.1), certainty="possible")  # what may happen is no edge
    assert merge([may, finding("pulled V1", 1.3, "advice")])[0].level == "notice"


def test_other_places_are_other_findings() -> None:
    assert len(merge([finding("warm", 1), finding("warm", 1, at=("R2",))])) == 2
    assert len(merge([finding("warm", 1, at=("A", "B")), finding("cold", 1, at=("B", "A"))])) == 1


@given(st.lists(st.tuples(st.sampled_from("abc"), st.floats(1, 9), st.sampled_from(LEVELS))))
def test_merging_loses_no_state_and_no_gravity(cases: list[tuple[str, float, str]]) -> None:
    found = [finding(s, x, level) for s, x, level in cases]
    merged = merge(found)  # all of them "likely"
    assert len(merged) == bool(found)
    for one in merged:
        assert {one.state, *one.also_in} == {f.state for f in found}
        assert one.level == max((f.level for f in found), key=LEVELS.index)
        assert one.excess == max(f.excess for f in found if f.level == one.level)


def test_a_rule_that_raises_does_not_hide_the_others(review: Callable[[str], Review]) -> None:
    def describe(identifier: str) -> dict[str, str]:
        words = ("title", "level", "states", "needs", "criterion", "why", "source")
        return dict.fromkeys(words, "notice") | {"identifier": identifier}

    @rule(**describe("x.broken"))
    def broken(case: Case) -> list[Finding]:
        raise ZeroDivisionError("no ohms")

    @rule(**describe("x.sound"))
    def sound(case: Case) -> list[Finding]:
        return [sound.finding(case, ("R1",), "m", "r")]

    looked = review(HOT)
    assert looked.circuit is not None
    failed, found = run_rules(Case(looked.circuit, looked.solutions), [broken, sound])
    assert failed.rule == "x.broken"
    assert failed.reason == "the rule failed: ZeroDivisionError: no ohms"  # type: ignore[union-attr]
    assert failed.kind is Unjudged.RULE_FAILED  # type: ignore[union-attr]
    assert found.rule == "x.sound"


def test_a_failing_solver_is_said_and_structure_is_still_judged(
    monkeypatch: pytest.MonkeyPatch, review: Callable[[str], Review]
) -> None:
    def fail(circuit: object) -> None:
        raise RuntimeError("singular")

    monkeypatch.setattr(engine, "solve_states", fail)
    looked = review(HOT + "B1 --[R2 10k 10 W]-- NOWHERE\n")
    assert any("the solver failed: RuntimeError: singular" in n.reason for n in looked.not_judged)
    kinds = {n.kind for n in looked.not_judged}
    assert Unjudged.SOLVER_FAILED in kinds
    assert Unjudged.RULE_FAILED not in kinds
    assert [f.rule for f in looked.findings] == ["drawing.single-connection"]


def test_gravest_first_then_by_line(review: Callable[[str], Review]) -> None:
    looked = review(
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 9 ohm\nwinding w 6.3 V 1 A\n"
        "B1 --+[E1 250 V]-- gnd\nB1 --[R1 4k7 10 W]-- LOOSE\nT1.w.2 -- gnd\n"
        "line -- T1.pri.1\nneutral -- T1.pri.2\nT1.w.1 --[R2 10 ohm 1 W]-- gnd\n"
        "LOOSE2 --[R3 1k 1 W]-- gnd\n"
    )
    grades = [LEVELS.index(f.level) for f in looked.findings]
    assert grades == sorted(grades, reverse=True)
    notices = [f.span.line for f in looked.findings if f.level == "notice"]
    assert notices == sorted(notices)
    assert len(notices) >= 3


def test_fingerprints_survive_moved_lines_new_values_and_another_file_name() -> None:
    def marks(text: str, file: str) -> set[tuple[str, str]]:
        looked = review_drawing(parse_drawing(text, file), date(2026, 1, 1))
        return {(f.rule, f.fingerprint) for f in looked.findings}

    moved = "# a comment\n\n" + HOT.replace("4k7", "3k9")
    assert marks(HOT, "a.tube") == marks(moved, "deep/b.tube") != set()
    assert not marks(HOT, "a.tube") & marks(HOT.replace("R1", "R7"), "a.tube")


def test_fingerprints_know_a_part_from_another_of_the_same_name() -> None:
    def mark(kind: str) -> str:
        text = f"B1 --+[E1 100 V]-- gnd\nB1 --[R1 100k 1 W]-- gnd\nB1 --{kind}-- X\n"
        looked = review_drawing(parse_drawing(text, "a"), date(2026, 1, 1))
        (only,) = [f for f in looked.findings if f.rule == "drawing.single-connection"]
        return only.fingerprint

    assert len(mark("[R2 1k]")) == 16
    assert mark("[R2 1k]") == mark("[R2 2k]")


def test_unreadable_drawings_get_their_problems_and_nothing_else(
    review: Callable[[str], Review],
) -> None:
    looked = review(HOT + "B1 --[R2 10k-- gnd\nB1 --[R3 1O0k]-- gnd\n")
    assert not looked.readable
    assert looked.verdict() == "unreadable"
    assert [(f.rule, f.span.line) for f in looked.findings] == [
        ("drawing.syntax", 4),
        ("drawing.bad-value", 5),
    ]
    assert len({f.fingerprint for f in looked.findings}) == 2
    assert len(looked.not_judged) == 1
    assert not looked.solutions


def test_a_missing_file_is_unreadable(tmp_path: Path) -> None:
    looked = review_file(tmp_path / "none.tube")
    assert [f.rule for f in looked.findings] == ["drawing.unreadable-file"]
    assert looked.verdict() == "unreadable"


def test_a_waiver_marks_the_finding_and_the_verdict_passes(
    review: Callable[[str], Review],
) -> None:
    looked = review(HOT + 'accept resistor.over-power at R1 because "fan"\n')
    (found,) = looked.findings
    assert (found.rule, found.accepted) == ("resistor.over-power", "fan")
    assert looked.verdict() == "let through"


@pytest.mark.parametrize(
    ("until", "rules"),
    [
        ("2026-06-01", {"resistor.over-power"}),
        ("2026-05-31", {"resistor.over-power", "intent.accept-expired"}),
    ],
)
def test_a_waiver_holds_through_its_last_day(
    until: str, rules: set[str], review: Callable[[str], Review]
) -> None:
    looked = review(WARMISH + f'accept resistor.over-power at R1 because "ok" until {until}\n')
    assert {f.rule for f in looked.findings} == rules
    power = next(f for f in looked.findings if f.rule == "resistor.over-power")
    assert (power.accepted == "ok") is (until == "2026-06-01")


@pytest.mark.parametrize(
    "line", ["resistor.over-voltage at R1", "resistor.over-power at R2", "resistor.hot at R1"]
)
def test_a_waiver_of_another_rule_or_place_is_unmatched(
    line: str, review: Callable[[str], Review]
) -> None:
    looked = review(HOT + f'accept {line} because "x"\n')
    assert [f.accepted for f in looked.findings] == [None, None]
    unmatched = next(f for f in looked.findings if f.rule == "intent.accept-unmatched")
    assert (unmatched.level, unmatched.span.line) == ("notice", 4)


def test_a_place_may_be_any_name_of_the_same_point(review: Callable[[str], Review]) -> None:
    text = (
        "B1 --+[E1 100 V]-- gnd\nB1 --[R1 100k 1 W]-- gnd\nB1 --[R2 10k 1 W]-- X\nX -- Y\n"
        'accept drawing.single-connection at Y because "test point"\n'
    )
    looked = review(text)
    assert [(f.rule, f.accepted) for f in looked.findings] == [
        ("drawing.single-connection", "test point")
    ]
