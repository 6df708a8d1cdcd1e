"""A point under another name, everywhere in its file, or a sentence on why not."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.lines import KEYWORDS, MAX_BYTES
from coldcheck.drawing.model import SheetLine
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.sheet_files import project_root
from coldcheck.files import reading
from coldcheck.files.places import where
from coldcheck.files.reading import SUFFIX
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import clean
from coldcheck.serve import words
from coldcheck.serve.definition import sheet_file
from coldcheck.serve.edits import Edit, edited
from coldcheck.serve.reading import Text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.serve.reading import Read
    from coldcheck.serve.words import Word

MOST_FILES, MOST_FOLDERS = 2_000, 5_000
"""Drawings of the project that are looked at for joints, and folders they are looked for in."""

_VALID = re.compile(r"[A-Za-z0-9_]+(?:[+-][0-9]*)?")
_RESERVED = frozenset((*LANDMARKS, "ground"))


@dataclass(slots=True)
class Refused(Exception):  # noqa: N818 - what the user is told
    """Why a point is not renamed, as a sentence."""

    why: str

    def __str__(self) -> str:
        return clean(self.why)


def renamable(read: Read, word: Word) -> None:
    """Raise Refused unless this name is a point that can have another name."""
    text = word.text
    if word.role in (words.PART, words.NAME, words.WINDING, words.SHEET):
        raise Refused(f"{text} is a part, not a point: only points are renamed")
    if word.role == words.INNER:
        raise Refused(f"{text} is a point of the sheet: rename it in the sheet's own file")
    if word.role != words.POINT:
        raise Refused("there is no point here to rename")
    if text in _RESERVED:
        raise Refused(f"{text} is the same in every drawing and keeps its name")
    if "/" in text:
        raise Refused(f"{text} is inside a sheet: rename it in the sheet's own file")
    if not word.plain:
        raise Refused(f"{text} is a lead or pin: only points that you named are renamed")
    if any(w.role == words.NAME and w.text == text for w in words.words_of(read.page.lines)):
        raise Refused(f"{text} is declared as a part: only points are renamed")


def rename(read: Read, word: Word, new: str, open_texts: Mapping[Path, Text]) -> list[Edit]:
    """The edits that give a point its new name in this file. Raises Refused.

    ``open_texts`` are the other texts as the editor has them, by real path; files that are not
    open are read from the disk to see whether one of them joins this point.
    """
    renamable(read, word)
    old = word.text
    _check_new(read, old, new)
    if any(p.span.file == read.drawing.file for p in read.drawing.problems):
        raise Refused("not all of the drawing can be read: rename when it can, so nothing is lost")
    joining = next(_joining(read.text, old, open_texts), None)
    if joining is not None:
        raise Refused(
            f"{joining.name} has this drawing as a sheet and joins {old}: it would find it no more"
        )
    edits = [_edit(read, w, new) for w in words.words_of(read.page.lines) if _is(w, old)]
    _check_result(read, old, new, edits)
    return edits


def _is(word: Word, name: str) -> bool:
    return word.role == words.POINT and word.text == name


def _check_new(read: Read, old: str, new: str) -> None:
    if not _VALID.fullmatch(new):
        raise Refused(
            f'"{new}" is no name for a point: letters A to Z, digits and _, and a + or - at the end'
        )
    if new in KEYWORDS or new in words.MEASURES:
        raise Refused(f"{new} is a word of the language and cannot name a point")
    if new.casefold() in _RESERVED:
        raise Refused(f"{new} would be taken for {new.casefold()}, the same in every drawing")
    if new == old:
        raise Refused(f"the point is called {old} already")
    taken = {w.text for w in words.words_of(read.page.lines)}
    owners = {w.text.partition(".")[0].partition(":")[0] for w in words.words_of(read.page.lines)}
    if new in taken | owners:
        raise Refused(f"there is a {new} in this drawing already: the two would become one")


def _edit(read: Read, word: Word, new: str) -> Edit:
    """A joint that was one name for both sides keeps the sheet's own name for the sheet."""
    line = read.page.line(word.line)
    text = new
    if line.split()[:1] == ["sheet"] and not re.search(r"=\s*$", line[: word.column - 1]):
        text = f"{word.text} = {new}"
    follows = line[word.end_column - 1 : word.end_column]
    sign_needs_room = new[-1] in "+-" or re.search(r"[+-]\d*$", new)
    if sign_needs_room and follows and not (follows.isspace() or follows == ","):
        text += " "
    return Edit(word.line, word.column, word.end_column, text)


def _check_result(read: Read, old: str, new: str, edits: list[Edit]) -> None:
    """The new text must be the old one with nothing but this name changed."""
    after = parse_drawing("\n".join(edited(read.page.lines, edits)), read.drawing.file)
    texts = {(e.line, e.column): e.text for e in edits}
    wanted = []
    for word in words.words_of(read.page.lines):
        if "=" in texts.get((word.line, word.column), ""):
            wanted.append((words.INNER, old))
        wanted.append((word.role, new if _is(word, old) else word.text))
    if after.problems or wanted != [(w.role, w.text) for w in words.words_of(after.lines)]:
        raise Refused(f"{new} would be read as something else where {old} stands")


def _joining(text: Text, name: str, open_texts: Mapping[Path, Text]) -> Iterator[Path]:
    """The drawings of the project that use this one as a sheet and join that point of it."""
    for path, line in _using(text, open_texts):
        if any(inside.text == name for inside, _ in line.joints):
            yield path


def user(text: Text, open_texts: Mapping[Path, Text]) -> Path | None:
    """A drawing of the project that uses this one as a sheet; of a vast project none is known."""
    try:
        return next((path for path, _ in _using(text, open_texts)), None)
    except Refused:
        return None


def _using(text: Text, open_texts: Mapping[Path, Text]) -> Iterator[tuple[Path, SheetLine]]:
    """The uses of this drawing as a sheet: the drawing that does, and the line."""
    if text.path is None:
        return
    for path in _drawings(text.path, open_texts):
        other = open_texts.get(path) or _from_disk(path)
        if other is None or path == text.path or text.path.name not in other.text:
            continue
        for line in parse_drawing(other.text, other.file).statements:
            if isinstance(line, SheetLine) and sheet_file(other, line) == text.path:
                yield path, line


def _drawings(path: Path, open_texts: Mapping[Path, Text]) -> Iterator[Path]:
    """The open ones, then those of the project's folders; Refused where there are too many."""
    yield from open_texts
    files = 0
    for number, (folder, inside, names) in enumerate(os.walk(project_root(path.parent))):
        inside[:] = [name for name in inside if not name.startswith(".")]
        drawings = [where(Path(folder, name)) for name in names if name.endswith(SUFFIX)]
        files += len(drawings)
        if files > MOST_FILES or number >= MOST_FOLDERS:
            raise Refused("the project is too large to see whether another drawing joins the point")
        yield from (d for d in drawings if d not in open_texts)


def _from_disk(path: Path) -> Text | None:
    try:
        data = reading.drawing(path, MAX_BYTES)
        return Text(path.as_uri(), str(path), True, data.decode("utf-8"), None, 0)
    except (OSError, ValueError):
        return None
