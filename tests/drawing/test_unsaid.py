"""Parts the language has no word for are refused by name; none is read as something else."""

from __future__ import annotations

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import KIND_WORDS, LETTERS, WORDS, PartKind
from coldcheck.drawing.unsaid import _LETTERS, _WORDS


def test_no_word_of_the_language_is_among_them() -> None:
    assert not set(_WORDS) & ({*KIND_WORDS} | WORDS)
    assert not set(_LETTERS) & set(LETTERS)


@pytest.mark.parametrize("word", sorted(_WORDS))
def test_a_word_is_refused_whatever_its_value(word: str) -> None:
    for value in ("12 V", "250 ohm", "22n", "5 H"):
        _refused_by_name(f"A --+[X1 {word} {value}]-- B", f'"{word}"')


@pytest.mark.parametrize("mark", sorted(_LETTERS))
def test_letters_are_refused_whatever_the_value(mark: str) -> None:
    for value in ("12 V", "250 ohm", "22n", "5 H"):
        _refused_by_name(f"A --[{mark}1 {value}]-- B", f'"{mark}1"')


def _refused_by_name(line: str, name: str) -> None:
    drawing = parse_drawing(line)
    assert not drawing.statements
    (problem,) = drawing.problems
    assert problem.rule == "drawing.not-supported"
    assert problem.found.startswith(name)
    assert problem.hint


@pytest.mark.parametrize("mark", sorted(_LETTERS))
def test_a_word_of_the_language_decides_over_the_letters(mark: str) -> None:
    drawing = parse_drawing(f"A --[{mark}1 resistor 250 ohm]-- B")
    assert not drawing.problems


def test_volts_alone_make_no_source() -> None:
    drawing = parse_drawing("A --+[X1 45 V]-- B\nA --+[X2 source 45 V]-- B\nA --+[E1 45 V]-- B")
    assert [p.span.line for p in drawing.problems] == [1]
    kinds = [part.kind for wire in drawing.statements for part in wire.links]
    assert kinds == [PartKind.SOURCE, PartKind.SOURCE]


@pytest.mark.parametrize(
    ("bracket", "said"),
    [
        ("C9 32p crystal", 0),
        ("R5 5k relay", 0),
        ("R6 1k meter", 0),
        ("C7 365p variable", 0),
        ("VC1 365p ganged", 0),
        ("TC2 30p trimmer", 0),
        ("R9 10k variable", 1),
        ("X7 365p variable", 1),
        ("R8 10k rheostat", 1),
        ("X9 32p crystal", 1),
    ],
)
def test_beside_letters_that_say_what_is_drawn_it_is_a_note(bracket: str, said: int) -> None:
    assert len(parse_drawing(f"A --[{bracket}]-- B").problems) == said
