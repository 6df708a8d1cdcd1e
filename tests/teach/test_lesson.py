"""The dialogue of a drill: tries, hints, points, leaving early."""

from __future__ import annotations

from io import StringIO
from typing import TYPE_CHECKING

import pytest
from rich.console import Console

from coldcheck.teach.choices import Degree
from coldcheck.teach.lesson import Lesson, Score, Task, score_line
from coldcheck.teach.making import exercises
from coldcheck.teach.puzzle import Puzzle, puzzles

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.teach.exercise import Exercise


@pytest.fixture(scope="module")
def exercise() -> Exercise:
    return next(exercises(3, 1, ("pairs",), ("heater",)))


def played(exercises: Iterable[Task], *answers: str) -> tuple[Score, str]:
    given, console = iter(answers), Console(file=StringIO(), width=80, color_system=None)
    score = Lesson(console, lambda question: next(given, None)).run(exercises)
    return score, console.file.getvalue()  # type: ignore[attr-defined]


def right(exercise: Exercise) -> tuple[str, str]:
    return str(min(exercise.changed)), exercise.finding.rule


def test_all_right_at_once_gives_all_points(exercise: Exercise) -> None:
    score, said = played([exercise], *right(exercise))
    assert (score.points, score.of, score.whole) == (6, 6, 1)
    assert exercise.finding.message[:20] in said
    assert "6 of 6 points in 1 exercise; 1 without a hint or a wrong answer." in said


def test_hints_and_wrong_answers_cost_a_point_each(exercise: Exercise) -> None:
    where, what = right(exercise)
    score, said = played([exercise], "hint", "Z99", where, what)
    assert score.points == 1 + 3
    assert exercise.hints[0].split(".")[0] in said


def test_three_wrong_answers_are_enough(exercise: Exercise) -> None:
    score, said = played([exercise], "Z1", "Z2", "Z3", "7", "8", "9")
    assert (score.points, score.asked) == (0, 1)
    assert "The answer:" in said


def test_show_gives_the_answer_and_no_points(exercise: Exercise) -> None:
    assert played([exercise], "show", "show")[0].points == 0


def test_quitting_and_the_end_of_input_end_it_with_a_score(exercise: Exercise) -> None:
    for answers in (("quit",), ()):
        score, said = played([exercise, exercise], *answers)
        assert score.asked == 0
        assert "No exercise was finished." in said


def test_hints_run_out_politely(exercise: Exercise) -> None:
    _, said = played([exercise], "hint", "hint", "hint", "hint", "show", "show")
    assert "There are no more hints." in said


def test_the_score_in_words() -> None:
    assert score_line(Score(7, 12, 1, 2)) == (
        "7 of 12 points in 2 exercises; 1 without a hint or a wrong answer."
    )


def test_an_empty_line_is_no_answer_and_costs_nothing(exercise: Exercise) -> None:
    where, what = right(exercise)
    assert played([exercise], "", "  ", where, "", what)[0].points == 6


def test_an_easy_drill_gives_the_first_hint_away() -> None:
    easy = next(exercises(3, 1, ("pairs",), ("heater",), Degree.EASY))
    score, said = played([easy], "hint", *right(easy))
    assert easy.hints[0] in " ".join(said.split())
    assert "Look at lines" in said
    assert score.points == 5


@pytest.fixture(scope="module")
def puzzle() -> Puzzle:
    return next(puzzles(3, 1, Degree.FAIR))


def test_a_puzzle_shows_readings_and_takes_the_fault(puzzle: Puzzle) -> None:
    score, said = played([puzzle], "", str(puzzle.answer))
    assert (score.points, score.of, score.whole) == (3, 3, 1)
    assert all(reading.point in said for reading in puzzle.readings)
    assert f"The answer: {puzzle.fault.name}." in said


def test_a_puzzle_has_hints_and_wrong_answers(puzzle: Puzzle) -> None:
    wrong = str(puzzle.answer % 4 + 1)
    score, said = played([puzzle], "hint", wrong, str(puzzle.answer))
    assert score.points == 1
    assert puzzle.hints[0] in said
