"""The names in a text, each with what it is there, also in lines that cannot be read yet.

An editor asks about texts that are being typed, so this looks at one line at a time and needs no
parser. Where a drawing can be read the names and places are those the reader finds (a test
compares the two over all samples).
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import KEYWORDS, without_comment
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

KEYWORD, NAME, WINDING, POINT, PART, TYPE, RULE, PATH, SHEET, INNER = (
    "keyword", "name", "winding", "point", "part", "type", "rule", "path", "sheet", "inner",
)  # fmt: skip
"""Roles. ``name`` declares something, ``winding`` a winding (its text is ``ht``, its full name
``T1.ht``), ``sheet`` names an instance of a sheet, ``inner`` is a point of the sheet's own."""

POINT_PATTERN = (
    r"([A-Za-z0-9_]+\/)*[A-Za-z0-9_]+([+-][0-9]*(?=[\s,]|$)|(\.[A-Za-z0-9_]+)*(:[A-Za-z0-9_]+)?)"
)
"""As POINT of the grammar; a test compares them."""

MEASURES = ("current", "dissipation", "gain", "ripple", "drain")
_POINT = re.compile(POINT_PATTERN)
_FIRST = re.compile(r"\s*([A-Za-z]+)(?=\s|$)")
_STRING = re.compile(r'"[^"]*"?')
_TYPE = r'([^\s\[\]"<>=:]+)'
_NAMED = re.compile(r"\s*([A-Za-z0-9_]+)")
_BRACKET = re.compile(r"\[\s*([A-Za-z0-9_]+)?[^\]]*\]?")
_TUBE = re.compile(rf"\s*([A-Za-z0-9_]+)(?:\s+{_TYPE})?(?:\s+heater\s+({POINT_PATTERN}))?")
_LIKE = re.compile(rf"\s*{_TYPE}(?:\s+like\s+{_TYPE})?")
_ACCEPT = re.compile(rf"\s*([A-Za-z0-9_.-]+)(?:\s+at\s+({POINT_PATTERN}))?")
_SHEET = re.compile(r'\s*("[^"]*"?)(?:\s+as\s+([A-Za-z0-9_]+))?(?:\s+joining\b)?')
_JOINT = re.compile(rf"\s*({POINT_PATTERN})(?:\s*=\s*({POINT_PATTERN}))?\s*,?")
_MEASURED = re.compile(
    rf"\s*(?:(?:{'|'.join(MEASURES)})\s+)?({POINT_PATTERN})(?:\s+(?:-|to)\s+({POINT_PATTERN}))?"
)
_NAMING = frozenset(
    (
        *("transformer", "output", "reverb", "pot", "switch", "relay", "bridge", "optocoupler"),
        *("thyristor", "triac", "vibrator", "ballast", "plug", "connector", "jack"),
    )
)
_WINDINGS = frozenset(("primary", "winding"))


@dataclass(frozen=True, slots=True)
class Word:
    """A name in the text; line and columns count from 1, the end is exclusive.

    ``full`` is the name others call it by: ``T1.ht`` for the winding ``ht`` of T1.
    """

    text: str
    role: str
    line: int
    column: int
    end_column: int
    full: str

    @property
    def plain(self) -> bool:
        """Whether it is a point somebody named, and no lead or pin."""
        return self.role == POINT and not set(self.text) & set(".:/")


def words_of(lines: Iterable[str]) -> tuple[Word, ...]:
    """Every name of a text, in its order."""
    found: list[Word] = []
    owner = ""
    for number, line in enumerate(lines, 1):
        here = list(_words(line, number, owner))
        found += here
        if here and here[0].role == KEYWORD and here[0].text == "transformer":
            owner = here[1].text if len(here) > 1 else ""
    return tuple(found)


def word_at(words: Iterable[Word], line: int, column: int) -> Word | None:
    """The name at a place of the text, or ending there."""
    here = [w for w in words if w.line == line and w.column <= column <= w.end_column]
    return next((w for w in here if column < w.end_column), here[0] if here else None)


def part_around(words: Iterable[Word], text: str, line: int, column: int) -> Word | None:
    """The part in whose bracket a place of a line is; ``text`` is that line."""
    for bracket in _BRACKET.finditer(code(text)):
        if bracket.start() < column <= bracket.end() and bracket[1]:
            start = bracket.start(1) + 1
            return next((w for w in words if (w.line, w.column) == (line, start)), None)
    return None


def code(line: str) -> str:
    """The line without its comment, what stands in quotes blanked; lengths are kept."""
    plain = without_comment(line)
    return _STRING.sub(lambda found: '"' + " " * (len(found[0]) - 1), plain)


def _words(line: str, number: int, owner: str) -> Iterator[Word]:
    text = code(line)
    first = _FIRST.match(text)
    if first is None or first[1] not in KEYWORDS:
        yield from _wire(text, number)
        return
    keyword, at = first[1], first.end(1)
    yield Word(keyword, KEYWORD, number, first.start(1) + 1, at + 1, keyword)
    match keyword:
        case "tube" | "transistor" | "regulator":
            yield from _groups(_TUBE.match(text, at), number, (NAME, TYPE, POINT))
        case "type":
            yield from _groups(_LIKE.match(text, at), number, (TYPE, TYPE))
        case "signal":
            yield from _groups(_JOINT.match(text, at), number, (POINT,))
        case "accept":
            yield from _groups(_ACCEPT.match(text, at), number, (RULE, POINT))
        case "expect":
            yield from _groups(_MEASURED.match(text, at), number, (POINT, POINT))
        case "sheet":
            yield from _sheet(without_comment(line), number, at)
        case _ if keyword in _NAMING:
            yield from _groups(_NAMED.match(text, at), number, (NAME,))
        case _ if keyword in _WINDINGS:
            for word in _groups(_NAMED.match(text, at), number, (WINDING,)):
                yield Word(*_place(word), f"{owner}.{word.text}")
        case _:
            pass


def _place(word: Word) -> tuple[str, str, int, int, int]:
    return word.text, word.role, word.line, word.column, word.end_column


def _groups(
    found: re.Match[str] | None, number: int, roles: tuple[str, ...], skip: int = 3
) -> Iterator[Word]:
    """The groups of a match that are names; those inside a point's own pattern are left out."""
    if found is None:
        return
    group = 1
    for role in roles:
        text = found[group]
        if text:
            start = found.start(group) + 1
            yield Word(text, role, number, start, start + len(text), text)
        # a point's pattern has four groups inside
        group += 1 + (skip + 1 if role in (POINT, INNER) else 0)


def _sheet(text: str, number: int, at: int) -> Iterator[Word]:
    head = _SHEET.match(text, at)
    if head is None:
        return
    path = head[1].strip('"')
    start = head.start(1) + 2
    yield Word(path, PATH, number, start, start + len(path), path)
    if head[2]:
        yield Word(head[2], SHEET, number, head.start(2) + 1, head.end(2) + 1, head[2])
    place = head.end()
    while joint := _JOINT.match(text, place):
        pair = list(_groups(joint, number, (INNER, POINT)))
        # one name for both is a point of this drawing as well
        yield from (
            pair
            if len(pair) == 2
            else (Word(w.text, POINT, number, w.column, w.end_column, w.text) for w in pair)
        )
        place = joint.end()


def _wire(text: str, number: int) -> Iterator[Word]:
    """Points on a wire, and the names of the parts in brackets."""
    place = 0
    for part in _BRACKET.finditer(text):
        yield from _points(text[: part.start()], place, number)
        if part[1]:
            yield Word(part[1], PART, number, part.start(1) + 1, part.end(1) + 1, part[1])
        place = part.end()
    yield from _points(text, place, number)


def _points(text: str, place: int, number: int) -> Iterator[Word]:
    for found in _POINT.finditer(text, place):
        yield Word(found[0], POINT, number, found.start() + 1, found.end() + 1, found[0])
