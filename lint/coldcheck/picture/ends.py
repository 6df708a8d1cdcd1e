"""Where a lead's net ends: a mark or a flag near it, and the way to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.devices import MARKS
from coldcheck.picture.grid import Dir
from coldcheck.picture.scene import end_item

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Board, Item
    from coldcheck.picture.grid import Cell, Port
    from coldcheck.picture.scene import Scene


def end_lead(scene: Scene, port: Port, net: str) -> tuple[Cell, ...] | None:
    """Put a mark or a flag near a lead; the way to it, which is kept free from then on."""
    board = scene.board
    for tight, most in ((False, 160), (True, 160), (False, 4000)):
        for path in _near(board, port, net, most):
            for way in _ways(scene, net, port):
                if (way.of(path[-1]) in board.near) > tight:
                    continue
                item = end_item(net, path[-1], way)
                free = board.exits.get(path[-1], net) == net and item.cells.isdisjoint(path)
                if free and board.fits([item], tight=tight):
                    _put_end(board, item, net, path)
                    return path
    return None


def _put_end(board: Board, item: Item, net: str, path: tuple[Cell, ...]) -> None:
    """Put a mark or a flag: the way to it is kept free, and no other."""
    exits, porch = dict(board.exits), dict(board.porch)
    board.put([item])
    board.exits = {**exits, **dict.fromkeys(path, net)}
    board.porch = porch


def _ways(scene: Scene, net: str, port: Port) -> tuple[Dir, ...]:
    if net in MARKS:
        return (Dir.DOWN,)
    first = Dir.UP if net in scene.above else Dir.DOWN
    return (first, *(w for w in (Dir.RIGHT, Dir.LEFT) if w is port.way), first.back)


def _near(board: Board, port: Port, net: str, most: int) -> Iterator[tuple[Cell, ...]]:
    """Ways over free cells from a lead, the shortest first, beginning the way it points."""
    paths: dict[Cell, tuple[Cell, ...]] = {port.cell: (port.cell,)}
    waiting = [port.cell]
    if port.way is Dir.DOWN or net not in MARKS:
        yield paths[port.cell]
    for cell in waiting:
        for way in (port.way, Dir.DOWN, Dir.RIGHT, Dir.LEFT, Dir.UP):
            beyond = way.of(cell)
            kept = board.exits.get(beyond, net), board.lines.get(beyond, net)
            taken = kept != (net, net) or beyond in board.filled
            if beyond in paths or taken or len(paths) > most:
                continue
            paths[beyond] = (*paths[cell], beyond)
            waiting.append(beyond)
            yield paths[beyond]
