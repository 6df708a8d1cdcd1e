"""Which drawings a folder stands for."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.cli.files import wanted


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    texts = {
        "top": 'A -- B\n  sheet "sub/used.tube" as L joining X = A\n# sheet "other.tube" as M\n',
        "other": "A -- B\n",
        "sub/used": 'X -- Y\nsheet "far.tube" as N\n',
        "sub/far": "X -- Y\n",
    }
    (tmp_path / "sub").mkdir()
    for name, text in texts.items():
        (tmp_path / f"{name}.tube").write_text(text)
    return tmp_path


def names(folder: Path, *arguments: str, sheets: bool = False) -> list[str]:
    found = wanted(arguments or (str(folder),), sheets=sheets)
    return [Path(w.file).relative_to(folder).with_suffix("").as_posix() for w in found]


def test_sheets_of_a_folder_are_reviewed_where_they_are_used(folder: Path) -> None:
    assert names(folder) == ["other", "top"]
    assert names(folder, sheets=True) == ["other", "sub/far", "sub/used", "top"]


def test_a_sheet_is_wanted_when_it_is_named(folder: Path) -> None:
    used = str(folder / "sub" / "used.tube")
    assert names(folder, used) == ["sub/used"]
    assert names(folder, str(folder), used) == ["other", "top"]
    assert names(folder, str(folder / "top.tube"), used) == ["top"]
    assert names(folder, str(folder / "sub" / "*.tube")) == ["sub/used"]


def test_a_folder_of_sheets_alone_has_those_that_nothing_in_it_uses(folder: Path) -> None:
    assert names(folder, str(folder / "sub")) == ["sub/used"]


def test_drawings_in_a_circle_hide_neither_themselves_nor_one_another(folder: Path) -> None:
    (folder / "sub" / "far.tube").write_text('sheet "used.tube" as L\n')
    (folder / "other.tube").write_text('sheet "other.tube" as L\n')
    (folder / "top.tube").write_text("A -- B\n")
    assert names(folder) == ["other", "sub/far", "sub/used", "top"]


def test_what_cannot_be_read_hides_nothing(folder: Path) -> None:
    (folder / "top.tube").write_bytes(b'\xff\xfe\nsheet "\x00.tube" as L\nsheet "' + b"x" * 9000)
    (folder / "round.tube").mkdir()
    assert names(folder) == ["other", "sub/used", "top"]
