"""A pen that draws a symbol's strokes as SVG, turned and moved to the symbol's place."""

from __future__ import annotations

from dataclasses import field
from typing import TypeAlias

from coldcheck.picture.grid import Dir
from coldcheck.records import dataclass

Spot: TypeAlias = tuple[float, float]

CELL = 10
"""Units of the SVG to a cell."""


def number(value: float) -> str:
    """A coordinate, as short as it is exact to a hundredth."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def spot_text(x: float, y: float) -> str:
    """A place in units of the SVG."""
    return f"{number(x * CELL)} {number(y * CELL)}"


@dataclass(slots=True)
class Pen:
    """Strokes around ``(x, y)``; a symbol is drawn pointing down and turned by ``turn``.

    ``mirror`` exchanges left and right before that, ``upset`` above and below.
    """

    x: float
    y: float
    turn: Dir = Dir.DOWN
    mirror: bool = False
    upset: bool = False
    strokes: list[str] = field(default_factory=list)

    def spot(self, place: Spot) -> Spot:
        """Where a place of the symbol is on the sheet."""
        x, y = place
        x, y = (-x if self.mirror else x), (-y if self.upset else y)
        match self.turn:
            case Dir.DOWN:
                turned = (x, y)
            case Dir.UP:
                turned = (-x, -y)
            case Dir.RIGHT:
                turned = (y, -x)
            case Dir.LEFT:
                turned = (-y, x)
        return (self.x + turned[0], self.y + turned[1])

    def line(self, *places: Spot, kind: str = "") -> None:
        """A line through places."""
        self._path("M" + "L".join(spot_text(*self.spot(p)) for p in places), kind)

    def shape(self, *places: Spot, kind: str = "") -> None:
        """A closed figure."""
        self._path("M" + "L".join(spot_text(*self.spot(p)) for p in places) + "Z", kind)

    def box(self, left: float, top: float, right: float, bottom: float, kind: str = "") -> None:
        """A rectangle."""
        self.shape((left, top), (right, top), (right, bottom), (left, bottom), kind=kind)

    def arcs(self, start: Spot, ends: list[Spot], radius: float, *, clockwise: bool) -> None:
        """Arcs from one place to the next."""
        sweep = int(clockwise != (self.mirror != self.upset))
        text = "M" + spot_text(*self.spot(start))
        size = number(radius * CELL)
        for end in ends:
            text += f"A{size} {size} 0 0 {sweep} {spot_text(*self.spot(end))}"
        self._path(text, "")

    def circle(self, place: Spot, radius: float, kind: str = "") -> None:
        """A circle."""
        x, y = self.spot(place)
        named = f' class="{kind}"' if kind else ""
        self.strokes.append(
            f'<circle{named} cx="{number(x * CELL)}" cy="{number(y * CELL)}" '
            f'r="{number(radius * CELL)}"/>'
        )

    def capsule(self, radius: float, straight: float) -> None:
        """A circle drawn apart, with straight sides between its halves."""
        x, r = radius, number(radius * CELL)
        a, b, c, d = (
            spot_text(*self.spot(p))
            for p in ((-x, straight), (-x, -straight), (x, -straight), (x, straight))
        )
        arc = f"A{r} {r} 0 0 1 "
        self._path(f"M{a}L{b}{arc}{c}L{d}{arc}{a}Z", "envelope")

    def plus(self, place: Spot) -> None:
        """A small plus sign, upright however the symbol is turned."""
        x, y = self.spot(place)
        d = 0.28
        across = f"M{spot_text(x - d, y)}L{spot_text(x + d, y)}"
        self._path(f"{across}M{spot_text(x, y - d)}L{spot_text(x, y + d)}", "plus")

    def _path(self, d: str, kind: str) -> None:
        named = f' class="{kind}"' if kind else ""
        self.strokes.append(f'<path{named} d="{d}"/>')
