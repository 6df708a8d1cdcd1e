"""Exercises are repeatable, have one right answer, and hide it."""

from __future__ import annotations

import pytest

from coldcheck.teach.exercise import Exercise, changed_lines, exercises
from coldcheck.teach.lesson import is_place, is_rule


@pytest.fixture(scope="module")
def some() -> list[Exercise]:
    return list(exercises(7, 6))


def test_the_same_seed_gives_the_same_exercises(some: list[Exercise]) -> None:
    again = list(exercises(7, 6))
    assert [(e.lines, e.choices) for e in again] == [(e.lines, e.choices) for e in some]
    assert [e.lines for e in exercises(8, 2)] != [e.lines for e in some[:2]]


def test_each_has_its_finding_at_its_place_among_the_choices(some: list[Exercise]) -> None:
    for exercise in some:
        assert exercise.finding in exercise.review.findings
        assert exercise.choices.count(exercise.finding.rule) == 1
        assert len(set(exercise.choices)) == 4
        assert is_rule(exercise, exercise.finding.rule)
        assert is_rule(exercise, str(exercise.choices.index(exercise.finding.rule) + 1))
        assert not is_rule(exercise, "9")
        assert all(is_place(exercise, str(n)) for n in exercise.changed)
        assert all(is_place(exercise, place.lower()) for place in exercise.finding.at)
        assert not is_place(exercise, "no-such-part")


def test_nothing_shown_gives_the_answer_away(some: list[Exercise]) -> None:
    for exercise in some:
        shown = "\n".join(exercise.lines)
        assert "mended" not in shown
        assert "expect " not in shown


def test_a_family_and_a_source_can_be_asked_for() -> None:
    only = list(exercises(1, 3, ("pairs",), ("heater",)))
    assert {e.finding.rule.split(".")[0] for e in only} == {"heater"}
    assert len(only) == 3


def test_missing_lines_are_marked_by_their_neighbours() -> None:
    assert changed_lines(("a", "b"), ["a", "x", "b"]) == {1, 2}
    assert changed_lines(("a", "y", "b"), ["a", "x", "b"]) == {2}
    assert changed_lines(("a", "y", "b"), ["a", "b"]) == {2}
