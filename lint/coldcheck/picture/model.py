"""A picture: symbols, wires, dots and texts at their places. Plain data, nothing to work out."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.picture.board import Item
    from coldcheck.picture.grid import Cell, Word


class Standard(Enum):
    """Whose symbols are drawn."""

    IEC = "iec"
    IEEE = "ieee"


@dataclass(frozen=True, slots=True)
class Wire:
    """A line along cells of a net."""

    net: str
    points: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Note:
    """A text that belongs to a net or to a finding: what it says, and of what."""

    about: str
    word: Word


@dataclass(frozen=True, slots=True)
class Call:
    """A number beside what it is about; ``level`` is a finding's signal word, of others empty."""

    number: int
    level: str
    about: str
    word: Word


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the list of findings under the picture; ``level`` is its signal word."""

    number: int
    level: str
    about: str
    text: str


@dataclass(frozen=True, slots=True)
class Panel:
    """A part of the picture with what is in it; places count from the picture's corner.

    ``name`` is what one asks for it by; ``title`` what stands above it.
    """

    name: str
    title: str
    x: int
    y: int
    width: int
    height: int
    items: tuple[Item, ...]
    wires: tuple[Wire, ...]
    dots: tuple[tuple[str, Cell], ...]
    notes: tuple[Note, ...]
    calls: tuple[Call, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """The whole sheet; the unit is a cell of the grid."""

    title: str
    state: str
    width: int
    height: int
    panels: tuple[Panel, ...]
    entries: tuple[Entry, ...] = ()
