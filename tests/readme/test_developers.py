"""DEVELOPERS.md names nothing that is not there."""

from __future__ import annotations

import importlib
import re

import pytest
from tests.readme.shown import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BASES = (ROOT, ROOT / "lint" / "coldcheck")
SORTS = "py|toml|md|csv|json|lark|txt"
FILES = sorted(set(re.findall(rf"`([\w./-]+\.(?:{SORTS}))`", TEXT)))
FOLDERS = sorted(set(re.findall(r"`((?:[\w.-]+/)+)`", TEXT)))
BELOW = [p for f in ("lint", "grammar", "samples", "tests") for p in (ROOT / f).rglob("*.*")]


@pytest.mark.parametrize("name", FILES)
def test_a_file_is_where_it_is_said_to_be(name: str) -> None:
    """From the root or from lint/coldcheck; a bare name is that of one file only."""
    if not any((base / name).is_file() for base in BASES):
        found = [p for p in BELOW if p.as_posix().endswith(f"/{name}") and "/" not in name]
        assert len(found) == 1, f"{name}: {found or 'nowhere'}"


@pytest.mark.parametrize("name", FOLDERS)
def test_a_folder_is_there(name: str) -> None:
    assert any((base / name).is_dir() for base in BASES), name


def test_the_rooms_are_those_of_the_house() -> None:
    house = TEXT.split("```")[1]
    named = set(re.findall(r"^(\w+)/", house, re.MULTILINE)) | {"compare"}
    there = {
        p.name for p in (ROOT / "lint" / "coldcheck").iterdir() if (p / "__init__.py").exists()
    }
    assert there - {"grammar", "samples"} <= named
    assert named <= there


@pytest.mark.parametrize("name", sorted(set(re.findall(r"\b(?:coldcheck|tests)(?:\.\w+)+", TEXT))))
def test_a_module_or_what_is_in_it_is_there(name: str) -> None:
    if name in ("coldcheck.toml", "coldcheck.tmLanguage.json", "coldcheck.tubes"):
        return  # files, and a group of entry points
    parts = name.split(".")
    if parts[0] == "tests":
        path = ROOT / "/".join(parts)
        assert path.is_dir() or path.with_suffix(".py").exists(), name
        return
    for cut in range(len(parts), 0, -1):
        try:
            found = importlib.import_module(".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        assert cut == len(parts) or hasattr(found, parts[cut]), name
        return
