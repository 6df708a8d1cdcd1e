"""Circuit -> Picture: its panels laid out, wired, labelled and put on one sheet."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.picture.board import Board
from coldcheck.picture.devices import MARKS, Symbol, devices_of, inventory
from coldcheck.picture.findings import Marked
from coldcheck.picture.finish import NoRoomError, dots, finish
from coldcheck.picture.heater_panel import lay_heaters
from coldcheck.picture.labels import finding_calls, net_notes, rail_notes, room_of
from coldcheck.picture.lines import wires_of
from coldcheck.picture.model import Panel, Picture
from coldcheck.picture.panels import PanelKind, groups_of
from coldcheck.picture.roles import roles_of
from coldcheck.picture.scene import is_named
from coldcheck.picture.sheet import on_sheet
from coldcheck.picture.signal_panel import lay_signal
from coldcheck.picture.supply_panel import lay_supply

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.picture.devices import Inventory
    from coldcheck.picture.grid import Cell, Word
    from coldcheck.picture.panels import Group
    from coldcheck.picture.roles import Roles
    from coldcheck.picture.route import Wires
    from coldcheck.picture.scene import Scene

_NO_VOLTS: Mapping[str, str] = MappingProxyType({})
_NO_FINDINGS = Marked()


def picture_of(
    circuit: Circuit,
    volts: Mapping[str, str] = _NO_VOLTS,
    state: str = "",
    marked: Marked = _NO_FINDINGS,
) -> Picture:
    """The picture of a circuit; ``volts`` are words for the nets, as ``165 V``.

    ``state`` is what is said under the title, ``marked`` are the findings to show.
    """
    stock = inventory(devices_of(circuit))
    roles = roles_of(circuit, stock)
    groups = groups_of(stock, roles)
    shared = _shared(groups) | _open(circuit, stock)
    panels = [_panel(group, roles, shared, volts, marked) for group in groups]
    return on_sheet(circuit.drawing.title, state, panels, marked.entries)


def _shared(groups: list[Group]) -> frozenset[str]:
    """Nets used in more than one panel."""
    seen: dict[str, int] = {}
    for group in groups:
        for net in group.stock.uses:
            seen[net] = seen.get(net, 0) + 1
    return frozenset(net for net, times in seen.items() if times > 1 and net not in MARKS)


def _open(circuit: Circuit, stock: Inventory) -> frozenset[str]:
    """Nets that go on where nothing is drawn: loose points, leads of what is not known."""
    drawn = {*stock.devices, *circuit.tubes, *circuit.transformers}
    drawn |= {name.partition(".")[0] for name in stock.devices}
    loose = {n for n, at in stock.uses.items() if len(at) == 1 and is_named(n)}
    for net, names in circuit.names.items():
        owners = {name.partition(".")[0] for name in names if "." in name}
        if net in stock.uses and not owners <= drawn:
            loose.add(net)
    return frozenset(loose) - set(MARKS) - {"line", "neutral"}


def _panel(
    group: Group, roles: Roles, shared: frozenset[str], volts: Mapping[str, str], marked: Marked
) -> Panel:
    scene, wires = _wired(group, roles, shared)
    spots = tuple((_net_at(scene, wires, cell), cell) for cell in dots(scene, wires))
    room = room_of(scene, wires)
    calls = tuple(finding_calls(scene, wires, room, marked))
    notes = (*net_notes(scene, wires, room, volts), *rail_notes(scene, room, volts))
    lines = tuple(wires_of(wires))
    words = [note.word for note in notes] + [call.word for call in calls]
    left, top, right, bottom = _bounds(scene, [c for w in lines for c in w.points], words)
    return Panel(
        group.name, group.title, left, top, right - left, bottom - top,
        tuple(scene.board.items), lines, spots, notes, calls,
    )  # fmt: skip


def _wired(group: Group, roles: Roles, shared: frozenset[str]) -> tuple[Scene, Wires]:
    """A panel laid out and wired: close together, or with more and more room.

    In practice the first does; but no circuit may be without a picture.
    """
    last = NoRoomError()
    for roomy, margin in ((False, 1), (True, 1), (True, 3), (True, 6)):
        scene = _laid(Board(roomy=roomy, margin=margin), group, roles, shared)
        try:
            return scene, finish(scene, shared)
        except NoRoomError as problem:
            last = problem
    raise last


def _laid(board: Board, group: Group, roles: Roles, shared: frozenset[str]) -> Scene:
    positive, negative = frozenset(roles.positive), frozenset(roles.negative)
    match group.kind:
        case PanelKind.SIGNAL:
            return lay_signal(board, group.stock, roles.marks | negative, positive)
        case PanelKind.HEATERS:
            lines = _heater_lines(group.stock) - roles.marks
            below, above = roles.marks | (negative - lines), positive - lines
            return lay_heaters(board, group.stock, below, above)
        case PanelKind.SUPPLY | PanelKind.BIAS:
            leading = _leading(group.stock, roles, shared)
            return lay_supply(board, group.stock, roles.marks, leading)


def _heater_lines(stock: Inventory) -> frozenset[str]:
    """The ends of windings that have heaters and nothing else on them, be they rails or not."""
    heating = (Symbol.WINDING, Symbol.HEATER)
    ends = {n for d in stock.devices.values() if d.symbol is Symbol.WINDING for n in d.nets}
    only = (n for n in ends if all(d.symbol in heating for d in stock.at(n)))
    return frozenset(n for n in only if len(stock.at(n)) > 1)


def _leading(stock: Inventory, roles: Roles, shared: frozenset[str]) -> frozenset[str]:
    """The rails that others use, and those on the way to them."""
    order = [net for net in (*roles.positive, *roles.negative) if net in stock.uses]
    wanted = {net for net in order if net in shared}
    for net in reversed(order):
        near = {n for d in stock.at(net) for n in d.nets if n in wanted}
        if any(order.index(net) < order.index(other) for other in near):
            wanted.add(net)
    return frozenset(wanted)


def _net_at(scene: Scene, wires: Wires, cell: Cell) -> str:
    """The net of the dot at a cell."""
    for net, ports in scene.board.leads.items():
        if any(port.cell == cell for port in ports):
            return net
    here = wires.at[cell]
    return max(here, key=lambda net: len(here[net]))


def _bounds(scene: Scene, cells: list[Cell], words: list[Word]) -> tuple[int, int, int, int]:
    """All that is drawn, with a margin."""
    spots = [*cells, *(c for word in words for c in word.cells)]
    left, top, right, bottom = scene.board.box
    xs, ys = [c[0] for c in spots] or [left], [c[1] for c in spots] or [top]
    return (min(left, *xs) - 2, min(top, *ys) - 2, max(right, *xs) + 3, max(bottom, *ys) + 2)
