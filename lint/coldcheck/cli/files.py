"""Which drawings the arguments mean: files, folders, patterns.

Drawings are those that stand on their own: what another of them uses as a sheet is reviewed where
it is used. A sheet that is named alone is reviewed alone.
"""

from __future__ import annotations

import glob
import re
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.files.finding import below
from coldcheck.files.places import Refused, leads_out, repository_of, where
from coldcheck.files.reading import SUFFIX
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

_SHEET = re.compile(rb'^[ \t]*sheet[ \t]+"([^"\n]*)"', re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A drawing to review, which may turn out not to exist.

    ``missing`` says why a folder or a pattern gave none.
    """

    file: str
    missing: str = ""


def wanted(arguments: Iterable[str], *, sheets: bool = False) -> list[Wanted]:
    """The drawings in the order named, each once; folders and patterns in order of name.

    ``sheets``: whether those of a folder that others use are wanted as well.
    """
    found: dict[str, Wanted] = {}
    for argument in arguments:
        for item in _one(argument):
            found.setdefault(str(where(Path(item.file))), item)
    every = list(found.values())
    if sheets:
        return every
    alone = set(_whole([Path(item.file) for item in every if not item.missing]))
    return [item for item in every if item.missing or Path(item.file) in alone]


def _one(argument: str) -> list[Wanted]:
    path = Path(argument)
    if path.is_dir():
        try:
            inside = below(path, SUFFIX)
        except OSError as error:
            return [Wanted(argument, f"a folder in it cannot be opened: {error.strerror}")]
        return _met(inside, path) or [Wanted(argument, f"the folder holds no {SUFFIX} files")]
    if path.exists() or not glob.has_magic(argument):
        return [Wanted(argument)]
    # Path.glob refuses absolute patterns
    names = glob.glob(argument, recursive=True)  # noqa: PTH207
    matches = sorted(m for m in names if not Path(m).is_dir())
    start = Path(re.split(r"[*?[]", argument, maxsplit=1)[0] + "_").parent
    return _met(map(Path, matches), start) or [Wanted(argument, "no file matches this pattern")]


def _met(paths: Iterable[Path], start: Path) -> list[Wanted]:
    """Drawings nobody named: a link may lead anywhere in its repository, or below the start."""
    within = None if repository_of(start) else start
    return [_held_within(path, within) for path in paths]


def _held_within(path: Path, within: Path | None) -> Wanted:
    try:
        outside = leads_out(path, within)
    except Refused as refused:
        return Wanted(str(path), refused.found)
    if outside is None:
        return Wanted(str(path))
    name = outside.absolute().name or outside
    return Wanted(str(path), f"its name is a link that leads out of the folder {name}")


def _whole(paths: Iterable[Path]) -> list[Path]:
    """The drawings that are not used as sheets by others that are reviewed, near or far.

    Of those that use each other in a circle none is left out.
    """
    real = {path: where(path) for path in paths}
    within = {place: _sheets(place) - {place} for place in real.values()}
    named = {sheet for sheets in within.values() for sheet in sheets}
    reached: set[Path] = set()
    ahead = [path for path in within if path not in named]
    while ahead:
        fresh = within.get(ahead.pop(), set()) - reached
        reached |= fresh
        ahead += fresh
    return [path for path, place in real.items() if place not in reached]


def _sheets(place: Path) -> set[Path]:
    """The files a drawing names in its ``sheet`` lines, as far as the text can be read."""
    try:
        text = reading.drawing(place, MAX_BYTES)
        names = {m[1].decode("utf-8", "replace") for m in _SHEET.finditer(text)}
        return {where(place.parent / name) for name in names if "\0" not in name}
    except (OSError, RuntimeError, ValueError):
        return set()
