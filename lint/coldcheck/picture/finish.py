"""Marks and flags where wires end, the wires, the dots, and names where wires stay apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.ends import end_lead
from coldcheck.picture.rails import join_rails
from coldcheck.picture.route import Join, Wires, cheapest, join_all
from coldcheck.picture.scene import flag

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Item
    from coldcheck.picture.grid import Cell, Dir, Port
    from coldcheck.picture.scene import Scene

_ENDS = (Symbol.FLAG, *MARKS.values())


TRIES = 5
"""How often a panel is wired anew with more names instead of wires."""


class NoRoomError(RuntimeError):
    """A panel could not be wired: a fault of the layout, never to be drawn as if it were right."""


def finish(scene: Scene, named: frozenset[str]) -> Wires:
    """End and wire a panel; ``named`` are the nets that go on in other panels.

    A net whose wires leave no room for its name gets a name at each lead before any wire is laid.
    """
    bare = scene.board
    for _ in range(TRIES):
        scene.board = bare.copy()
        wires, stuck = _wired(scene, named)
        if not stuck:
            return wires
        if stuck <= scene.above:
            break  # they have their names at each lead already: it would go the same way again
        scene.above |= stuck
    raise NoRoomError(f"no room for the names of {', '.join(sorted(stuck))}")


def _wired(scene: Scene, named: frozenset[str]) -> tuple[Wires, frozenset[str]]:
    """The wires of a panel, and the nets that found no room for a name."""
    stuck: set[str] = set()
    ways = [*scene.ways, *join_rails(scene)]
    joined = {(net, cell) for net, path in ways for cell in path}
    for port, net in list(_bare_ends(scene, joined)):
        path = end_lead(scene, port, net)
        if path is None:
            stuck.add(net)
        else:
            ways.append((net, path))
    wires = Wires(scene.board)
    for net, path in ways:
        wires.lay(net, path)
    bonds = [Join(net, [{cell} for cell in cells]) for net, cells in scene.bonds]
    joins = [*bonds, *_joins(scene)]
    join_all(wires, joins)
    for join in joins:
        if join.net not in scene.ends and (len(join.clusters) > 1 or join.net in named):
            for cluster in join.clusters:
                if not _name(scene, wires, join.net, cluster):
                    stuck.add(join.net)
    return wires, frozenset(stuck)


def _bare_ends(scene: Scene, joined: set[tuple[str, Cell]]) -> Iterator[tuple[Port, str]]:
    """Leads on a mark's or a rail's net that have no mark or flag yet."""
    marked = {
        (item.device.leads[0].net, item.ports[0].cell)
        for item in scene.board.items
        if _is_end(item, scene)
    }
    marked |= {(net, cell) for net, cells in scene.bonds for cell in cells} | joined
    for item in scene.board.items:
        if _is_end(item, scene):
            continue
        for lead in item.device.leads:
            port = item.port(lead.name)
            if lead.net in scene.ends and (lead.net, port.cell) not in marked:
                marked.add((lead.net, port.cell))
                yield port, lead.net


def _is_end(item: Item, scene: Scene) -> bool:
    return item.device.symbol in _ENDS and item.device is not scene.stock.devices.get(
        item.device.name
    )


def _joins(scene: Scene) -> list[Join]:
    """The nets that are wires, with the cells of their leads."""
    found = []
    for net, ports in scene.board.leads.items():
        if net not in scene.ends:
            cells = dict.fromkeys(port.cell for port in ports)
            found.append(Join(net, [{cell} for cell in cells]))
    return found


def _name(scene: Scene, wires: Wires, net: str, cluster: set[Cell]) -> bool:
    """Put a net's name on a flag near a cluster of its wires."""
    choice: list[Item] = []

    def arrived(cell: Cell, way: Dir) -> bool:
        if wires.at.get(cell) or way.of(cell) in scene.board.near:
            return False
        item = flag(net, cell, way)
        if any(wires.at.get(c) for c in item.cells) or not scene.board.fits([item]):
            return False
        choice[:] = [item]
        return True

    found = cheapest(wires, net, cluster, arrived, lambda _: 0.0, 1000.0)
    if found is None:
        return False
    scene.board.put(choice)
    wires.leads[choice[0].ports[0].cell] = net
    wires.lay(net, found.path)
    return True


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
