"""What is marked, how gravely, and in which words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.serve.texts import STAGE, known_of, read_of

from coldcheck.drawing.model import Problem, Span
from coldcheck.judge.finding import LEVELS, POSSIBLE, NotJudged, Unjudged
from coldcheck.serve import marks
from coldcheck.serve.marks import Mark, marks_of
from coldcheck.verdict.ruling import Gate

REVIEW = known_of(STAGE).review
FOUND = REVIEW.findings[0]


def one(**changes: object) -> tuple[Mark, ...]:
    """The marks of a review with one finding like the first, but for these changes."""
    gate = str(changes.pop("gate", "advice"))
    finding = replace(FOUND, **changes)  # type: ignore[arg-type]
    return marks_of(replace(REVIEW, findings=(finding,), gate=Gate(gate)))


@pytest.mark.parametrize(
    ("level", "severity"),
    [
        ("danger", marks.ERROR),
        ("warning", marks.ERROR),
        ("caution", marks.WARNING),
        ("notice", marks.INFORMATION),
        ("advice", marks.HINT),
    ],
)
def test_the_signal_word_decides_and_is_told(level: str, severity: int) -> None:
    (mark,) = one(level=level)
    assert mark.severity == severity
    assert mark.message.startswith(f"{level.upper()}: ")


def test_every_level_has_a_severity() -> None:
    assert set(marks.SEVERITIES) == set(LEVELS)


def test_what_is_only_possible_or_below_the_gate_is_a_hint() -> None:
    (possible,) = one(level="danger", certainty=POSSIBLE)
    assert (possible.severity, "possibly: " in possible.message) == (marks.HINT, True)
    (milder,) = one(level="notice", gate="caution")
    assert milder.severity == marks.HINT


def test_the_message_has_the_state_and_the_remedy() -> None:
    (mark,) = one(message="9 V at C1", state="cold", remedy="Use another", at=("C1",))
    assert mark.message.endswith(": 9 V at C1 (state: cold). Use another.")


def test_what_the_drawing_accepts_is_no_mark() -> None:
    assert one(accepted="as it should be") == ()


def test_control_characters_of_a_drawing_do_not_reach_the_editor() -> None:
    (mark,) = one(message="a\x1b[31m\nb", at=())
    assert "\x1b" not in mark.message
    assert "\n" not in mark.message


def test_further_places_are_told_where_they_stand() -> None:
    (mark,) = one(at=("R1", "R2"), span=REVIEW.circuit.span("R1"))  # type: ignore[union-attr]
    assert [(span.line, text) for span, text in mark.others] == [(5, "R2: the same finding")]


def test_the_page_of_the_rule_is_linked() -> None:
    (mark,) = one(rule="heater.no-reference")
    assert mark.href.endswith("/mistakes/README.md#heaterno-reference")
    (foreign,) = one(rule="drawing.nothing-found")
    assert foreign.href == ""


def test_a_rule_that_broke_down_is_said() -> None:
    broken = NotJudged("supply.no-bleeder", (), "ValueError: no", Unjudged.RULE_FAILED)
    quiet = NotJudged("supply.no-bleeder", (), "the rule failed: only in words")
    found = marks_of(replace(REVIEW, findings=(), not_judged=(broken, quiet)))
    assert [(m.code, m.severity) for m in found] == [(marks.FAILED, marks.WARNING)]


@pytest.mark.parametrize("holds", [True, False])
def test_what_leaves_a_drawing_undecided_is_said_where_that_holds_it(holds: bool) -> None:
    lost = NotJudged("review", ("V1",), "nothing feeds it", Unjudged.NOT_FED)
    gate = Gate("notice", holds)
    found = marks_of(replace(REVIEW, findings=(), not_judged=(lost,), gate=gate))
    assert [(m.code, m.severity) for m in found] == [(marks.UNDECIDED, marks.WARNING)] * holds


def test_what_was_found_before_goes_where_its_line_went() -> None:
    lines = STAGE.splitlines()
    known = known_of(STAGE)
    second = {m.span.line for m in marks_of(known.review)}
    assert second
    moved = read_of("\n".join(["# one", "# two", *lines]))
    assert {m.span.line for m in marks.kept(known, moved)} == {line + 2 for line in second}
    gone = read_of("\n".join(lines[:1]))
    assert {m.span.line for m in marks.kept(known, gone)} == {1}
    nothing = read_of("")
    assert {m.span.line for m in marks.kept(known, nothing)} == {1}


def test_where_the_trouble_is_not_in_the_drawing_that_is_said() -> None:
    known = known_of(STAGE)
    for settings, sheet, words in (
        (None, "", "the settings"),
        (known.read.settings, "s.tube", "a sheet"),
    ):
        problem = Problem(Span(sheet, 3, 1, 2), "drawing.syntax", "x", "y")
        drawing = replace(known.read.drawing, problems=(problem,) if sheet else ())
        read = replace(known.read, drawing=drawing, settings=settings)
        assert read.trouble == words
        for mark in marks.kept(known, read):
            assert mark.message.startswith(f"Before the error in {words}: ")
    assert known.read.trouble == ""
