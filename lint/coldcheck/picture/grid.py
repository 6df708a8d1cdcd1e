"""The grid a picture is laid out on: ways, ports of symbols, words, and the cells they fill.

The unit is a cell; ``y`` grows downwards.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from math import ceil, floor
from typing import TypeAlias

from coldcheck.records import dataclass

Cell: TypeAlias = tuple[int, int]


class Dir(Enum):
    """The four ways on the grid."""

    UP = (0, -1)
    RIGHT = (1, 0)
    DOWN = (0, 1)
    LEFT = (-1, 0)

    # The router asks for these some hundred thousand times a picture: no properties of Enum's.
    __hash__ = object.__hash__

    def __init__(self, dx: int, dy: int) -> None:
        self.dx, self.dy = dx, dy

    @property
    def back(self) -> Dir:
        """The opposite way."""
        return _BACK[self]

    def of(self, cell: Cell, steps: int = 1) -> Cell:
        """The cell some steps this way from another."""
        return (cell[0] + steps * self.dx, cell[1] + steps * self.dy)


def way_of(dx: int, dy: int) -> Dir:
    """The way of a step to a neighbouring cell."""
    return next(way for way in Dir if way.dx == dx and way.dy == dy)


_BACK = {Dir.UP: Dir.DOWN, Dir.DOWN: Dir.UP, Dir.LEFT: Dir.RIGHT, Dir.RIGHT: Dir.LEFT}
SIDES = {
    Dir.UP: (Dir.LEFT, Dir.RIGHT), Dir.DOWN: (Dir.LEFT, Dir.RIGHT),
    Dir.LEFT: (Dir.UP, Dir.DOWN), Dir.RIGHT: (Dir.UP, Dir.DOWN),
}  # fmt: skip
"""The two ways across a way."""


class Anchor(Enum):
    """Which end of a text its place is."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


class Tone(Enum):
    """What a text is: it sets size and weight."""

    NAME = "name"
    VALUE = "value"
    PIN = "pin"
    NET = "net"
    VOLTS = "volts"
    TITLE = "title"
    MARK = "mark"


SIZES = {
    Tone.NAME: 1.0, Tone.VALUE: 0.95, Tone.PIN: 0.75, Tone.NET: 0.95, Tone.VOLTS: 0.95,
    Tone.TITLE: 1.3, Tone.MARK: 0.95,
}  # fmt: skip
"""Height of the letters' body in cells."""

_NARROW, _WIDE = "iljtf.,:;|!()[]' /I-", "mwMW%Ω@ΩQOGCDHNUR&"


def text_width(text: str, tone: Tone) -> float:
    """How wide a text is in cells, in the fonts a picture asks for (a little generous)."""
    units = sum(0.34 if c in _NARROW else 0.8 if c in _WIDE else 0.6 for c in text)
    return units * SIZES[tone]


@dataclass(frozen=True, slots=True)
class Port:
    """Where a lead ends, and which way a wire leaves it; ``label`` stands beside it."""

    name: str
    x: int
    y: int
    way: Dir
    label: str = ""

    @property
    def cell(self) -> Cell:
        """Its cell."""
        return (self.x, self.y)

    def moved(self, x: int, y: int) -> Port:
        """The same port of a symbol that stands elsewhere."""
        return replace(self, x=self.x + x, y=self.y + y)


@dataclass(frozen=True, slots=True)
class Word:
    """A text; ``(x, y)`` is the end of its base line that ``anchor`` says."""

    x: float
    y: float
    text: str
    tone: Tone
    anchor: Anchor = Anchor.START

    def moved(self, x: float, y: float) -> Word:
        """The same text elsewhere."""
        return replace(self, x=self.x + x, y=self.y + y)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        width = text_width(self.text, self.tone)
        left = {Anchor.START: self.x, Anchor.MIDDLE: self.x - width / 2, Anchor.END: self.x - width}
        x = left[self.anchor]
        return (x, self.y - 0.75 * SIZES[self.tone], x + width, self.y + 0.2 * SIZES[self.tone])

    @property
    def cells(self) -> frozenset[Cell]:
        """The cells a wire must keep out of."""
        left, top, right, bottom = self.box
        return block(ceil(left - 0.25), ceil(top - 0.25), floor(right + 0.25), floor(bottom + 0.25))


def block(left: int, top: int, right: int, bottom: int) -> frozenset[Cell]:
    """All cells of a rectangle, its edges included."""
    return frozenset((x, y) for x in range(left, right + 1) for y in range(top, bottom + 1))
