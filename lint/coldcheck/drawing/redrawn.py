"""A drawing with one thing in it drawn otherwise: a value, a direction, a lead, a wire.

Statements keep their places, so that what is said of the changed drawing points at the line to
change. A part, a wire and a point are known by the place they stand at: what is written once in a
sheet is changed in all its instances, as it would be on paper.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Chain, Mains, Part, Point, TubeLine, WindingLine
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.drawing.model import Drawing, Span, Statement
    from coldcheck.drawing.units import Quantity

_TURNED = {"left": "right", "right": "left", None: None}


@dataclass(frozen=True, slots=True)
class Wire:
    """A plain wire on a line: the statement's place, and which of its links it is."""

    chain: Span
    link: int


def revalued(drawing: Drawing, span: Span, value: Quantity) -> Drawing:
    """The part at a place with another value."""
    return _parts(drawing, span, lambda part: replace(part, value=value))


def turned(drawing: Drawing, span: Span) -> Drawing:
    """The part at a place the other way round: its plus, or its arrow."""
    return _parts(
        drawing, span,
        lambda part: replace(part, plus=_TURNED[part.plus], arrow=_TURNED[part.arrow]),
    )  # fmt: skip


def ends_moved(drawing: Drawing, span: Span, end: int, to: Point) -> Drawing:
    """The part at a place with its left (0) or right (1) end on another point.

    What else was on its line stays joined as it was; a part that meets another without a point
    between them is left where it is.
    """

    def moved(chain: Chain) -> Iterator[Statement]:
        place = next((k for k, x in enumerate(chain.links) if x and x.span == span), None)
        own = [] if place is None else [chain.points[place], chain.points[place + 1]]
        if place is None or None in own:
            yield chain
            return
        own[end] = replace(to, span=chain.span)
        yield Chain(tuple(own), (chain.links[place],), chain.span)
        yield from _piece(chain, 0, place)
        yield from _piece(chain, place + 1, len(chain.links))

    return _chains(drawing, moved)


def _piece(chain: Chain, first: int, last: int) -> Iterator[Statement]:
    """A stretch of a wiring statement from one of its points to a later one."""
    if last > first:
        yield Chain(chain.points[first : last + 1], chain.links[first:last], chain.span)


def unwired(drawing: Drawing, wire: Wire) -> Drawing:
    """Without one plain wire."""

    def cut(chain: Chain) -> Iterator[Statement]:
        if chain.span != wire.chain or chain.links[wire.link] is not None:
            yield chain
            return
        yield from _piece(chain, 0, wire.link)
        yield from _piece(chain, wire.link + 1, len(chain.links))

    return _chains(drawing, cut)


def wired(drawing: Drawing, one: Point, other: Point) -> Drawing:
    """With a plain wire more."""
    line = Chain((one, other), (None,), one.span)
    return replace(drawing, statements=(*drawing.statements, line))


def rewritten(drawing: Drawing, instead: Callable[[Point], Point]) -> Drawing:
    """With other points where points are written on wires, ``instead`` of each."""

    def written(chain: Chain) -> Iterator[Statement]:
        points = tuple(None if p is None else instead(p) for p in chain.points)
        yield replace(chain, points=points)

    return _chains(drawing, written)


def wound(drawing: Drawing, span: Span, volts: Quantity) -> Drawing:
    """The winding at a place with another voltage, end to end."""

    def one(statement: Statement) -> Iterator[Statement]:
        if isinstance(statement, WindingLine) and statement.span == span:
            total = sum(statement.voltages[1:], statement.voltages[0])
            share = float((volts / total).m_as(""))
            statement = replace(statement, voltages=tuple(v * share for v in statement.voltages))
        yield statement

    return _statements(drawing, one)


def heated_by(drawing: Drawing, span: Span, winding: str) -> Drawing:
    """The tube declared at a place with its heater on another winding."""
    owner, _, lead = winding.partition(".")

    def one(statement: Statement) -> Iterator[Statement]:
        if isinstance(statement, TubeLine) and statement.span == span and statement.heater:
            to = replace(statement.heater, owner=owner, lead=lead, pin=None)
            statement = replace(statement, heater=to)
        yield statement

    return _statements(drawing, one)


def point_moved(drawing: Drawing, span: Span, to: Point) -> Drawing:
    """The point written at a place, which a plain wire leads to, is another one."""
    return rewritten(drawing, lambda p: replace(to, span=p.span) if p.span == span else p)


def on_other_mains(drawing: Drawing, volts: Quantity) -> Drawing:
    """With another mains voltage."""

    def one(statement: Statement) -> Iterator[Statement]:
        yield replace(statement, voltage=volts) if isinstance(statement, Mains) else statement

    return _statements(drawing, one)


def _parts(drawing: Drawing, span: Span, change: Callable[[Part], Part]) -> Drawing:
    def changed(chain: Chain) -> Iterator[Statement]:
        links = tuple(change(x) if x is not None and x.span == span else x for x in chain.links)
        yield replace(chain, links=links)

    return _chains(drawing, changed)


def _chains(drawing: Drawing, change: Callable[[Chain], Iterator[Statement]]) -> Drawing:
    def one(statement: Statement) -> Iterator[Statement]:
        if isinstance(statement, Chain):
            yield from change(statement)
        else:
            yield statement

    return _statements(drawing, one)


def _statements(drawing: Drawing, change: Callable[[Statement], Iterator[Statement]]) -> Drawing:
    return replace(drawing, statements=tuple(n for s in drawing.statements for n in change(s)))
