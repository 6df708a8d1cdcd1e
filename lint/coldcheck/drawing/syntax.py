"""The parser, built once, and lark's errors put into plain words."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING

from lark import UnexpectedInput, UnexpectedToken

from coldcheck.drawing.tables import load

if TYPE_CHECKING:
    from lark import Lark, Token, Tree

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.model import Problem

# What each terminal is called on the bench, in the order a message lists them.
_WORDS = {
    "WIRE": "a wire --",
    "FROM": "",
    "TO": "an arrow ->",
    "LSQB": "a part in brackets",
    "RSQB": "the closing bracket ]",
    "POINT": "the name of a point",
    "NAME": "a name",
    "PART": "the part's name, such as R1",
    "LAYOUT": "poles and throws, such as spdt or 2p5t",
    "TAPER": "linear, log or reverse-log",
    "LEAD": "the lead with the dot",
    "TYPE": "a type",
    "RULE": "the name of a rule, such as tube.idle-dissipation",
    "NUMBER": "a value",
    "WORD": "a word",
    "STRING": "text in double quotes",
    "DATE": "a date, such as 2027-06-30",
    "COLON": "a colon",
    "COMMA": "a comma",
    "EQUAL": '"="',
    "MINUS": "- and another point",
    "INTO": '"to"',
    "PLUS": "",
    "$END": "the end of the line",
}


@lru_cache(maxsize=1)
def parser() -> Lark:
    """Return the parser of single statements, made once a process."""
    return load()


def parse_line(line: Line) -> Tree[Token] | Problem:
    """Parse one logical line; return its tree, or the one problem that stopped the parser."""
    try:
        return parser().parse(line.text)
    except UnexpectedInput as error:
        return _problem(line, error)


def _problem(line: Line, error: UnexpectedInput) -> Problem:
    from coldcheck.drawing.slips import hint_for

    start, end = _place(line, error)
    expected = _expected(error)
    slip = hint_for(line.text, start)
    if slip.start is not None:
        start, end = slip.start, slip.end or slip.start + 1
    found = slip.found or _found(line.text, start, end)
    return line.problem("drawing.syntax", start, end, found, slip.expected or expected, slip.hint)


def _place(line: Line, error: UnexpectedInput) -> tuple[int, int]:
    """Return the stretch of text that did not fit: a word, a mark, or the end of the line."""
    text = line.text
    start: int | None = error.pos_in_stream
    if isinstance(error, UnexpectedToken) and error.token.type == "$END":
        start = None
    if start is None or start < 0 or start >= len(text):
        return len(text.rstrip()), len(text.rstrip()) + 1
    end = start + 1
    if _wordy(text[start]):
        while end < len(text) and _wordy(text[end]):
            end += 1
    elif text.startswith(("--", "->", "<-"), start):
        end = start + 2
    elif text[start] == '"' and (close := text.find('"', start + 1)) > 0:
        end = close + 1
    return start, end


def _wordy(char: str) -> bool:
    return char.isalnum() or char in "_.:%?,/µΩ"


def _found(text: str, start: int, end: int) -> str:
    if start >= len(text.rstrip()):
        return "the end of the line"
    piece = text[start:end]
    if len(piece) == 1 and (not piece.isprintable() or not piece.isascii()):
        name = unicodedata.name(piece, "a control character").lower()
        return f"{name} (U+{ord(piece):04X})" if not piece.isprintable() else f'"{piece}" ({name})'
    shown = piece if len(piece) <= 40 else piece[:37] + "..."
    return shown if shown.startswith('"') else f'"{shown}"'


def _expected(error: UnexpectedInput) -> str:
    # The parser's own choices: the lexer's list lacks the end of the line.
    parser_there = error.interactive_parser
    choices = parser_there.choices() if parser_there else ()  # type: ignore[no-untyped-call]
    allowed = {name for name in choices if name.isupper()}
    if {"POINT", "DRAWING"} <= allowed:
        return "a statement, or the name of a point where a wire begins"
    words = [text for name, text in _WORDS.items() if name in allowed and text]
    words[-1:-1] = sorted(f'"{name.lower()}"' for name in allowed - set(_WORDS))
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]
