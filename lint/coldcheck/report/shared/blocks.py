"""What a section of a report is made of, whatever form it is printed in.

A table is rows of finished cells; a form lays it out and never cuts a cell.
"""

from __future__ import annotations

from typing import TypeAlias

from coldcheck.records import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """``headings`` name the columns; ``words`` are the columns of words, the others of figures.

    The first column names its row.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = frozenset({0})


@dataclass(frozen=True, slots=True)
class Note:
    """A sentence under a table."""

    text: str


@dataclass(frozen=True, slots=True)
class Entries:
    """Labels and texts side by side; ``title`` stands above them where there is one."""

    items: tuple[tuple[str, str], ...]
    label_width: int
    title: str = ""


Block: TypeAlias = Table | Note | Entries


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]
