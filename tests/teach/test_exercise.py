"""Exercises are repeatable, have one right answer, and hide it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.settings.model import DEFAULTS
from coldcheck.teach.choices import Degree, Ground
from coldcheck.teach.exercise import CIRCUITS, Exercise, changed_lines
from coldcheck.teach.lesson import is_place, is_rule
from coldcheck.teach.making import exercises, exercises_of
from coldcheck.teach.neutral import TITLE, bare, neutral
from coldcheck.verdict.pairs import pairs_of
from coldcheck.verdict.registry import RULES

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"


@pytest.fixture(scope="module")
def some() -> list[Exercise]:
    return list(exercises(7, 4))


@pytest.fixture(scope="module")
def ground() -> Ground:
    text = bare(SAMPLE.read_text(encoding="utf-8"), promises=False)
    return Ground.of("harbour-light", text)


def lines(exercise: Exercise) -> tuple[str, ...]:
    return tuple(exercise.review.lines)


def test_the_same_seed_gives_the_same_exercises(some: list[Exercise]) -> None:
    again = list(exercises(7, 4))
    assert [(lines(e), e.choices) for e in again] == [(lines(e), e.choices) for e in some]
    assert [lines(e) for e in exercises(8, 2)] != [lines(e) for e in some[:2]]


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
        assert all(is_place(exercise, place.lower()) for place in exercise.spoilt)
        assert not is_place(exercise, "no-such-part")


def test_no_other_choice_is_right_as_well(some: list[Exercise]) -> None:
    """A rule that speaks in the drawing, before or after, is no wrong answer."""
    for exercise in some:
        said = {f.rule for r in (exercise.review, exercise.mended) for f in r.findings}
        assert not said & (set(exercise.choices) - {exercise.finding.rule})


def test_a_blank_line_is_never_the_right_place(some: list[Exercise]) -> None:
    for exercise in some:
        assert all(exercise.review.lines[n - 1].strip() for n in exercise.changed)


def test_nothing_shown_gives_the_answer_away(some: list[Exercise]) -> None:
    for exercise in some:
        shown = "\n".join(lines(exercise))
        assert "#" not in shown
        assert re.findall(r'drawing "(.*)"', shown) in (["Exercise"], [])


def test_a_family_and_a_source_can_be_asked_for() -> None:
    only = list(exercises(1, 3, ("pairs",), ("heater",)))
    assert {e.finding.rule.split(".")[0] for e in only} == {"heater"}
    assert len(only) == 3


# -- degrees ------------------------------------------------------------------------------


@pytest.mark.parametrize(("degree", "choices"), [(Degree.EASY, 3), (Degree.HARD, 6)])
def test_the_degree_says_how_many_answers_there_are(degree: Degree, choices: int) -> None:
    made = next(exercises(2, 1, degree=degree))
    assert len(set(made.choices)) == choices
    assert made.degree is degree


def test_an_easy_drill_has_small_drawings_and_a_hard_one_whole_sets() -> None:
    easy, hard = (next(exercises(2, 1, degree=d)) for d in (Degree.EASY, Degree.HARD))
    assert len(easy.review.lines) < len(hard.review.lines)


def test_wrong_answers_fit_the_drawing_where_enough_do(ground: Ground) -> None:
    for exercise in exercises_of(ground, 3, 3, (), Degree.HARD):
        assert set(exercise.choices) - {exercise.finding.rule} <= ground.fitting


# -- a drawing of one's own ---------------------------------------------------------------


def test_exercises_of_ones_own_drawing_are_planted_in_it(ground: Ground) -> None:
    made = list(exercises_of(ground, 5, 3, (), Degree.FAIR, DEFAULTS))
    assert len({lines(e) for e in made}) == 3
    for exercise in made:
        assert exercise.mended is ground.review
        assert exercise.finding.fingerprint not in {f.fingerprint for f in ground.review.findings}


def test_a_drawing_that_cannot_be_read_is_no_ground() -> None:
    with pytest.raises(ValueError, match="could not be read"):
        Ground.of("broken", "B1 --[R1\n")


# -- what is hidden -----------------------------------------------------------------------


def test_remarks_and_titles_go_and_signs_in_quotes_stay() -> None:
    waived = 'accept x at R1 because "lot #4"\n'
    text = f'# about\ndrawing "Reversed!"\nA --[R1 1k]-- B   # here\n\n\n{waived}'
    assert bare(text) == f"{TITLE}\nA --[R1 1k]-- B\n\n{waived}"
    assert bare("expect A = 1 V\nA -- B\n", promises=False) == "A -- B\n"
    assert "expect" in bare("expect A = 1 V\nA -- B\n")


def test_names_that_tell_are_replaced_alike_in_both() -> None:
    wrong = "FLOATING --[R1 1k]-- B1\nFLOATING --[C1 1 uF]-- gnd\n"
    right = wrong + "FLOATING --[R2 1k]-- gnd\n"
    assert neutral(wrong, right) == (
        "N1 --[R1 1k]-- B1\nN1 --[C1 1 uF]-- gnd\n",
        "N1 --[R1 1k]-- B1\nN1 --[C1 1 uF]-- gnd\nN1 --[R2 1k]-- gnd\n",
    )


@pytest.mark.parametrize("rule", ["tube.internal-pin", "mains.live-chassis", "grid.no-return"])
def test_a_neutral_drawing_is_the_same_circuit(rule: str) -> None:
    (pair, *_) = pairs_of(rule)
    for old, new in zip((pair.wrong, pair.right), neutral(pair.wrong, pair.right), strict=True):
        was, now = (build_circuit(parse_drawing(t, "a.tube")) for t in (old, new))
        assert now.branches.keys() == was.branches.keys()
        assert now.graph.number_of_nodes() == was.graph.number_of_nodes()
        assert sorted(d for _, d in now.graph.degree) == sorted(d for _, d in was.graph.degree)


# -- lines --------------------------------------------------------------------------------


def test_missing_lines_are_marked_by_their_neighbours() -> None:
    assert changed_lines(("a", "b"), ["a", "x", "b"]) == {1, 2}
    assert changed_lines(("a", "y", "b"), ["a", "x", "b"]) == {2}
    assert changed_lines(("a", "y", "b"), ["a", "b"]) == {2}


def test_of_blank_neighbours_the_nearest_written_lines_count() -> None:
    assert changed_lines(("a", "", "b"), ["a", "", "x", "b"]) == {1, 3}
    assert changed_lines(("a", "", "", "b"), ["a", "x", "", "", "b"]) == {1, 4}
    assert changed_lines(("a", "", "y", "b"), ["a", "b"]) == {3}


def test_blank_lines_at_the_end_are_no_change() -> None:
    assert changed_lines(("a", "y", ""), ["a", "x"]) == {2}


@given(
    st.lists(st.sampled_from(["a", "b", "c", ""]), min_size=1),
    st.lists(st.sampled_from(["a", "b", "c", ""])),
)
def test_what_counts_is_a_line_that_is_written(shown: list[str], clean: list[str]) -> None:
    if any(shown):
        found = changed_lines(shown, clean)
        assert found
        assert all(shown[n - 1] for n in found) or found == {1}


def test_every_family_of_rules_has_its_place() -> None:
    """The first hint names it."""
    assert set(CIRCUITS) == {rule.family for rule in RULES}
