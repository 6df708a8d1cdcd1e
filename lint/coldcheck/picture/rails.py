"""Rails as lines: flags of one rail side by side at one height are joined, and one is left."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from coldcheck.picture.board import Board
from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import Dir

if TYPE_CHECKING:
    from coldcheck.picture.board import Item
    from coldcheck.picture.grid import Cell
    from coldcheck.picture.scene import Scene

SHORT = 34
"""How far apart two uses of a rail may be to be joined by a line."""


def join_rails(scene: Scene) -> list[tuple[str, tuple[Cell, ...]]]:
    """Take away flags whose rail is named beside them; the lines that join them, by net."""
    flags = [i for i in scene.board.items if i.device.symbol is Symbol.FLAG and i.turn is Dir.UP]
    flags.sort(key=lambda i: (i.y, i.x))
    gone: list[Item] = []
    lines = []
    for left, right in pairwise(flags):
        net = left.device.leads[0].net
        path = tuple((x, left.y) for x in range(left.x, right.x + 1))
        same = right.device.leads[0].net == net and right.y == left.y
        if same and right.x - left.x <= SHORT and _free(scene.board, path, net):
            gone.append(right)
            lines.append((net, path))
    if gone:
        scene.board = _without(scene.board, gone)
        for net, path in lines:
            scene.board.porch |= dict.fromkeys(path, net)
            scene.board.lines |= dict.fromkeys(path, net)
    return lines


def _free(board: Board, path: tuple[Cell, ...], net: str) -> bool:
    return all(c not in board.filled and board.exits.get(c, net) == net for c in path)


def _without(board: Board, gone: list[Item]) -> Board:
    fresh = Board(roomy=board.roomy, margin=board.margin)
    fresh.put([item for item in board.items if item not in gone])
    for port, net in [(i.ports[0], i.device.leads[0].net) for i in gone]:
        fresh.leads.setdefault(net, [])
        fresh.exits[port.cell] = net
    return fresh
