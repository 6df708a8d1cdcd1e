"""The files of a kind below a folder, however deep; nothing of the program itself."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from coldcheck.files import finding
from coldcheck.files.finding import below
from coldcheck.files.places import ways

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

DEPTH = 1500
"""More folders than a function may call itself."""


@pytest.fixture
def deep(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with one file, far below; taken away again by hand, as no library can."""
    monkeypatch.chdir(tmp_path)
    for _ in range(DEPTH):
        os.mkdir("d")  # noqa: PTH102 - no name of it is short enough
        os.chdir("d")
    open("x.tube", "w").close()  # noqa: PTH123
    os.chdir(tmp_path)
    yield tmp_path
    for _ in range(DEPTH):
        os.chdir("d")
    os.unlink("x.tube")  # noqa: PTH108
    for _ in range(DEPTH):
        os.chdir("..")
        os.rmdir("d")  # noqa: PTH106


def test_no_folder_is_too_deep(deep: Path) -> None:
    (found,) = below(deep, ".tube")
    assert len(found.relative_to(deep).parts) == DEPTH + 1


def test_files_come_in_order_and_links_to_folders_lead_nowhere(tmp_path: Path) -> None:
    for name in ("b/y.tube", "a.tube", "b/z.txt", "c.tube/x.tube"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "d").symlink_to("b")
    (tmp_path / "e.tube").symlink_to("a.tube")
    (tmp_path / "f.tube").symlink_to("b")
    names = [str(p.relative_to(tmp_path)) for p in below(tmp_path, ".tube")]
    assert names == ["a.tube", "b/y.tube", "c.tube/x.tube", "e.tube"]


def test_the_program_in_the_project_is_none_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An environment in the project's folder has the samples in it, mistakes and all."""
    program = tmp_path / ".venv" / "coldcheck"
    other = tmp_path / "amps" / "coldcheck"
    for folder in (program, other):
        folder.mkdir(parents=True)
        (folder / "x.tube").touch()
    monkeypatch.setattr(finding, "PROGRAM", program)
    assert below(tmp_path, ".tube") == [other / "x.tube"]
    assert below(program, ".tube") == [program / "x.tube"]


def test_the_ways_to_a_file_are_every_link_and_its_end(tmp_path: Path) -> None:
    (tmp_path / "v1").mkdir()
    (tmp_path / "v1/x.tube").touch()
    (tmp_path / "now").symlink_to("v1")
    (tmp_path / "parts").symlink_to(tmp_path / "now")
    (tmp_path / "v1/y.tube").symlink_to("../v1/x.tube")
    root = tmp_path.resolve()
    reached = list(ways(tmp_path / "parts" / "y.tube"))
    assert [p.relative_to(root).as_posix() for p in reached] == [
        "parts", "now", "v1/y.tube", "v1/x.tube"
    ]  # fmt: skip
    assert list(ways(root / "v1/x.tube")) == [root / "v1/x.tube"]


def test_links_in_a_circle_come_to_an_end(tmp_path: Path) -> None:
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    (tmp_path / "c.tube").symlink_to("c.tube")
    assert below(tmp_path, ".tube") == [tmp_path / "c.tube"]
    assert len(list(ways(tmp_path / "a" / "x"))) < 50
