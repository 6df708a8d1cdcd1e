"""The files of a kind in a folder and below it, however deep it is; links to folders lead nowhere.

A folder of a change may be nested deeper than a function may call itself, and the folder of the
program, which holds drawings of its own, may lie in it (an environment in the project).
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

PROGRAM = Path(__file__).resolve().parents[1]


def below(folder: Path, suffix: str) -> list[Path]:
    """What is called ``...suffix`` and is no folder, in order of name; raises OSError.

    A folder that we may not look into holds nothing; nor does that of the program, unless the
    search begins in it.
    """
    begun_inside = folder.resolve().is_relative_to(PROGRAM)
    found: list[Path] = []
    ahead = [folder]
    while ahead:
        for entry in _entries(ahead.pop()):
            if entry.is_dir(follow_symlinks=False):
                path = Path(entry.path)
                if begun_inside or entry.name != PROGRAM.name or path.resolve() != PROGRAM:
                    ahead.append(path)
            elif entry.name.endswith(suffix) and not _leads_to_folder(entry):
                found.append(Path(entry.path))
    return sorted(found)


def _entries(folder: Path) -> Iterator[os.DirEntry[str]]:
    with suppress(PermissionError, FileNotFoundError), os.scandir(folder) as entries:
        yield from entries


def _leads_to_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:  # links in a circle
        return False
