"""Which drawings the arguments mean: files, folders, patterns."""

from __future__ import annotations

import glob
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

SUFFIX = ".tube"


@dataclass(frozen=True, slots=True)
class Wanted:
    """A drawing to review, which may turn out not to exist.

    ``missing`` says why a folder or a pattern gave none.
    """

    file: str
    missing: str = ""


def wanted(arguments: Iterable[str]) -> list[Wanted]:
    """The drawings in the order named, each once; folders and patterns in order of name."""
    found: dict[str, Wanted] = {}
    for argument in arguments:
        for item in _one(argument):
            found.setdefault(str(Path(item.file).resolve()), item)
    return list(found.values())


def _one(argument: str) -> list[Wanted]:
    path = Path(argument)
    if path.is_dir():
        inside = sorted(p for p in path.rglob(f"*{SUFFIX}") if p.is_file())
        return [Wanted(str(p)) for p in inside] or [
            Wanted(argument, f"the folder holds no {SUFFIX} files")
        ]
    if path.exists() or not glob.has_magic(argument):
        return [Wanted(argument)]
    # Path.glob refuses absolute patterns
    names = glob.glob(argument, recursive=True)  # noqa: PTH207
    matches = sorted(m for m in names if Path(m).is_file())
    return [Wanted(m) for m in matches] or [Wanted(argument, "no file matches this pattern")]
