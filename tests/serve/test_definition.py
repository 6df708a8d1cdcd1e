"""Where a name is declared, and every place it stands at."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.serve.texts import SAMPLES, STAGE, read_of, word_in

from coldcheck.serve.definition import definition, occurrences
from coldcheck.serve.reading import Read, Text, read_text
from coldcheck.serve.words import words_of

TEXT = (
    STAGE
    + """\
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 2 A
type MINE like 6V6GT
tube V2 MINE heater T1.warm
T1.warm.ct -- gnd
V2:8 -- B1
expect dissipation R1 below 1 W
"""
)


@pytest.mark.parametrize(
    ("name", "nth", "place"),
    [
        ("B1", 1, (2, 1)),
        ("OUT", 0, (3, 53)),
        ("V1A.plate", 0, (4, 6)),
        ("V1A.grid", 0, (4, 6)),
        ("V2:8", 0, (13, 6)),
        ("T1.warm", 0, (11, 13)),
        ("T1.warm.ct", 0, (11, 13)),
        ("MINE", 1, (12, 6)),
        ("R1", 1, (3, 7)),
        ("gnd", 3, (2, 20)),
    ],
)
def test_a_name_goes_to_its_declaration_a_point_to_its_first_mention(
    name: str, nth: int, place: tuple[int, int]
) -> None:
    found = definition(read_of(TEXT), word_in(TEXT, name, nth))
    assert found is not None
    assert (found.line, found.column) == place


@pytest.mark.parametrize("name", ["12AX7", "tube"])
def test_what_is_in_no_drawing_has_no_place(name: str) -> None:
    assert definition(read_of(TEXT), word_in(TEXT, name)) is None


def test_every_mention_is_found_whatever_it_is_there() -> None:
    read = read_of(TEXT)
    places = [(s.line, s.column) for s in occurrences(read, word_in(TEXT, "R1"))]
    assert places == [(3, 7), (16, 20)]
    assert len(list(occurrences(read, word_in(TEXT, "B1")))) == 3


def quay() -> Read:
    file = SAMPLES / "twin-quay.tube"
    text = file.read_text(encoding="utf-8")
    return read_text(Text(file.as_uri(), str(file), True, text, 1, 1), lambda path: None)


@pytest.mark.parametrize(
    ("name", "line"),
    [("sheets/quay-channel.tube", 1), ("L", 1)],
)
def test_a_sheet_goes_to_its_file(name: str, line: int) -> None:
    read = quay()
    word = next(w for w in words_of(read.page.lines) if w.text == name)
    found = definition(read, word)
    assert found is not None
    assert Path(found.file).name == "quay-channel.tube"
    assert found.line == line


def test_a_joined_point_and_what_is_inside_go_to_the_sheets_lines() -> None:
    read = quay()
    inner = next(w for w in words_of(read.page.lines) if w.role == "inner" and w.text == "IN")
    found = definition(read, inner)
    assert found is not None
    lines = next(iter(read.drawing.sheets.values()))
    assert lines[found.line - 1][found.column - 1 : found.end_column - 1] == "IN"
    (deep,) = words_of(["expect L/V1.cathode = 12 V"])[1:]
    place = definition(read, deep)
    assert place is not None
    assert lines[place.line - 1].startswith("tube V1")
