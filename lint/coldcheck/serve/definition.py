"""Where a name is declared or first mentioned, and every other place it stands at."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing.model import SheetLine, Span
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.sheet_files import SheetRefused, located, project_root
from coldcheck.files.places import where
from coldcheck.serve import words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.serve.reading import Read, Text
    from coldcheck.serve.words import Word

_DECLARING = (words.NAME, words.PART, words.WINDING)


def definition(read: Read, word: Word) -> Span | None:
    """Where the thing is declared, a point where it is first named, a sheet in its file.

    ``None`` where the text does not say.
    """
    if word.role in (words.PATH, words.SHEET, words.INNER):
        return _sheet(read, word)
    if word.role in (words.KEYWORD, words.RULE):
        return None
    if "/" in word.text:
        return _inside(read, word.text)
    known = words.words_of(read.page.lines)
    if word.role == words.TYPE:
        return _type(read, known, word)
    return _span(read, _declared(known, word.full)) or _first(read, known, word)


def occurrences(read: Read, word: Word) -> Iterator[Span]:
    """Every place of the text where this name stands."""
    for other in words.words_of(read.page.lines):
        if other.full == word.full and other.role not in (words.KEYWORD, words.INNER, words.PATH):
            yield span_of(read, other)


def span_of(read: Read, word: Word) -> Span:
    """The place of a name."""
    return Span(read.drawing.file, word.line, word.column, word.end_column)


def _span(read: Read, word: Word | None) -> Span | None:
    return None if word is None else span_of(read, word)


def _declared(known: tuple[Word, ...], name: str) -> Word | None:
    """The declaration of a name, of the winding of a lead, of the owner of a lead or pin."""
    declared = {w.full: w for w in reversed(known) if w.role in _DECLARING}
    if name in declared:
        return declared[name]
    owner = name.partition(":")[0]
    while "." in owner or owner in declared or owner[-1:] in ("A", "B", "C"):
        if owner in declared:
            return declared[owner]
        owner = owner.rpartition(".")[0] if "." in owner else owner[:-1]
        if not owner:
            return None
    return None


def _first(read: Read, known: tuple[Word, ...], word: Word) -> Span | None:
    same = (w for w in known if w.role == words.POINT and w.full == word.full)
    return _span(read, next(same, None))


def _type(read: Read, known: Iterable[Word], word: Word) -> Span | None:
    """The line that defines a type; those of the data library are in no drawing."""
    lines = {n for n, line in enumerate(read.page.lines, 1) if line.split()[:1] == ["type"]}
    mine = (w for w in known if w.role == words.TYPE and w.line in lines and w.text == word.text)
    return _span(read, next(mine, None))


def _sheet(read: Read, word: Word) -> Span | None:
    """The top of a sheet's file, or the point inside it that is joined."""
    line = sheet_at(read.text, word.line)
    file = None if line is None else sheet_file(read.text, line)
    if file is None:
        return None
    if word.role == words.INNER:
        sheets = {where(Path(name)): lines for name, lines in read.drawing.sheets.items()}
        inner = words.words_of(sheets.get(file, ()))
        found = next((w for w in inner if w.role == words.POINT and w.full == word.full), None)
        if found is not None:
            return Span(str(file), found.line, found.column, found.end_column)
    return Span(str(file), 1, 1, 1)


def sheet_at(text: Text, number: int) -> SheetLine | None:
    """The sheet statement in a line of a text."""
    statements = parse_drawing(text.text, text.file).statements
    return next((s for s in statements if isinstance(s, SheetLine) and s.span.line == number), None)


def sheet_file(text: Text, line: SheetLine) -> Path | None:
    """The file a sheet line names, where it may name it and there is one."""
    if text.path is None:
        return None
    folder = text.path.parent
    try:
        found = located(line.path, folder, project_root(folder))
    except SheetRefused:
        return None
    return found if found.is_file() else None


def _inside(read: Read, name: str) -> Span | None:
    """A name inside a sheet, ``L/V2.cathode``: its owner, or the point, where the sheet has it."""
    places = read.circuit.places
    owner = re.split(r"[.:]", name, maxsplit=1)[0]
    found = (places.get(key) for key in (owner, owner.rstrip("ABC"), name))
    return next((span for span in found if span is not None), None)
