"""Which file a ``sheet`` line means, and its bytes: nothing outside the project is ever opened.

A drawing may come from anybody. So a sheet is an ordinary ``.tube`` file, named relative to the
file that uses it, and inside the project's folder also when every link is followed.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.files.places import Refused, TooBig
from coldcheck.files.reading import SUFFIX

if TYPE_CHECKING:
    from pathlib import Path

NOT_READ = "drawing.sheet-not-read"
MARKS = (".git", "pyproject.toml", "coldcheck.toml")
"""What the project's folder is known by."""


class SheetRefused(Exception):  # noqa: N818 - never leaves the reading of sheets
    """A sheet that is not read, with the parts of the problem that says why.

    ``absent``: it may be there, or be readable, another time.
    """

    def __init__(
        self, found: str, expected: str, hint: str = "", rule: str = NOT_READ, *,
        absent: bool = False,
    ) -> None:  # fmt: skip
        super().__init__(found)
        self.found, self.expected, self.hint, self.rule = found, expected, hint, rule
        self.absent = absent


def project_root(folder: Path) -> Path:
    """The nearest folder upwards that holds a mark of a project, else the folder itself."""
    for place in (folder, *folder.parents):
        if any((place / mark).exists() for mark in MARKS):
            return place
    return folder


def located(text: str, folder: Path, root: Path) -> Path:
    """The real path of a sheet named in a file of ``folder``; raises SheetRefused."""
    if re.match(r"[/\\~]|[A-Za-z]:", text):
        raise SheetRefused(_quoted(text), "a path that starts at this drawing's folder")
    if "\\" in text:
        raise SheetRefused(_quoted(text), "folders parted by /", text.replace("\\", "/"))
    if not text.endswith(SUFFIX):
        raise SheetRefused(_quoted(text), f"a drawing, whose name ends in {SUFFIX}")
    try:
        path = (folder / text).resolve()
    except (OSError, RuntimeError, ValueError):
        raise SheetRefused(_quoted(text), "a path that leads to a file") from None
    if not path.is_relative_to(root):
        hint = f"the project is the folder {root.name or root} and what is in it"
        raise SheetRefused(_quoted(text), "a file inside the project", hint)
    if path.suffix != SUFFIX:
        raise SheetRefused(_quoted(text), "a drawing, not a link to something else")
    return path


def sheet_bytes(path: Path) -> bytes:
    """The contents of a located sheet; raises SheetRefused."""
    try:
        return reading.ordinary(path, MAX_BYTES)
    except Refused as refused:
        hint = "is this really a drawing?" if isinstance(refused, TooBig) else ""
        raise SheetRefused(refused.found, refused.expected, hint) from None
    except OSError as error:
        reason = error.strerror or str(error)
        found = reason[:1].lower() + reason[1:]
        raise SheetRefused(found, "a file that can be read", absent=True) from None


def _quoted(text: str) -> str:
    return f'"{text if len(text) <= 80 else text[:77] + "..."}"'
