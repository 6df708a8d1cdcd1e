"""Laid wires as lines: from end to end or dot to dot, bend by bend."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.grid import Dir
from coldcheck.picture.model import Wire

if TYPE_CHECKING:
    from coldcheck.picture.grid import Cell
    from coldcheck.picture.route import Wires


def wires_of(wires: Wires) -> list[Wire]:
    """The wires of a panel as lines, in a steady order."""
    nets = sorted({net for here in wires.at.values() for net in here})
    return [line for net in nets for line in _lines(wires, net)]


def _lines(wires: Wires, net: str) -> list[Wire]:
    ways = {cell: set(here[net]) for cell, here in wires.at.items() if here.get(net)}
    starts = sorted(c for c, out in ways.items() if len(out) != 2 or wires.leads.get(c) == net)
    return [
        Wire(net, _follow(ways, start, way, set(starts)))
        for start in (*starts, *sorted(ways))
        for way in Dir
        if way in ways[start]
    ]


def _follow(
    ways: dict[Cell, set[Dir]], start: Cell, way: Dir, stops: set[Cell]
) -> tuple[Cell, ...]:
    """From a cell until a dot or an end; what is followed is used up."""
    points, cell = [start], start
    while True:
        ways[cell].discard(way)
        cell = way.of(cell)
        ways[cell].discard(way.back)
        if cell in stops or not ways[cell]:
            return (*points, cell)
        (following,) = ways[cell]
        if following is not way:
            points.append(cell)
            way = following
