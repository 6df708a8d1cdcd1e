"""Sheets in the place of their lines: names, joints, bounds, and what a hostile drawing may not."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.drawing.model import (
    Accept,
    Chain,
    Drawing,
    Expect,
    Mains,
    OutputLine,
    PotLine,
    SheetLine,
    SignalLine,
    SwitchLine,
    Title,
    TransformerLine,
    TubeLine,
    TypeLine,
    WindingLine,
)
from coldcheck.drawing.reader import with_sheets
from coldcheck.drawing.sheet_files import SheetRefused, located, project_root
from coldcheck.drawing.sheets import MAX_DEPTH, MAX_INSTANCES

if TYPE_CHECKING:
    from collections.abc import Callable

DIVIDER = "TOP --[R1 10k]-- MIDDLE --[R2 10k]-- gnd\n"
USE = 'A --[R1 1k]-- B\nsheet "{}" as L joining TOP = A, MIDDLE = B\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A project's folder, with a file beside it that is not the project's."""
    (tmp_path / "secret.tube").write_text(DIVIDER)
    root = tmp_path / "project"
    (root / "sheets").mkdir(parents=True)
    (root / "coldcheck.toml").touch()
    (root / "sheets" / "divider.tube").write_text(DIVIDER)
    return root


def reader(folder: Path) -> Callable[..., Drawing]:
    def read(top: str, **sheets: str) -> Drawing:
        for name, text in sheets.items():
            (folder / f"{name}.tube").write_text(text)
        (folder / "top.tube").write_text(top)
        return read_drawing(folder / "top.tube")

    return read


@pytest.fixture
def read(folder: Path) -> Callable[..., Drawing]:
    return reader(folder)


def said(drawing: Drawing) -> list[tuple[str, int, str]]:
    return [(p.rule, p.span.line, p.found) for p in drawing.problems]


def chains(drawing: Drawing) -> list[str]:
    found = []
    for s in drawing.statements:
        if isinstance(s, Chain):
            points = [p.text if p else "" for p in s.points]
            parts = [f"[{link.name}]" if link else "--" for link in s.links]
            found.append("".join(a + b for a, b in zip(points, [*parts, ""], strict=True)))
    return found


def test_a_sheet_stands_in_the_place_of_its_line(
    read: Callable[..., Drawing], folder: Path
) -> None:
    got = read(f"{USE.format('sheets/divider.tube')}B -- C\n")
    assert got.problems == ()
    assert chains(got) == [
        "A[R1]B", "A--L/TOP", "B--L/MIDDLE", "L/TOP[L/R1]L/MIDDLE[L/R2]gnd", "B--C",
    ]  # fmt: skip
    inside = str(folder / "sheets" / "divider.tube")
    assert got.files == (str(folder / "top.tube"), inside)
    inner = [s for s in got.statements if s.span.file == inside]
    assert [(s.span.line, s.span.column) for s in inner] == [(1, 1)]
    assert got.line(inner[0].span) == DIVIDER.strip()


def test_names_of_files_are_as_the_drawing_is_named(
    folder: Path, read: Callable[..., Drawing], monkeypatch: pytest.MonkeyPatch
) -> None:
    read(USE.format("sheets/divider.tube"))
    monkeypatch.chdir(folder.parent)
    got = read_drawing("project/top.tube")
    assert got.files == ("project/top.tube", os.path.normpath("project/sheets/divider.tube"))


def test_every_kind_of_statement_gets_the_name_of_the_instance(
    read: Callable[..., Drawing],
) -> None:
    got = read(
        'mains 120 V 60 Hz tolerance 10 %\nsheet "inner.tube" as L\n',
        inner=(
            'drawing "inner"\nmains 120 V 60 Hz\ntransformer T1\n    winding warm 6.3 V 1 A\n'
            "type MINE like 6V6GT\n    rating plate-voltage 400 V\ntype 6V6GT like 6V6GT\n"
            "tube V1 MINE heater T1.warm\ntube V2 6SN7GT\noutput T2 5k : 8 ohm\npot P1 1M\n"
            "switch S1 spst\nP1.wiper --[S2 switch]-- V1:5 --[V2 heater]-- earth\n"
            "signal IN 1 V\nexpect V1.k - IN below 4 V in pulled V2\n"
            'expect drain B below 3 s in "off, S2 thrown"\nB -- gnd\n'
            'accept grid.no-return at V1.grid because "x"\n'
            'accept mains.no-earth at gnd because "x"\n'
        ),
    )
    assert got.problems == ()
    assert not [s for s in got.statements if isinstance(s, Title | SheetLine)]
    kinds = (TransformerLine, WindingLine, TypeLine, TubeLine, OutputLine, PotLine, SwitchLine,
             SignalLine)  # fmt: skip
    assert [s.name for s in got.statements if isinstance(s, kinds)] == [
        "L/T1", "warm", "L/MINE", "L/6V6GT", "L/V1", "L/V2", "L/T2", "L/P1", "L/S1", "L/IN",
    ]  # fmt: skip
    assert [s.like for s in got.statements if isinstance(s, TypeLine)] == ["L/6V6GT", "6V6GT"]
    one, two = (s for s in got.statements if isinstance(s, TubeLine))
    assert (one.type, two.type) == ("L/MINE", "6SN7GT")
    assert one.heater is not None
    assert one.heater.text == "L/T1.warm"
    assert chains(got)[0] == "L/P1.wiper[L/S2]L/V1:5[L/V2]earth"
    first, second = (s for s in got.statements if isinstance(s, Expect))
    assert (first.what, first.state) == ("L/V1.k - L/IN", "pulled L/V2")
    assert (second.what, second.state) == ("drain L/B", "off, L/S2 thrown")
    assert [s.place for s in got.statements if isinstance(s, Accept)] == ["L/V1.grid", "gnd"]
    assert len([s for s in got.statements if isinstance(s, Mains)]) == 1


def test_a_type_like_another_of_the_same_sheet(read: Callable[..., Drawing]) -> None:
    got = read('sheet "a.tube" as L\n', a="type ONE like 6V6GT\ntype TWO like ONE\n")
    assert [(s.name, s.like) for s in got.statements if isinstance(s, TypeLine)] == [
        ("L/ONE", "6V6GT"), ("L/TWO", "L/ONE"),
    ]  # fmt: skip


def test_a_signal_at_a_joined_point_is_left_to_the_drawing(read: Callable[..., Drawing]) -> None:
    inner = "IN --[R1 1k]-- gnd\nsignal IN 1 V\nsignal AUX 1 V\nAUX -- IN\n"
    got = read('X --[R1 1k]-- gnd\nsheet "a.tube" as L joining IN = X\n', a=inner)
    assert [s.name for s in got.statements if isinstance(s, SignalLine)] == ["L/AUX"]


def test_sheets_in_sheets(read: Callable[..., Drawing], folder: Path) -> None:
    got = read(
        'IN --[R1 1k]-- OUT\nsheet "a.tube" as L joining P = IN, Q = OUT\n',
        a='sheet "sheets/b.tube" as M joining P, S = Q\nP --[R1 1k]-- gnd\n',
        **{"sheets/b": 'P --[R1 1k]-- S\nsheet "divider.tube" as N joining TOP = P\n'},
    )
    assert got.problems == ()
    assert "L/M/P--L/M/N/TOP" in chains(got)
    assert "L/Q--L/M/S" in chains(got)
    assert "L/M/N/TOP[L/M/N/R1]L/M/N/MIDDLE[L/M/N/R2]gnd" in chains(got)
    assert [Path(f).name for f in got.files] == ["top.tube", "a.tube", "b.tube", "divider.tube"]
    assert len(got.files) == 4


# -- joints --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("joints", "rule", "found", "hint"),
    [
        ("TOPP = A", "drawing.unknown-name", "TOPP", "did you mean TOP?"),
        ("TOP = AA", "drawing.unknown-name", "AA", "did you mean A?"),
        ("TOP", "drawing.unknown-name", "TOP", ""),
        ("TOP = A, TOP = B", "drawing.name-used-twice", "TOP a second time", ""),
        ("gnd = A", "drawing.syntax", "gnd = A", "gnd is the same point in every sheet"),
    ],
)
def test_wrong_joints(
    joints: str, rule: str, found: str, hint: str, read: Callable[..., Drawing], folder: Path
) -> None:
    got = read(f'A --[R1 1k]-- B\nsheet "sheets/divider.tube" as L joining {joints}\n')
    (problem,) = got.problems
    assert (problem.rule, problem.found, problem.hint) == (rule, found, hint)
    assert (problem.span.file, problem.span.line) == (str(folder / "top.tube"), 2)
    assert problem.source_line.startswith("sheet ")


def test_joints_that_are_right(read: Callable[..., Drawing]) -> None:
    assert read(
        'A --[R1 1k]-- B\nsheet "sheets/divider.tube" as L joining TOP = A, MIDDLE = X, gnd\n'
        'sheet "sheets/divider.tube" as M joining TOP = X, MIDDLE = gnd\n'
    ).problems == ()  # fmt: skip


# -- what is wrong in the file -------------------------------------------------------------


def test_a_slip_in_a_sheet_is_said_once_with_its_own_place(
    read: Callable[..., Drawing], folder: Path
) -> None:
    got = read(
        'A -- B\nsheet "a.tube" as L joining X = A\nsheet "a.tube" as M joining X = B\n',
        a="X -- Y\nY --[R1 10l]-- gnd\n",
    )
    (problem,) = got.problems
    assert (problem.span.file, problem.span.line) == (str(folder / "a.tube"), 2)
    assert problem.source_line == "Y --[R1 10l]-- gnd"


def test_mains_of_a_sheet(read: Callable[..., Drawing], folder: Path) -> None:
    def wrong(top: str, inner: str) -> list[tuple[str, str, str]]:
        got = read(f'{top}sheet "a.tube" as L\nsheet "a.tube" as M\n', a=f"{inner}A -- gnd\n")
        assert {p.span.file for p in got.problems} <= {str(folder / "a.tube")}
        return [(p.rule, p.found, p.expected) for p in got.problems]

    here, there = "mains 120 V 60 Hz\n", "mains 230 V 50 Hz\n"
    assert wrong(here, here) == []
    assert wrong(here, "") == []
    assert wrong("", here) == [
        ("drawing.syntax", "mains in a sheet only", "mains in the drawing that is reviewed")
    ]
    assert wrong(here, there) == [
        ("drawing.name-used-twice", "a sheet for other mains, 230 V 50 Hz",
         "those of the drawing, 120 V 60 Hz")
    ]  # fmt: skip


# -- hostile drawings ----------------------------------------------------------------------


def refused(drawing: Drawing) -> tuple[str, str, str]:
    """The one problem, at the one sheet line; nothing of any other file is in the drawing."""
    (problem,) = drawing.problems
    assert problem.span.line == 2
    assert problem.rule == "drawing.sheet-not-read"
    assert [lines for lines in drawing.sheets.values() if lines] == []
    return problem.found, problem.expected, problem.hint


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("/etc/passwd.tube", "a path that starts at this drawing's folder"),
        ("~/x.tube", "a path that starts at this drawing's folder"),
        ("C:/x.tube", "a path that starts at this drawing's folder"),
        ("\\\\\\\\host\\\\x.tube", "a path that starts at this drawing's folder"),
        ("sheets\\\\divider.tube", "folders parted by /"),
        ("../secret.tube", "a file inside the project"),
        ("sheets/../../secret.tube", "a file inside the project"),
        ("coldcheck.toml", "a drawing, whose name ends in .tube"),
        (".git/config", "a drawing, whose name ends in .tube"),
        ("no-such.tube", "a file that can be read"),
        ("sheets.tube", "a file that can be read"),
    ],
)
def test_paths_that_are_not_followed(
    path: str, expected: str, read: Callable[..., Drawing]
) -> None:
    path = path.replace("\\\\", "\\")
    found = refused(read(USE.format(path)))
    assert found[1] == expected


def test_a_sheet_that_is_missing_is_among_the_files(
    read: Callable[..., Drawing], folder: Path
) -> None:
    """Whoever keeps the outcome has to look again when it appears."""
    assert read(USE.format("gone.tube")).files == (
        str(folder / "top.tube"), str(folder / "gone.tube"),
    )  # fmt: skip


def test_a_folder_is_no_sheet(read: Callable[..., Drawing], folder: Path) -> None:
    (folder / "x.tube").mkdir()
    assert refused(read(USE.format("x.tube")))[0].startswith("x.tube: ")


def link(place: Path, target: Path) -> None:
    try:
        place.symlink_to(target)
    except OSError:
        pytest.skip("no symbolic links here")


def test_links_are_followed_before_it_is_decided(
    read: Callable[..., Drawing], folder: Path
) -> None:
    link(folder / "away.tube", folder.parent / "secret.tube")
    assert refused(read(USE.format("away.tube")))[1] == "a file inside the project"
    link(folder / "out", folder.parent)
    assert refused(read(USE.format("out/secret.tube")))[1] == "a file inside the project"
    link(folder / "config.tube", folder / "coldcheck.toml")
    assert refused(read(USE.format("config.tube")))[1] == "a drawing, not a link to something else"
    link(folder / "round.tube", folder / "round.tube")
    assert refused(read(USE.format("round.tube")))[1] == "a path that leads to a file"
    link(folder / "near.tube", folder / "sheets" / "divider.tube")
    assert read(USE.format("near.tube")).problems == ()


def test_a_pipe_does_not_hold_the_review_up(read: Callable[..., Drawing], folder: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("no pipes here")
    os.mkfifo(folder / "pipe.tube")
    found = refused(read(USE.format("pipe.tube")))
    assert found[:2] == ("pipe.tube: something that is no file", "an ordinary file")


def test_files_that_are_no_text_or_too_big(read: Callable[..., Drawing], folder: Path) -> None:
    (folder / "big.tube").write_bytes(b"#" * (MAX_BYTES + 1))
    assert refused(read(USE.format("big.tube")))[0] == "big.tube: a file that is too big"
    (folder / "bytes.tube").write_bytes(b"\x00\xff\xfe")
    (problem,) = read(USE.format("bytes.tube")).problems
    assert (problem.rule, Path(problem.span.file).name) == ("drawing.unreadable-file", "bytes.tube")


def test_sheets_together_are_no_larger_than_a_drawing(
    read: Callable[..., Drawing], folder: Path
) -> None:
    lines = "".join(f'sheet "s{n}.tube" as S{n}\n' for n in range(3))
    big = "# nothing\n" * (MAX_BYTES // 25)
    got = read(lines, s0=big, s1=big, s2=big)
    assert said(got) == [("drawing.sheet-nesting", 3, "sheets that are too big together")]


def test_a_sheet_in_itself(read: Callable[..., Drawing]) -> None:
    (problem,) = read('A -- B\nsheet "top.tube" as L\n').problems
    assert (problem.rule, problem.span.line) == ("drawing.sheet-nesting", 2)
    assert problem.hint == "top.tube has top.tube"


def test_a_cycle_names_its_files(read: Callable[..., Drawing], folder: Path) -> None:
    got = read(
        'sheet "a.tube" as L\n', a='sheet "sheets/b.tube" as M\n',
        **{"sheets/b": 'A -- B\nsheet "../a.tube" as N\n'},
    )  # fmt: skip
    (problem,) = got.problems
    assert problem.rule == "drawing.sheet-nesting"
    assert (problem.span.file, problem.span.line) == (str(folder / "sheets" / "b.tube"), 2)
    assert problem.hint == "top.tube has a.tube has sheets/b.tube has a.tube"


def nested(count: int) -> dict[str, str]:
    deep = {f"s{n}": f'sheet "s{n + 1}.tube" as N\n' for n in range(1, count)}
    return {**deep, f"s{count}": "A --[R1 1k]-- gnd\n"}


def test_how_deep_sheets_nest(read: Callable[..., Drawing]) -> None:
    top = 'sheet "s1.tube" as N\n'
    assert read(top, **nested(MAX_DEPTH)).problems == ()
    (problem,) = read(top, **nested(MAX_DEPTH + 1)).problems
    assert (problem.rule, problem.found) == (
        "drawing.sheet-nesting", f"sheets nested {MAX_DEPTH + 1} deep",
    )  # fmt: skip


def test_ten_thousand_instances_by_nesting_are_said_once(read: Callable[..., Drawing]) -> None:
    ten = "".join(f'sheet "{{}}.tube" as N{n}\n' for n in range(10))
    got = read(
        ten.format(*["a"] * 10), a=ten.format(*["b"] * 10), b=ten.format(*["c"] * 10),
        c=ten.format(*["d"] * 10), d="A --[R1 1k]-- gnd\n",
    )  # fmt: skip
    (problem,) = got.problems
    assert problem.rule == "drawing.sheet-nesting"
    assert problem.found == f"more than {MAX_INSTANCES} sheets in one drawing"
    assert len(got.statements) <= MAX_INSTANCES


def test_many_statements_through_many_instances(read: Callable[..., Drawing]) -> None:
    wide = "".join(f"A{n} --[R{n} 1k]-- gnd\n" for n in range(1, 500))
    got = read("".join(f'sheet "a.tube" as S{n}\n' for n in range(100)), a=wide)
    assert {p.rule for p in got.problems} == {"drawing.sheet-nesting"}
    assert len(got.statements) <= 20_000


POOL = st.lists(
    st.sampled_from(
        (
            'sheet "a.tube" as {n} joining X, Y = Z', 'sheet "b.tube" as {n} joining gnd, X = gnd',
            'sheet "c.tube" as L{n} joining X = V1.grid', 'sheet "../a.tube" as {n}',
            "X --[R{n} 1k]-- Y -- Z", "tube V{n} 12AX7", "mains 120 V 60 Hz", "signal X 1 V",
            "type T{n} like 6V6GT", "expect gain X to Y above 3 in pulled V{n}", "X --[", "sheet",
            'accept grid.no-return at V{n} because "x"', "V1:3 -- chassis", "pot P{n} 1M",
        )
    ),
    max_size=6,
)  # fmt: skip


@settings(max_examples=150)
@given(POOL, st.fixed_dictionaries({"a": POOL, "b": POOL, "c": POOL}))
def test_whatever_sheets_say_of_one_another_ends_in_a_drawing(
    top: list[str], others: dict[str, list[str]]
) -> None:
    def text(lines: list[str]) -> str:
        return "\n".join(line.format(n=n) for n, line in enumerate(lines))

    def fetch(path: Path) -> bytes:
        return text(others[path.stem]).encode()

    place = Path(__file__).resolve().parent / "top.tube"
    got = with_sheets(parse_drawing(text(top), "top.tube"), place, fetch)
    assert not [s for s in got.statements if isinstance(s, SheetLine)]
    assert all(p.span.file in got.files for p in got.problems)
    assert all(s.span.file in got.files for s in got.statements)
    circuit = build_circuit(got)
    for thing in (*circuit.tubes.values(), *circuit.branches.values()):
        assert ("/" in thing.name) is (thing.span.file != got.file)


@settings(max_examples=60)
@given(st.text(st.characters(exclude_characters='"\n\r', exclude_categories=("Cs",)), max_size=40))
def test_no_path_leads_out_of_the_project(text: str) -> None:
    root = Path(__file__).resolve().parent
    try:
        inside = located(text, root, root).is_relative_to(root)
    except SheetRefused:
        inside = True
    assert inside


# -- the edges -----------------------------------------------------------------------------


def test_without_a_project_its_own_folder_is_the_root(tmp_path: Path) -> None:
    if project_root(tmp_path) != tmp_path:
        pytest.skip("the folder for temporary files lies in a project")
    (tmp_path / "sub").mkdir()
    (tmp_path / "a.tube").write_text(DIVIDER)
    (tmp_path / "sub" / "top.tube").write_text(USE.format("../a.tube"))
    assert refused(read_drawing(tmp_path / "sub" / "top.tube"))[1] == "a file inside the project"
    (tmp_path / ".git").mkdir()
    assert read_drawing(tmp_path / "sub" / "top.tube").problems == ()


def test_a_text_alone_opens_no_file() -> None:
    got = parse_drawing(USE.format("sheets/divider.tube"))
    assert got.problems == ()
    assert [s.path for s in got.statements if isinstance(s, SheetLine)] == ["sheets/divider.tube"]


def test_sheets_from_elsewhere(folder: Path) -> None:
    """A revision of a project gives its files without a working copy of them."""
    asked: list[Path] = []

    def fetch(path: Path) -> bytes:
        asked.append(path)
        return DIVIDER.encode()

    text = parse_drawing(USE.format("gone.tube"), "top.tube at OLD")
    got = with_sheets(text, folder / "top.tube", fetch)
    assert got.problems == ()
    assert asked == [(folder / "gone.tube").resolve()]
    assert got.file == "top.tube at OLD"
