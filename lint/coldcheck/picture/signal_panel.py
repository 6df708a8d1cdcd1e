"""The signal stages: from the input to the right, each tube with what stands and hangs at it."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from coldcheck.picture.board import Board, Item, rightward
from coldcheck.picture.couplers import across, hot_nets, tuned_parts, tunes
from coldcheck.picture.devices import MARKS, Device, Symbol
from coldcheck.picture.ends import end_lead
from coldcheck.picture.grid import Dir
from coldcheck.picture.rest import place_rest
from coldcheck.picture.scene import (
    LONG,
    Chain,
    Course,
    Scene,
    end_item,
    is_two_lead,
    lying,
    other_net,
    stack,
    turned,
)
from coldcheck.picture.stages import (
    LANE,
    Order,
    cathode_net,
    control,
    order_of,
    plate_net,
    tails,
)
from coldcheck.picture.tube_geometry import grid_row, grids_of, half_height
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.picture.devices import Coil, Inventory
    from coldcheck.picture.grid import Cell

GAP = 3
"""From a part's lead to the next part in line."""

WRAP, BETWEEN = 150, 20
"""How far a row of stages goes before the next begins; from its foot to the next one's middle."""
ABOVE = 13
"""From a signal up to the jack it comes in by."""

COIL, BY_COIL, REACH = 8, 3, 60
"""From what leads to a coil to its leads; from these to what is across it, and at most."""

PAIR = 13
"""From a section to the next one on the same cathode, less half an envelope and a lead."""


def lay_signal(
    board: Board, stock: Inventory, below: frozenset[str], above: frozenset[str]
) -> Scene:
    """Lay out one signal panel."""
    order = order_of(stock, below | above)
    steps = _approaches(stock, order, below | above)
    kept = {net for path in steps.values() for net in _nets_of(path) if not tails(stock, net)}

    def sinks(net: str, device: Device) -> bool:
        return device.symbol is not Symbol.CAPACITOR and net not in kept and _plain(stock, net)

    scene = Scene(stock, below, above, sinks, board, held=tuned_parts(stock))
    for n, layer in enumerate(order.layers):
        _layer(scene, order, layer, steps, first=n == 0)
    _outputs(scene)
    scene.held = frozenset()
    place_rest(scene)
    return scene


def _plain(stock: Inventory, net: str) -> bool:
    """Whether only parts with two leads are on a net."""
    return all(is_two_lead(d) for d in stock.at(net))


@dataclass(frozen=True, slots=True)
class Step:
    """A part on the way to a grid: from one net to the next."""

    device: Device
    before: str
    after: str


def _nets_of(path: list[Step]) -> list[str]:
    return [net for step in path for net in (step.before, step.after)]


def _approaches(stock: Inventory, order: Order, ends: frozenset[str]) -> dict[str, list[Step]]:
    """Section -> the parts from what drives it to its grid."""
    driven = {d.leads[0].net for d in stock.devices.values() if d.symbol is Symbol.SIGNAL}
    driven = driven or {d.leads[0].net for d in stock.devices.values() if d.symbol is Symbol.JACK}
    found: dict[str, list[Step]] = {}
    for layer in order.layers:
        for tube in layer:
            goal = order.inputs[tube.name]
            if goal not in ends and cathode_net(tube) not in driven:
                found[tube.name] = _path(stock, driven, goal, ends)
        for tube in layer:
            for one in (tube, order.riders.get(tube.name)):
                nets = () if one is None else (plate_net(one), cathode_net(one))
                driven |= {n for n in nets if n is not None and n not in ends}
    return found


def _path(stock: Inventory, driven: set[str], goal: str, ends: frozenset[str]) -> list[Step]:
    """The shortest way from a driven net to a grid, through parts and pots."""
    if goal in driven:
        return []
    ways: dict[str, list[Step]] = {goal: []}
    waiting = [goal]
    for net in waiting:
        for device in stock.at(net):
            for beyond in _through(stock, device, net, ends):
                if beyond not in ways and beyond not in ends:
                    ways[beyond] = [Step(device, beyond, net), *ways[net]]
                    if beyond in driven:
                        return ways[beyond]
                    waiting.append(beyond)
    return []


def _through(stock: Inventory, device: Device, net: str, ends: frozenset[str]) -> list[str]:
    """The nets one gets to from a net through what lies on a signal's way."""
    if device.symbol is Symbol.TRANSFORMER:
        hot = hot_nets(stock, device, ends)
        return hot if net in hot else []
    passes = is_two_lead(device) or device.symbol in (Symbol.POT, Symbol.POLE)
    return list(device.nets) if passes and not tunes(stock, device) else []


def _layer(
    scene: Scene,
    order: Order,
    layer: tuple[Device, ...],
    steps: dict[str, list[Step]],
    *,
    first: bool,
) -> None:
    fresh = not first and _reached(scene) > WRAP and not any(_beside(scene, t) for t in layer)
    if fresh:
        scene.down = scene.board.box[3] + BETWEEN
    starts = []
    for tube in layer:
        row = order.row(tube) + scene.down + (grid_row(tube, 0) if grids_of(tube) else 0)
        path = steps.get(tube.name, [])
        starts.append(_approach(scene, tube, path, row, first=first, fresh=fresh))
    left = max([*starts, *(_beside(scene, tube) for tube in layer)])
    groups = []
    for tube in layer:
        groups.append(_compound(scene, order, tube, left, order.row(tube) + scene.down))
        scene.done |= {
            i.device.name for i in groups[-1] if scene.stock.devices.get(i.device.name) is i.device
        }
    shift = _common_shift(scene, groups)
    for tube, group in zip(layer, groups, strict=True):
        scene.put(group, ((shift, 0), *((shift + n, 0) for n in range(1, 200))))
        _ground(scene, tube)
        _dress(scene, order, tube)


def _ground(scene: Scene, tube: Device) -> None:
    """Grids, shields and diodes that are on gnd get their marks before anything is in the way."""
    item = scene.board.placed(tube.name)
    for lead in tube.leads if item is not None else ():
        if lead.net in MARKS and lead.name not in ("plate", "cathode", "f1", "f2"):
            assert item is not None
            path = end_lead(scene, item.port(lead.name), lead.net)
            if path is not None:
                scene.ways.append((lead.net, path))


def _beside(scene: Scene, tube: Device) -> int:
    """Where a section may begin that shares a cathode: between them is room for a capacitor."""
    cathode = cathode_net(tube)
    placed = [i for i in scene.board.items if i.device.symbol is Symbol.TUBE]
    shared = [i.x for i in placed if cathode_net(i.device) == cathode not in scene.ends]
    return max(shared, default=-PAIR) + PAIR


def _common_shift(scene: Scene, groups: list[list[Item]]) -> int:
    """The least shift to the right at which every tube of a layer fits."""
    for dx in range(300):
        if all(scene.board.fits([i.moved(dx, 0) for i in g]) for g in groups):
            return dx
    return 0


def _reached(scene: Scene) -> int:
    """How far to the right the row of stages goes that is laid out now."""
    tubes = [i for i in scene.board.items if i.device.symbol is Symbol.TUBE]
    return max((i.x for i in tubes if i.y >= scene.down - LANE // 2), default=0)


def _approach(
    scene: Scene, tube: Device, path: list[Step], row: int, *, first: bool, fresh: bool
) -> int:
    """Place the parts that lead to a grid; where its tube may begin.

    ``fresh``: it is the first of another row of stages.
    """
    net = path[0].before if path else control(tube)
    if net in scene.ends:
        return scene.board.box[2] + 6 if scene.board.items and not fresh else 0
    if fresh:
        scene.at[net] = (0, row)
    if net not in scene.at:
        if not first and cathode_net(tube) in scene.at:
            return 0
        if not first and not path:
            scene.at[net] = (scene.board.box[2] + 2, row)
        else:
            _input(scene, net, path, row)
    at = scene.at[net]
    scene.attach(net, at)
    for n, step in enumerate(path):
        if step.device.name in scene.done:
            at = scene.at.get(step.after, at)
            continue
        last = n == len(path) - 1
        at = _step(scene, step, at, row, level=(n == 0 and not last) or abs(at[1] - row) < 8)
        at = (at[0] + (3 if row < at[1] - LONG else 0), row)
        scene.attach(step.after, at)
    if not path:
        scene.attach(net, at)
        return at[0] + (8 if first else 9)
    return at[0] + 6


def _input(scene: Scene, net: str, path: list[Step], row: int) -> None:
    """The signal that drives a net, at the left of a row."""
    y = row - (2 if path and path[0].device.symbol is Symbol.POT else 0)
    sources = [d for d in scene.waiting(net) if d.symbol is Symbol.SIGNAL]
    jacks = [d for d in scene.waiting(net) if d.symbol is Symbol.JACK]
    scene.at[net] = (0, row)
    for n, device in enumerate([*sources, *jacks]):
        items = [Item(device, 0, y if n == 0 else y - ABOVE)]
        scene.put(items, ((0, way * k) for k in range(0, 80, 2) for way in (-1, 1)))
        if n == 0:
            port = scene.board.items[-1].ports[0]
            scene.at[net] = (port.x + 2, port.y)


def _step(scene: Scene, step: Step, at: Cell, row: int, *, level: bool) -> Cell:
    """Place one part on the way; where its far lead is."""
    start = (at[0] + GAP, at[1] if level else row)
    if step.device.symbol is Symbol.POT:
        return _pot(scene, step, start, row)
    if step.device.symbol is Symbol.TRANSFORMER:
        return _coupler(scene, step, start)
    if step.device.symbol is Symbol.POLE:
        item = Item(step.device, start[0] + 2, start[1])
        scene.put([item], rightward())
        return scene.at[step.after]
    found = scene.lie(step.device, step.before, start, rightward())
    return found if found is not None else start


def _coupler(scene: Scene, step: Step, at: Cell) -> Cell:
    """A transformer or a coil, the lead the signal comes by on the row; what tunes it beside it."""
    item = Item(step.device, 0, 0)
    first = next(lead.name for lead in step.device.leads if lead.net == step.before)
    port = item.port(first)
    items = [item.moved(at[0] + COIL - port.x, at[1] - port.y)]
    for coil in step.device.coils:
        items += _tuning(scene, items, coil)
    if scene.put(items, rightward()) is None:
        scene.put_anywhere(items)
    return scene.at[step.after]


def _tuning(scene: Scene, items: list[Item], coil: Coil) -> list[Item]:
    """What is across a winding, standing beside its leads clear of its words."""
    item = items[0]
    first, last = item.port(coil.leads[0]), item.port(coil.leads[-1])
    side = -1 if coil.left else 1
    net = next(x.net for x in item.device.leads if x.name == coil.leads[0])
    found: list[Item] = []
    for device in across(scene.stock, coil, item.device):
        taken = frozenset[tuple[int, int]]().union(*(i.cells for i in (*items, *found)))
        one = Item(device, first.x, (first.y + last.y) // 2, turned(device, net, Dir.DOWN))
        ways = (one.moved(side * n, 0) for n in range(BY_COIL, REACH))
        found.append(next(i for i in ways if taken.isdisjoint(i.cells)))
    return found


def _pot(scene: Scene, step: Step, start: Cell, row: int) -> Cell:
    """A pot stands, its wiper to the right, its foot on a mark where it goes to one."""
    wiper = step.device.leads[1]
    y = row if step.after == wiper.net else row + 2
    item = Item(step.device, start[0] + 2, y)
    items = scene.column(item, but=(step.before, step.after))
    scene.put([*items, *_to_joints(scene, items)], rightward())
    for lead in step.device.leads:
        if lead.net not in scene.ends and lead.net not in (step.before, step.after):
            scene.attach(lead.net, scene.at[lead.net])
    return scene.at[step.after]


def _to_joints(scene: Scene, column: list[Item]) -> list[Item]:
    """What leads to where two pots of a column meet lies to the left of them, ends aligned."""
    pots = [item for item in column if item.device.symbol is Symbol.POT]
    taken = frozenset[tuple[int, int]]().union(*(item.cells for item in column))
    found: list[Item] = []
    for upper, _ in pairwise(pots):
        net, foot = upper.device.leads[2].net, upper.port("bottom")
        parts = [d for d in scene.waiting(net) if is_two_lead(d) and d.name not in scene.done]
        parts = [d for d in parts if other_net(d, net) not in scene.ends]
        for device in parts[:1]:
            one = lying(device, other_net(device, net), (foot.x - LONG, foot.y + 1))
            ways = (one.moved(-n, 0) for n in range(1, REACH))
            found.append(next(i for i in ways if taken.isdisjoint(i.cells)))
    left = min((item.x for item in found), default=0)
    aligned = [item.moved(left - item.x, 0) for item in found]
    return [*aligned, *_feeding(scene, aligned)]


def _feeding(scene: Scene, parts: list[Item]) -> list[Item]:
    """What feeds the parts that lead to a column's joints stands above where they begin."""
    for item in parts[:1]:
        begin = min(item.ports, key=lambda port: port.x)
        net = next(lead.net for lead in item.device.leads if lead.name == begin.name)
        for device in scene.waiting(net):
            if is_two_lead(device) and other_net(device, net) in scene.at:
                way = turned(device, other_net(device, net), Dir.DOWN)
                one = Item(device, begin.x, begin.y - 1 - LONG // 2, way)
                taken = frozenset[tuple[int, int]]().union(*(part.cells for part in parts))
                ways = (one.moved(0, -n) for n in range(REACH))
                return [next(i for i in ways if taken.isdisjoint(i.cells))]
    return []


def _compound(scene: Scene, order: Order, tube: Device, left: int, row: int) -> list[Item]:
    """A tube with what stands on its plate and hangs at its cathode, as one."""
    screen = next((lead.net for lead in tube.leads if lead.name == "screen"), None)
    flip = screen is not None and (screen in scene.ends or _stands(scene, screen))
    item = Item(tube, left + 6, row, flip=flip)
    reach = half_height(tube) + 2
    items = [item, *_at_cathode(scene, tube, (item.x, row + reach))]
    if flip and screen is not None and screen not in scene.ends and screen not in scene.at:
        chain = scene.best(screen, Course.UP)
        items += [] if chain is None else stack(screen, chain, (item.x - 6, row - reach))
    return [*items, *_at_plate(scene, order, tube, (item.x, row - reach))]


def _stands(scene: Scene, net: str) -> bool:
    """Whether all that is on a net goes up to a rail: then it may do so on the grid's side."""
    chains = [scene.chain(net, d) for d in scene.waiting(net) if is_two_lead(d)]
    return bool(chains) and all(chain.course is Course.UP for chain in chains)


def _at_cathode(scene: Scene, tube: Device, at: Cell) -> list[Item]:
    net = cathode_net(tube)
    if tube.lead("f1") is not None:
        return _across_filament(scene, tube, at)
    if net is None:
        return []
    if net in scene.ends:
        return [end_item(net, (at[0], at[1] - 1), Dir.DOWN)]
    if net in scene.at:
        return []
    chain = scene.best(net, Course.DOWN) or _returned(scene, net)
    return [] if chain is None else stack(net, chain, at)


def _returned(scene: Scene, net: str) -> Chain | None:
    """What takes a cathode to a rail, where nothing takes it down: it hangs all the same."""
    chain = scene.best(net, Course.UP)
    metal = chain is not None and chain.parts[0].symbol is Symbol.RESISTOR
    return replace(chain, course=Course.DOWN) if chain is not None and metal else None


def _across_filament(scene: Scene, tube: Device, at: Cell) -> list[Item]:
    """What balances a filament lies across its ends, below them: a pot, or two resistors."""
    ends = [lead.net for lead in tube.leads if lead.name in ("f1", "f2")]
    if len(set(ends)) < 2 or set(ends) & scene.ends:
        return []
    x, y = at[0], at[1] + 4
    for device in scene.waiting(ends[0]):
        if device.symbol is Symbol.POT and [device.leads[0].net, device.leads[2].net] == ends:
            pot = Item(device, x, y, Dir.RIGHT, flip=True)
            return [pot, *_below_middle(scene, device.leads[1].net, (x, y + 2))]
    for first in scene.waiting(ends[0]):
        middle = other_net(first, ends[0]) if first.symbol is Symbol.RESISTOR else ends[0]
        for last in scene.waiting(middle):
            if last.symbol is Symbol.RESISTOR and {*last.nets} == {middle, ends[1]}:
                halves = [lying(first, ends[0], (x - LONG, y)), lying(last, middle, (x, y))]
                return [*halves, *_below_middle(scene, middle, (x, y + 3))]
    return []


def _below_middle(scene: Scene, net: str, at: Cell) -> list[Item]:
    """What hangs at the middle of a filament: the cathode's resistor, or a mark."""
    if net in scene.ends:
        return [end_item(net, at, Dir.DOWN)]
    chain = scene.best(net, Course.DOWN)
    return [] if chain is None else stack(net, chain, at)


def _at_plate(scene: Scene, order: Order, tube: Device, at: Cell) -> list[Item]:
    net = plate_net(tube)
    rider = order.riders.get(tube.name)
    if net is None or net in scene.at:
        return []
    if net in scene.below:
        return []
    if net in scene.above:
        return [end_item(net, (at[0], at[1] + 1), Dir.UP)]
    if rider is not None:
        return _rider(scene, order, net, rider, at)
    chain = scene.best(net, Course.UP)
    return [] if chain is None else stack(net, chain, at)


def _rider(scene: Scene, order: Order, net: str, rider: Device, at: Cell) -> list[Item]:
    """A section on top of another, with the resistor between them."""
    items, (x, y) = [], at
    cathode = cathode_net(rider)
    between = [
        d
        for d in scene.waiting(net)
        if is_two_lead(d) and other_net(d, net) == cathode and cathode != net
    ]
    if between:
        items.append(Item(between[0], x, y - LONG // 2, turned(between[0], net, Dir.UP)))
        y -= LONG
    reach = half_height(rider) + 2
    item = Item(rider, x, y - reach)
    return [*items, item, *_at_plate(scene, order, rider, (x, item.y - reach))]


def _dress(scene: Scene, order: Order, tube: Device) -> None:
    """What else joins the plate, the cathode and the other grids of a tube."""
    item = scene.board.placed(tube.name)
    if item is None:
        return
    reach = half_height(tube) + 2
    rider = order.riders.get(tube.name)
    nets = {"plate": (0, -reach), "cathode": (0, reach), "f1": (-1, reach), "f2": (1, reach)}
    for lead in sorted(tube.leads, key=lambda one: one.name not in nets):
        if lead.net in scene.ends:
            continue
        port = item.port(lead.name)
        if lead.name in nets:
            dx, dy = nets[lead.name]
            at = (item.x + dx, item.y + dy)
            if lead.net in scene.at and scene.at[lead.net][0] < item.x - 4:
                at = scene.at[lead.net]
            scene.attach(lead.net, at, sinking=True)
        elif lead.net not in scene.at or scene.at[lead.net] == port.cell:
            if port.way is Dir.RIGHT:
                _stand_above(scene, lead.net, (port.x + 3, item.y - reach - 2))
            at = port.way.of(port.cell)
            scene.attach(lead.net, at, sinking=True, ways=partial(_away, port.way))
    if rider is not None:
        _dress(scene, order, rider)


def _stand_above(scene: Scene, net: str, at: Cell) -> None:
    """What goes from a screen to a rail stands beside the plate's load, above the plate's wire."""
    for device in scene.waiting(net):
        if is_two_lead(device) and device.name not in scene.done:
            chain = scene.chain(net, device, sinking=True)
            if chain.course is Course.UP:
                scene.hang(net, chain, at, rightward(30))


def _away(way: Dir) -> list[tuple[int, int]]:
    side = -1 if way is Dir.LEFT else 1
    return [(side * n, 0) for n in range(60)]


def _outputs(scene: Scene) -> None:
    """Output transformers to the right of their tubes, primary towards them."""
    for device in scene.stock.devices.values():
        if device.symbol is not Symbol.OUTPUT or device.name in scene.done:
            continue
        first, last = device.leads[0], next(lead for lead in device.leads if lead.name == "p2")
        a, b = scene.at.get(first.net), scene.at.get(last.net)
        _screens(scene, device)
        flip = _is_lower(a, b, first.net in scene.above)
        _output(scene, device, a, b, flip)


def _screens(scene: Scene, output: Device) -> None:
    """A screen's resistor on its way to a tap of the transformer lies beside the tube."""
    for lead in output.leads:
        if lead.name.startswith(("p", "s")):
            continue
        for device in scene.waiting(lead.net):
            if is_two_lead(device) and other_net(device, lead.net) in scene.at:
                net = other_net(device, lead.net)
                x, y = scene.at[net]
                scene.lie(device, net, (x + 1, y), rightward(12))


def _is_lower(a: Cell | None, b: Cell | None, rail: bool) -> bool:
    """Whether the primary must stand on its head: its first lead belongs below."""
    if a is None:
        return not rail and b is None
    return b is None or a[1] > b[1]


def _output(scene: Scene, device: Device, a: Cell | None, b: Cell | None, flip: bool) -> None:
    item = Item(device, 0, 0, flip=flip)
    rows = {port.name: port.y for port in item.ports}
    height = max(rows["p1"], rows["p2"])
    if a is not None and b is not None and abs(a[1] - b[1]) > height:
        y = (a[1] + b[1] - height) // 2
    else:
        one = a or b
        lead = "p1" if a is not None else "p2"
        y = 0 if one is None else one[1] - rows[lead]
    known = [scene.at[lead.net][0] for lead in device.leads if lead.net in scene.at]
    x = max(known, default=scene.board.box[2])
    scene.put([item.moved(x + 11, y)], rightward())
    placed = scene.board.placed(device.name)
    if placed is not None:
        _across(scene, placed)


def _across(scene: Scene, item: Item) -> None:
    """What lies across a secondary stands beside it."""
    first, last = item.device.leads[-2], item.device.leads[-1]
    start = item.port(first.name).cell
    for device in scene.waiting(first.net):
        if is_two_lead(device) and set(device.nets) == {first.net, last.net}:
            x, y = start[0] + 3, start[1]
            items = [Item(device, x, y + 2, turned(device, first.net, Dir.DOWN))]
            if last.net in scene.below:
                items.append(end_item(last.net, (x, y + LONG), Dir.DOWN))
            scene.put(items, rightward(60))
