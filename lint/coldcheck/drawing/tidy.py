"""A drawing neatly laid out: the same statements, the same comments, one way to space them.

Only blanks move. What is written (values, names, the order of statements) stays as it is, and so
does the place where the author broke a long wire.
"""

from __future__ import annotations

import re
from itertools import groupby

from coldcheck.drawing.lines import KEYWORDS, physical_lines, without_comment
from coldcheck.records import dataclass

INDENTED = ("primary", "winding", "rating")
INDENT = "    "
TABLES = {"primary": "winding", "winding": "winding", "tube": "tube"}
"""Statements whose first fields stand in columns, and the table each belongs to."""

FIELDS = {"winding": 2, "tube": 3}
"""So many fields of such a statement are set in columns: ``tube V1 12AX7``."""

REMARK_AT = 64
"""Remarks of neighbouring lines stand below each other up to this column."""

_CHAIN = re.compile(
    r"\[[^\]]*\]|--|->|<-|[A-Za-z0-9_]+(?:[+-][0-9]*(?=\s|$)|(?:\.[A-Za-z0-9_]+)*(?::[A-Za-z0-9_]+)?)|\+"
)
_WORDS = re.compile(r'"[^"]*"|[^\s"]+')


@dataclass(frozen=True, slots=True)
class _Row:
    """One physical line, taken apart: indent, fields or one text, and its remark."""

    indent: str
    code: str
    remark: str
    table: str = ""

    @property
    def bare(self) -> bool:
        """Whether there is nothing but a remark, or nothing at all."""
        return not self.code


def tidied(text: str) -> str:
    """Lay out a drawing that can be read.

    Idempotent, and the statements read from the result are the same apart from their places. For a
    text that cannot be read the result is not defined; callers refuse it first.
    """
    rows = list(_rows(physical_lines(text)))
    lines = [line for _, block in groupby(rows, _block_of) for line in _laid_out(list(block))]
    return "\n".join(_single_blanks(lines)).strip("\n") + "\n"


def _rows(lines: tuple[str, ...]) -> list[_Row]:
    rows: list[_Row] = []
    continued = in_group = False
    for line in lines:
        code = without_comment(line)
        remark = line[len(code) :].strip()
        words = code.split()
        first = words[0] if words else ""
        starts = not continued or first in KEYWORDS
        if words and starts:
            in_group = first in INDENTED
        rows.append(_row(code, remark, first if starts else "", continued and not starts, in_group))
        if words:
            continued = code.endswith("--") and code.count('"') % 2 == 0
        elif not line.strip():
            continued = False
    return rows


def _row(code: str, remark: str, first: str, goes_on: bool, in_group: bool) -> _Row:
    if not code.strip():
        return _Row(INDENT if in_group and remark else "", "", _remark(remark))
    if first in KEYWORDS:
        fields = " ".join(_WORDS.findall(code))
        return _Row(INDENT * (first in INDENTED), fields, _remark(remark), TABLES.get(first, ""))
    return _Row(INDENT * goes_on, _chain(code), _remark(remark))


def _remark(remark: str) -> str:
    """``#`` and a blank, unless the author drew a line with it."""
    return re.sub(r"^#(?=[^\s#])", "# ", remark)


def _chain(code: str) -> str:
    """A wire: a blank beside each point, none around a part."""
    tokens = [_part(t) if t.startswith("[") else t for t in _CHAIN.findall(code)]
    out = ""
    for before, token in zip(["", *tokens], tokens, strict=False):
        joined = token.startswith("[") or before.startswith("[") or "+" in (token, before)
        # Two wires may meet between two parts: one is enough to read, but both are the author's.
        out += token if not out or (joined and not _is_point(token, before)) else f" {token}"
    return out


def _is_point(token: str, before: str) -> bool:
    """Whether a blank belongs between: one of the two is a point beside a wire."""
    marks = ("--", "->", "<-", "+")
    return not (token in marks or token.startswith("[")) or not (
        before in marks or before.startswith("[")
    )


def _part(token: str) -> str:
    return f"[{' '.join(_WORDS.findall(token[1:-1]))}]"


def _block_of(row: _Row) -> tuple[bool, str]:
    """Neighbouring lines of one block are laid out together."""
    return row.bare, row.table


def _laid_out(rows: list[_Row]) -> list[str]:
    if rows[0].bare:
        return [f"{row.indent}{row.remark}" for row in rows]
    codes = [f"{row.indent}{code}" for row, code in zip(rows, _columns(rows), strict=True)]
    ends = [len(c) for c, row in zip(codes, rows, strict=True) if row.remark]
    column = max([e for e in ends if e <= REMARK_AT], default=0)
    return [
        f"{code.ljust(column)}  {row.remark}" if row.remark else code
        for code, row in zip(codes, rows, strict=True)
    ]


def _columns(rows: list[_Row]) -> list[str]:
    """The first fields of a table's rows padded to the same width."""
    if not rows[0].table:
        return [row.code for row in rows]
    cells = [_WORDS.findall(row.code) for row in rows]
    size = FIELDS[rows[0].table]
    widths = [max((len(c[n]) for c in cells if len(c) > n), default=0) for n in range(size)]
    padded = []
    for fields in cells:
        head = [f.ljust(w) for f, w in zip(fields[:size], widths, strict=False)]
        padded.append(" ".join([*head, *fields[size:]]).rstrip())
    return padded


def _single_blanks(lines: list[str]) -> list[str]:
    kept = [line.rstrip() for line in lines]
    return [a for before, a in zip(["", *kept], kept, strict=False) if a or before]
