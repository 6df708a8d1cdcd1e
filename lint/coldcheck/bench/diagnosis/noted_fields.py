"""Lines of readings taken apart: fields of a table, words of what is typed, figures."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

ANY = ",;\t"
"""What sets fields apart in a line that is not of a table with a heading."""

_EXPONENT = re.compile(r"([-+]?\d+(?:\.\d+)?[eE][-+]?\d{1,2})\s*(.*)", re.ASCII | re.DOTALL)
_COMMA = re.compile(r"([-+]?\d+),(\d+)(?![\d.,])(.*)", re.ASCII | re.DOTALL)
_THOUSANDS = re.compile(r"([-+]?\d{1,3})((?:,\d{3})+)(\.\d+)(.*)", re.ASCII | re.DOTALL)
_GROUP = 3


class TwoWays(ValueError):  # noqa: N818 - reads as what it is
    """A comma that may be a decimal one or one of thousands; the text offers both."""


def separators(line: str) -> str:
    """What sets the fields of a line apart: where there is a semicolon or tab, no comma does."""
    bare = re.sub(r'"(?:[^"]|"")*"', "", line)
    strong = "".join(c for c in ";\t" if c in bare)
    return strong or ","


def split(line: str, apart: str = ANY) -> Iterator[tuple[int, str]]:
    """The fields of a line with the column each begins in; a field may be in double quotes."""
    some = re.escape(apart)
    field = re.compile(rf'\s*(?:"((?:[^"]|"")*)"\s*|([^{some}]*))(?=[{some}]|$)')
    at = 0
    while at <= len(line):
        match = field.match(line, at)
        if match is None:  # text after a closing quote
            end = next((k for k in range(at, len(line)) if line[k] in apart), len(line))
            yield at + 1, line[at:end].strip()
            at = end + 1
            continue
        quoted, bare = match.groups()
        text = bare if quoted is None else quoted.replace('""', '"')
        lead = len(line[at : match.end()]) - len(line[at : match.end()].lstrip())
        yield at + lead + 1, text.strip()
        at = match.end() + 1


def words(text: str) -> list[tuple[int, str]]:
    """The words of a typed line with the column each begins in."""
    return [(m.start() + 1, m.group()) for m in re.finditer(r"\S+", text)]


def plain(text: str, *, comma: bool = False) -> str:
    """A figure as people, spreadsheets and loggers write it, in the form that values have.

    A decimal comma becomes a point, an exponent (``1.066e+06``) is written out. ``comma`` says that
    a comma cannot be one of thousands here. Raises TwoWays where it is not to be told.
    """
    text = _without_commas(text.strip(), sure=comma)
    match = _EXPONENT.fullmatch(text)
    return text if match is None else f"{float(match[1]):.18f} {match[2]}".strip()


def _without_commas(text: str, *, sure: bool) -> str:
    if match := _THOUSANDS.fullmatch(text):
        return f"{match[1]}{match[2].replace(',', '')}{match[3]}{match[4]}"
    match = _COMMA.fullmatch(text)
    if match is None:
        return text
    whole, decimals, rest = match.groups()
    decimal = f"{whole}.{decimals}{rest}"
    if sure or len(decimals) != _GROUP or whole.lstrip("+-").startswith("0"):
        return decimal
    thousands = f"{whole}{decimals}{rest}"
    raise TwoWays(f"{text} may be {decimal} or {thousands}: write one of them")
