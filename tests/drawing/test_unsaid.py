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
        ("C9 32p vactrol", 0),
        ("R5 5k relay", 0),
        ("R6 1k galvanometer", 0),
        ("C7 365p variable", 0),
        ("VC1 365p ganged", 0),
        ("TC2 30p trimmer", 0),
        ("R9 10k variable", 1),
        ("X7 365p variable", 1),
        ("R8 10k rheostat", 1),
        ("X9 32p vactrol", 1),
        ("Y1 32p", 1),
        ("LDR1 1M phototransistor", 0),
        ("D1 vactrol", 1),
        ("R5 100 ohm ballast", 0),
        ("C9 32p crystal", 0),
        ("BT1 ballast 55 V 0.3 A", 0),
        ("Y1 32p crystal", 1),
        ("R5 275 ohm thyrite", 1),
        ("R6 1M phototransistor", 1),
        ("C8 20p varactor", 0),
        ("L1 150 uH adjustable", 0),
        ("L2 150 uH variable", 0),
        ("L3 150 uH preset", 1),
        ("C1 100p N750", 0),
        ("C2 100p NP0 picture_IF", 0),
        ("R1 10k part-2", 0),
        ("C3 100n X9", 1),
        ("C4 100p V400", 1),
        ("F1 1 A slow2", 1),
        ("R2 10k l0k", 1),
        ("X8 12 ohm IF_2", 1),
    ],
)
def test_beside_letters_that_say_what_is_drawn_it_is_a_note(bracket: str, said: int) -> None:
    assert len(parse_drawing(f"A --[{bracket}]-- B").problems) == said


@pytest.mark.parametrize("value", ["12 V", "250 ohm", "22n", "5 H", "?"])
def test_a_strange_word_beside_strange_letters_may_name_the_part(value: str) -> None:
    for bracket in (f"X1 howler {value}", f"X1 {value} howler"):
        drawing = parse_drawing(f"A --[{bracket}]-- B")
        assert not drawing.statements
        assert drawing.problems
    (named,) = parse_drawing("A --[X1 howler 250 ohm]-- B").problems
    assert (named.rule, named.hint) == (
        "drawing.not-supported", "where it is a resistor, say so: [X1 resistor ...]")  # fmt: skip


@pytest.mark.parametrize("bracket", ["X1 250 ohm", "X1 250 ohm film", "R1 250 ohm howler"])
def test_what_is_said_well_is_none(bracket: str) -> None:
    assert not parse_drawing(f"A --[{bracket}]-- B").problems


@pytest.mark.parametrize("bracket", ["D1 diac 32 V", "CR1 scr 400 V", "D2 tvs 400 V", "D3 bridge"])
def test_what_blocks_otherwise_is_no_diode(bracket: str) -> None:
    (problem,) = parse_drawing(f"A --[{bracket}]-> B").problems
    assert problem.rule == "drawing.not-supported"


@pytest.mark.parametrize("line", ["tube Q1 BC547", "tube V1 2N3055", "tube V1 1N34A"])
def test_a_semiconductor_is_no_tube(line: str) -> None:
    (problem,) = parse_drawing(line).problems
    assert problem.rule == "drawing.not-supported"


def test_types_of_one_figure_behind_the_letter_are_tubes() -> None:
    assert not parse_drawing("tube V1 1N5GT\ntube V2 6N7").problems  # RETMA, not JEDEC


def test_a_statement_of_a_two_lead_part_is_led_to_the_wire() -> None:
    (problem,) = parse_drawing("choke L1 8 H").problems
    assert problem.hint.startswith("a part with two leads stands on a wire")
