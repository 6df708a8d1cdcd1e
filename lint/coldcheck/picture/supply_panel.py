"""The supply from left to right: mains, transformer, rectifier, filter, rails; and the bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.board import Board, Item, rightward
from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.grid import Dir
from coldcheck.picture.rest import place_rest
from coldcheck.picture.scene import (
    LONG,
    Scene,
    end_item,
    is_two_lead,
    lying,
    mark,
    other_net,
    turned,
)
from coldcheck.picture.stages import cathode_net, plate_net

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.devices import Device, Inventory
    from coldcheck.picture.grid import Cell

GAP, FORK = 3, 16
"""To the next part in line; from one line to the next where a rail forks."""
BONDS = 11
"""The row of the marks that are joined, below the mains."""


def lay_supply(
    board: Board, stock: Inventory, below: frozenset[str], leading: frozenset[str]
) -> Scene:
    """Lay out a supply; ``leading`` are the rails that lead on to other panels."""

    def sinks(net: str, device: Device) -> bool:
        if net in leading or not all(is_two_lead(d) for d in stock.at(net)):
            return False
        dead = {*below, other_net(device, net)}
        return all(other_net(d, net) in dead for d in stock.at(net))

    scene = Scene(stock, below, frozenset(), sinks, board, stops=leading)
    _bonds(scene)
    mains = _mains(scene, leading)
    waiting = list(mains)
    for net in waiting:
        waiting += [n for n in _walk(scene, net, leading, _ALL) if n not in waiting]
        if net == waiting[-1]:
            waiting += [n for n in _onward(scene, waiting, leading) if n not in waiting]
    place_rest(scene)
    return scene


def _mains(scene: Scene, leading: frozenset[str]) -> list[str]:
    """Place what is in line with the mains and across them; the nets reached.

    A wire that has a part to a point of the other one goes on when that point has its place.
    """
    found = list(_starts(scene))
    left = list(found)
    while left:
        net = next((n for n in left if not _held_back(scene, n)), left[0])
        left.remove(net)
        fresh = [n for n in _walk(scene, net, leading, _IN_LINE) if n not in found]
        found += fresh
        left += fresh
    return found


def _held_back(scene: Scene, net: str) -> bool:
    return any(_waits(scene, device, net) for device in scene.waiting(net))


def _onward(scene: Scene, walked: list[str], leading: frozenset[str]) -> list[str]:
    """Where it goes on when nothing more is in line: through a capacitor, else anew."""
    for net in walked:
        found = _walk(scene, net, leading, _ALL, through=True)
        if found:
            return found
    return list(_again(scene))


def _starts(scene: Scene) -> Iterator[str]:
    """Where the mains come in, else the first transformer or source."""
    for device in scene.stock.devices.values():
        if device.symbol is Symbol.TERMINAL:
            ended = device.leads[0].net in scene.ends
            scene.put([Item(device, 0, 0 if device.name == "line" else 6 if ended else 4)])
            yield from () if ended else (device.leads[0].net,)
    if not scene.board.items:
        yield from _again(scene)


def _again(scene: Scene) -> Iterator[str]:
    """Something else to begin with: a transformer, a winding."""
    for symbol in (Symbol.TRANSFORMER, Symbol.WINDING):
        for device in scene.stock.devices.values():
            if device.symbol is symbol and device.name not in scene.done:
                box = scene.board.box
                y = 0 if not scene.board.items else box[3] + 6
                scene.put_anywhere([Item(device, 6, y)])
                yield from _secondary_nets(scene, device)
                return


def _secondary_nets(scene: Scene, device: Device) -> list[str]:
    return [lead.net for lead in device.leads if lead.net not in scene.ends]


_IN_LINE = (
    Symbol.FUSE, Symbol.SWITCH, Symbol.POLE, Symbol.THERMISTOR, Symbol.RESISTOR, Symbol.INDUCTOR,
)  # fmt: skip
_ALL = tuple(Symbol)
"""First only what is in line with the mains, or across it, is placed: the transformer stands
behind it."""

JOINT = 3
"""From one gas tube's cathode to the plate of the next below: room for what joins there."""

NEXT_TO, PAST = 24, 6
"""Columns within which what hangs at the upper wire of the mains hangs below the lower; how far."""


def _past_the_other() -> Iterator[tuple[int, int]]:
    """Shifts for what hangs at the upper of two wires: in the way of the lower it is in the way."""
    yield from ((dx, PAST) for dx in range(NEXT_TO))
    yield from rightward()


def _walk(
    scene: Scene,
    net: str,
    leading: frozenset[str],
    kinds: tuple[Symbol, ...],
    *,
    through: bool = False,
) -> list[str]:
    """Place what is on a net; the nets that became reachable.

    ``through``: also through capacitors, which otherwise wait for both their ends.
    """
    if net not in scene.at or net in scene.ends:
        return []
    at = scene.at[net]
    found: list[str] = []
    tapped = _is_tap(scene, net)
    if not tapped:
        upper = kinds is _IN_LINE and any(y == at[1] + LONG for _, y in scene.at.values())
        ways = _past_the_other if upper else rightward
        scene.attach(net, at, sinking=True, ways=ways)
    line = 0
    for device in sorted(scene.waiting(net), key=lambda d: _rank(scene, d, net, leading)):
        across = is_two_lead(device) and other_net(device, net) in scene.at
        if device.name in scene.done or not (across or device.symbol in kinds):
            continue
        if not through and _waits(scene, device, net):
            continue
        if is_two_lead(device):
            line += _line(scene, device, net, scene.at[net], line)
            if across and kinds is _IN_LINE:
                _go_on_behind(scene, device)
        elif device.symbol is Symbol.POLE:
            _pole(scene, device, net, at)
        elif device.symbol in (
            Symbol.RECTIFIER,
            Symbol.TRANSFORMER,
            Symbol.REGULATOR,
            Symbol.BRIDGE,
            Symbol.STABILISER,
        ):
            _large(scene, device, net, at)
        else:
            continue
        found += [n for n in device.nets if n not in scene.ends]
    return found


def _go_on_behind(scene: Scene, device: Device) -> None:
    """Let both nets go on to the right of a part that is across them."""
    placed = scene.board.placed(device.name)
    for lead in device.leads if placed is not None else ():
        if placed is not None and lead.net not in scene.ends:
            x, y = scene.at[lead.net]
            scene.at[lead.net] = (max(x, placed.port(lead.name).x), y)


def _waits(scene: Scene, device: Device, net: str) -> bool:
    """Whether a capacitor, or what is across one, leads to where nothing stands yet."""
    if not is_two_lead(device):
        return False
    far = other_net(device, net)
    if far in scene.at or far in scene.ends:
        return False
    return any(d.symbol is Symbol.CAPACITOR and far in d.nets for d in scene.waiting(net))


def _bonds(scene: Scene) -> None:
    """Marks of different kinds on one net, side by side and joined."""
    extra = [d for d in scene.stock.devices.values() if d.symbol in MARKS.values()]
    nets = dict.fromkeys(d.leads[0].net for d in extra)
    x = 2
    for net in nets:
        items = [Item(d, x + 4 * n, BONDS) for n, d in enumerate(extra) if d.leads[0].net == net]
        if net in MARKS:
            items.append(mark(net, (x + 4 * len(items), BONDS)))
        scene.put(items, rightward())
        scene.bonds.append((net, [item.ports[0].cell for item in items]))
        x += 4 * len(items) + 4


def _pole(scene: Scene, device: Device, net: str, at: Cell) -> None:
    """A pole of a switch in line, its lead from the left on the same row."""
    common = device.leads[0].net == net
    item = Item(device, 0, 0, flip=not common)
    port = item.port(next(lead.name for lead in device.leads if lead.net == net))
    items = [item.moved(at[0] + GAP - port.x, at[1] - port.y)]
    if scene.put(items, rightward(60)) is None:
        scene.put_anywhere(items)


def _is_tap(scene: Scene, net: str) -> bool:
    """Whether a net is the middle of a winding: what is on it lies between the halves."""
    return any(
        scene.stock.devices[d].symbol is Symbol.TRANSFORMER and lead.endswith("ct")
        for d, lead in scene.stock.uses[net]
    )


def _rank(
    scene: Scene, device: Device, net: str, leading: frozenset[str]
) -> tuple[bool, bool, bool, bool]:
    """What closes a loop first, then what goes on in line, rails before the rest."""
    two = is_two_lead(device)
    known = two and other_net(device, net) in scene.at
    on = two and other_net(device, net) in leading
    return (not two, not known, not on, two and device.symbol is Symbol.CAPACITOR)


def _line(scene: Scene, device: Device, net: str, at: Cell, line: int) -> int:
    """Place a part in line; 1 where it took a line to the right."""
    far = other_net(device, net)
    if far in scene.at and far not in scene.ends:
        return _to_known(scene, device, net, at, far)
    start = (at[0] + GAP, at[1] + FORK * line)
    items = [lying(device, net, start)]
    if far in scene.below:
        items.append(end_item(far, (start[0] + LONG, start[1]), Dir.DOWN))
    if scene.put(items, rightward(80)) is None:
        scene.put_anywhere(items)
    return 1


def _to_known(scene: Scene, device: Device, net: str, at: Cell, far: str) -> int:
    """A part between two nets that have places."""
    there = scene.at[far]
    high = abs(there[1] - at[1])
    if device.symbol in (Symbol.DIODE, Symbol.LED) or high < LONG:
        start = (at[0] + GAP, at[1])
        placed = scene.put([lying(device, net, start)], rightward(80))
        if placed is None:
            scene.put_anywhere([lying(device, net, start)])
        return 1
    upper = net if at[1] <= there[1] else far
    x, y = max(at[0], there[0]), min(at[1], there[1])
    item = Item(device, x, y + LONG // 2, turned(device, upper, Dir.DOWN))
    if scene.put([item], rightward(40)) is None:
        scene.put_anywhere([item])
    return 0


def _large(scene: Scene, device: Device, net: str, at: Cell) -> None:
    """A rectifier between its plates' rows, a transformer on the row of its first lead."""
    flip = _turns(scene, device)
    item = Item(device, 0, 0, flip=flip)
    lead = next(lead for lead in device.leads if lead.net == net)
    y = at[1] - item.port(lead.name).y
    plates = [lead.net for lead in device.leads if lead.name in ("plate1", "plate2", "ac1", "ac2")]
    rows = [scene.at[n][1] for n in plates if n in scene.at]
    if len(rows) == 2:
        y = sum(rows) // 2
    right = max((scene.at[n][0] for n in device.nets if n in scene.at), default=at[0])
    items, ways = [item.moved(max(at[0], right) + 10, y)], [*rightward(80)]
    if device.symbol is Symbol.REGULATOR:
        items = _in_a_column(scene, item.moved(at[0], at[1] + 5))
        ways = [*_below_or_beside(), *ways]
    if scene.put(items, ways) is None:
        scene.put_anywhere(items)
    if device.symbol in (Symbol.RECTIFIER, Symbol.BRIDGE, Symbol.STABILISER):
        _start_line(scene, device)
    elif device.symbol is Symbol.TRANSFORMER:
        _taps(scene, device)


def _below_or_beside() -> Iterator[tuple[int, int]]:
    """Shifts for a gas tube: near the wire it is on, at most so far to the right or down."""
    return ((dx, dy) for dy in range(2 * PAST) for dx in range(PAST))


def _in_a_column(scene: Scene, first: Item) -> list[Item]:
    """A gas tube with those that its cathode feeds below it, one under the other."""
    items = [first]
    while True:
        above = items[-1]
        net = cathode_net(above.device)
        known = {item.device.name for item in items}
        fed = (
            d
            for d in (scene.waiting(net) if net is not None and net not in scene.ends else ())
            if d.symbol is Symbol.REGULATOR and d.name not in known and plate_net(d) == net
        )
        below = next(fed, None)
        if below is None:
            return items
        foot, item = above.port("cathode"), Item(below, 0, 0)
        head = item.port("plate")
        items.append(item.moved(foot.x - head.x, foot.y + JOINT - head.y))


def _taps(scene: Scene, device: Device) -> None:
    """What is in line with the middle of a winding comes first: it lies between the halves."""
    for lead in device.leads:
        if lead.name.endswith(".ct") and lead.net not in scene.ends:
            for part in scene.waiting(lead.net):
                if is_two_lead(part):
                    _line(scene, part, lead.net, scene.at[lead.net], 0)


def _turns(scene: Scene, device: Device) -> bool:
    """Whether the rail is taken from a filament's first end, or from a bridge's minus."""
    if device.symbol is Symbol.BRIDGE:
        plus = device.lead("plus")
        return plus is not None and plus.net in scene.ends
    if device.symbol is not Symbol.RECTIFIER:
        return False
    f1, f2 = device.lead("f1"), device.lead("f2")
    if f1 is None or f2 is None:
        return False
    return len(scene.stock.uses.get(f1.net, ())) > len(scene.stock.uses.get(f2.net, ()))


def _start_line(scene: Scene, device: Device) -> None:
    """The rail behind a rectifier begins to the right of it."""
    placed = scene.board.placed(device.name)
    if placed is None:
        return
    for lead in device.leads:
        port = placed.port(lead.name)
        if port.way is Dir.RIGHT and lead.net not in scene.ends:
            scene.at[lead.net] = (port.x + 2, port.y)
