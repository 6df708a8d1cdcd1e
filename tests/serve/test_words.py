"""The names of a text are those the reader finds, and half a line has names too."""

from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import pytest
from tests.serve.texts import SAMPLES, STAGE

from coldcheck import serve
from coldcheck.drawing import model
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.statements import EXPECTED_IN
from coldcheck.serve import words
from coldcheck.serve.words import part_around, word_at, words_of

GRAMMAR = files("coldcheck.grammar").joinpath("netlist.lark").read_text(encoding="utf-8")
TEXTS = [
    *SAMPLES.glob("*.tube"),
    *SAMPLES.glob("sheets/*.tube"),
    *sorted(SAMPLES.glob("mistakes/**/*.tube"))[::8],
    *(SAMPLES.parent / "grammar" / "examples" / "accepted").rglob("*.tube"),
]


def read_by_the_reader(drawing: model.Drawing) -> set[tuple[int, int, str, str]]:
    """(line, column, text, role) of every point, part and type with a place."""
    found: set[tuple[int, int, str, str]] = set()

    def add(points: object, role: str = words.POINT) -> None:
        for point in points:  # type: ignore[attr-defined]
            if point is not None:
                name = getattr(point, "text", None) or point.name
                found.add((point.span.line, point.span.column, name, role))

    for line in drawing.statements:
        match line:
            case model.Chain():
                add(line.points)
                add(line.links, words.PART)
            case model.TubeLine():
                add([line.heater])
                found.add((line.type_span.line, line.type_span.column, line.type, words.TYPE))
            case model.Expect():
                add([line.point, line.other])
            case model.SheetLine():
                add([here for _, here in line.joints])
            case _:
                pass
    return found


def test_names_and_places_are_the_readers() -> None:
    looked_at = 0
    for path in TEXTS:
        drawing = parse_drawing(path.read_text(encoding="utf-8", errors="replace"))
        if drawing.problems:
            continue
        found = {(w.line, w.column, w.text, w.role) for w in words_of(drawing.lines)}
        assert read_by_the_reader(drawing) <= found, path
        mine = {f for f in found if f[3] in (words.PART, words.POINT)}
        elsewhere = ("accept", "signal")  # those have names without a place of their own
        extra = {f for f in mine - read_by_the_reader(drawing)
                 if not drawing.lines[f[0] - 1].lstrip().startswith(elsewhere)}  # fmt: skip
        assert not extra, path
        looked_at += 1
    assert looked_at > 45


def test_points_are_written_as_the_grammar_has_them() -> None:
    (pattern,) = re.findall(r"^POINT: /(.*)/$", GRAMMAR, re.MULTILINE)
    assert pattern == words.POINT_PATTERN


def test_the_measures_are_the_languages() -> None:
    assert {*words.MEASURES, "voltage"} == set(EXPECTED_IN)


def test_comments_and_texts_in_quotes_have_no_names() -> None:
    line = 'accept tube.idle-dissipation at V2 because "B1 runs # hot" # as B2 does'
    assert [(w.text, w.role) for w in words_of([line])] == [
        ("accept", words.KEYWORD), ("tube.idle-dissipation", words.RULE), ("V2", words.POINT),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("B1 --[R", ["B1", "R"]),
        ("tube V1", ["tube", "V1"]),
        ("tube", ["tube"]),
        ("V1A.", ["V1A"]),
        ("expect ", ["expect"]),
        ('sheet "x.tube', ["sheet", "x.tube"]),
        ("-- --[", []),
        ("", []),
    ],
)
def test_half_a_line_has_the_names_that_are_there(line: str, names: list[str]) -> None:
    assert [w.text for w in words_of([line])] == names


def test_a_winding_is_called_by_its_transformer() -> None:
    found = words_of(["transformer T1", "  winding ht 250 V 70 mA", "transformer T2", "winding x"])
    assert [w.full for w in found if w.role == words.WINDING] == ["T1.ht", "T2.x"]


def test_of_a_joint_with_one_name_it_is_a_point_here_with_two_the_first_is_the_sheets() -> None:
    found = words_of(['sheet "c.tube" as L joining B1, IN = IN_L'])
    assert [(w.text, w.role) for w in found[2:]] == [
        ("L", words.SHEET), ("B1", words.POINT), ("IN", words.INNER), ("IN_L", words.POINT),
    ]  # fmt: skip


def test_the_name_at_a_place_also_at_its_end() -> None:
    known = words_of(STAGE.splitlines())
    assert [getattr(word_at(known, 2, column), "text", "") for column in (1, 2, 3, 4)] == [
        "B1", "B1", "B1", "",
    ]  # fmt: skip


def test_anywhere_in_a_bracket_it_is_the_part() -> None:
    line = "B1 --[R1 100k 0.5 W]-- A --[C1 22n]-- gnd # [R9]"
    known = words_of([line])
    found = [part_around(known, line, 1, column) for column in range(1, len(line) + 2)]
    names = [word.text if word else "" for word in found]
    assert {names[n] for n in range(5, 20)} == {"R1"}
    assert {names[n] for n in range(27, 35)} == {"C1"}
    assert set(names) == {"", "R1", "C1"}
    assert names[0] == names[22] == names[-1] == ""


def test_nothing_but_the_command_imports_the_service() -> None:
    root = Path(serve.__file__).parents[1]
    users = {
        path.relative_to(root).as_posix()
        for path in root.rglob("*.py")
        if "coldcheck.serve" in path.read_text(encoding="utf-8") and path.parent.name != "serve"
    }
    assert users == {"cli/serve.py"}
