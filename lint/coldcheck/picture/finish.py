"""Marks and flags where wires end, the wires, the dots, and names where wires stay apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.board import Item
from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.grid import Dir
from coldcheck.picture.route import Join, Wires, cheapest, join_all
from coldcheck.picture.scene import end_item, flag

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Board
    from coldcheck.picture.grid import Cell, Port
    from coldcheck.picture.scene import Scene

_ENDS = (Symbol.FLAG, *MARKS.values())


def finish(scene: Scene, named: frozenset[str]) -> Wires:
    """End and wire a panel; ``named`` are the nets that go on in other panels."""
    pairs = [pair for port, net in list(_bare_ends(scene)) if (pair := _end(scene, port, net))]
    wires = Wires(scene.board)
    bonds = [Join(net, [{cell} for cell in cells]) for net, cells in scene.bonds]
    joins = [*pairs, *bonds, *_joins(scene)]
    join_all(wires, joins)
    for join in joins:
        if join.net not in scene.ends and (len(join.clusters) > 1 or join.net in named):
            for cluster in join.clusters:
                _name(scene, wires, join.net, cluster)
    return wires


def _bare_ends(scene: Scene) -> Iterator[tuple[Port, str]]:
    """Leads on a mark's or a rail's net that have no mark or flag yet."""
    marked = {
        (item.device.leads[0].net, item.ports[0].cell)
        for item in scene.board.items
        if _is_end(item, scene)
    }
    marked |= {(net, cell) for net, cells in scene.bonds for cell in cells}
    for item in scene.board.items:
        if _is_end(item, scene):
            continue
        for lead in item.device.leads:
            port = item.port(lead.name)
            if lead.net in scene.ends and (lead.net, port.cell) not in marked:
                marked.add((lead.net, port.cell))
                yield port, lead.net


def _is_end(item: Item, scene: Scene) -> bool:
    return item.device.symbol in _ENDS and item.device.name not in scene.stock.devices


def _end(scene: Scene, port: Port, net: str) -> Join | None:
    """Put a mark or a flag near a lead; the join to wire, if it is not right at it."""
    for tight in (False, True):
        for cell in _near(scene.board, port, net):
            for way in _ways(scene, net, port):
                item = end_item(net, cell, way)
                if cell in _path_blocked(scene.board, net, item):
                    continue
                if scene.board.fits([item], tight=tight):
                    scene.board.put([item])
                    return None if cell == port.cell else Join(net, [{port.cell}, {cell}])
    return Join(net, [{port.cell}])


def _path_blocked(board: Board, net: str, item: Item) -> set[Cell]:
    """Nothing, or the item's own port where another net's lead is."""
    cell = item.ports[0].cell
    return {cell} if board.exits.get(cell, net) != net else set()


def _ways(scene: Scene, net: str, port: Port) -> tuple[Dir, ...]:
    if net in MARKS:
        return (Dir.DOWN,)
    first = Dir.UP if net in scene.above else Dir.DOWN
    return (first, *(w for w in (Dir.RIGHT, Dir.LEFT) if w is port.way), first.back)


def _near(board: Board, port: Port, net: str, most: int = 160) -> Iterator[Cell]:
    """Free cells around a lead, the nearest first, beginning the way it points."""
    seen, waiting = {port.cell}, [port.cell]
    if port.way is Dir.DOWN or net not in MARKS:
        yield port.cell
    for cell in waiting:
        for way in (port.way, Dir.DOWN, Dir.RIGHT, Dir.LEFT, Dir.UP):
            beyond = way.of(cell)
            taken = board.exits.get(beyond, net) != net or beyond in board.filled
            if beyond in seen or taken or len(seen) > most:
                continue
            seen.add(beyond)
            waiting.append(beyond)
            yield beyond


def _joins(scene: Scene) -> list[Join]:
    """The nets that are wires, with the cells of their leads."""
    found = []
    for net, ports in scene.board.leads.items():
        if net not in scene.ends:
            cells = dict.fromkeys(port.cell for port in ports)
            found.append(Join(net, [{cell} for cell in cells]))
    return found


def _name(scene: Scene, wires: Wires, net: str, cluster: set[Cell]) -> None:
    """Put a net's name on a flag near a cluster of its wires."""
    choice: list[Item] = []

    def arrived(cell: Cell, way: Dir) -> bool:
        item = flag(net, cell, way)
        cells = item.cells
        free = scene.board.fits([item]) and not any(wires.at.get(c) for c in cells)
        if free and not wires.at.get(cell):
            choice[:] = [item]
            return True
        return False

    found = cheapest(wires, net, cluster, arrived, lambda _: 0.0, 1000.0)
    if found is not None:
        scene.board.put(choice)
        wires.leads[choice[0].ports[0].cell] = net
        wires.lay(net, found.path)


def dots(scene: Scene, wires: Wires) -> list[Cell]:
    """Where three or more of one net's wires and leads meet."""
    ends: dict[Cell, int] = {}
    for ports in scene.board.leads.values():
        for port in ports:
            ends[port.cell] = ends.get(port.cell, 0) + 1
    cells = sorted({*ends, *wires.at})
    return [c for c in cells if _meeting(wires, c) + ends.get(c, 0) > 2]


def _meeting(wires: Wires, cell: Cell) -> int:
    return max((len(ways) for ways in wires.at.get(cell, {}).values()), default=0)
