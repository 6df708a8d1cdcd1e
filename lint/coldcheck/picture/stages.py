"""The order of the stages: how far each is from the input, which stand on others, in what row.

A section is as far as its grid is from a signal, counted in tubes. Sections equally far stand
one above the other, except those whose cathodes are joined, which stand side by side. A section
whose cathode is fed by another's plate stands on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.couplers import hot_nets, tunes
from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.scene import is_metal, is_two_lead, other_net
from coldcheck.picture.tube_geometry import is_grid
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.devices import Device, Inventory

LANE = 30
"""From one row of stages to the next, in cells."""


@dataclass(frozen=True, slots=True)
class Order:
    """Layers of sections from the input on, and which section stands on which."""

    layers: tuple[tuple[Device, ...], ...]
    riders: dict[str, Device]
    """Section -> the one that stands on it."""
    inputs: dict[str, str]
    """Section -> the net of the grid that the signal comes to."""

    def row(self, device: Device) -> int:
        """The row of a section's middle."""
        widest = max((len(layer) for layer in self.layers), default=1)
        layer = next(layer for layer in self.layers if device in layer)
        return LANE * layer.index(device) + LANE * (widest - len(layer)) // 2


def order_of(stock: Inventory, ends: frozenset[str]) -> Order:
    """The order of the sections of one panel."""
    tubes = [d for d in stock.devices.values() if d.symbol is Symbol.TUBE]
    riders = _riders(stock, tubes, ends)
    standing = [t for t in tubes if t not in riders.values()]
    depth, inputs = _depths(stock, tubes, ends)
    layers: list[list[Device]] = []
    for far in sorted({depth[t.name] for t in standing}):
        for layer in _side_by_side(stock, [t for t in standing if depth[t.name] == far]):
            layers.append(_by_height(stock, layer, layers, ends))
    return Order(tuple(tuple(layer) for layer in layers), riders, inputs)


def _by_height(
    stock: Inventory, layer: list[Device], before: list[list[Device]], ends: frozenset[str]
) -> list[Device]:
    """What a plate drives above what a cathode drives, what an upper stage drives first."""
    heights: dict[str, int] = {}
    for n, tube in enumerate(t for earlier in before for t in earlier):
        for net, height in ((plate_net(tube), 0), (cathode_net(tube), 1)):
            if net is not None and net not in ends:
                heights.setdefault(net, 2 * n + height)
    return sorted(layer, key=lambda t: _driver(stock, control(t), heights, ends))


def _driver(stock: Inventory, net: str, heights: dict[str, int], ends: frozenset[str]) -> int:
    """The height of the nearest net with one, from a grid backwards."""
    waiting = [net]
    for here in waiting:
        if here in heights:
            return heights[here]
        for device in stock.at(here):
            if is_two_lead(device) and here not in ends:
                waiting += [n for n in device.nets if n not in waiting and n not in ends]
    return 0


def control(device: Device) -> str:
    """The net of the first grid, or of the cathode where there is none."""
    grid = next((lead.net for lead in device.leads if is_grid(lead.name)), None)
    return grid if grid is not None else device.leads[0].net


def _lead_net(device: Device, *names: str) -> str | None:
    return next((lead.net for lead in device.leads if lead.name in names), None)


def plate_net(device: Device) -> str | None:
    """The net of a section's plate."""
    return _lead_net(device, "plate", "plate1")


def cathode_net(device: Device) -> str | None:
    """The net of a section's cathode, of a filament's first end."""
    return _lead_net(device, "cathode", "f1")


def _entry(device: Device, far: dict[str, int]) -> str | None:
    """The grid of a section that a signal reaches: the first, or the third of a converter."""
    grids = (lead.net for lead in device.leads if lead.name in ("grid3", "grid"))
    return next((net for net in (control(device), *grids) if net in far), None)


def _depths(
    stock: Inventory, tubes: list[Device], ends: frozenset[str]
) -> tuple[dict[str, int], dict[str, str]]:
    """Section -> tubes between a signal and its grid, and the net of that grid.

    What no signal reaches comes last.
    """
    far = dict.fromkeys(_starts(stock, ends), 0)
    now = list(far)
    depth: dict[str, int] = {}
    inputs: dict[str, str] = {}
    step = 0
    while now or len(depth) < len(tubes):
        _spread(stock, now, far, step, ends)
        entries = {t.name: _entry(t, far) for t in tubes if t.name not in depth}
        reached = [t for t in tubes if entries.get(t.name) is not None]
        depth |= {t.name: step for t in reached}
        inputs |= {name: net for name, net in entries.items() if net is not None}
        step += 1
        for tube in tubes:
            if tube.name not in depth and any(_joined(stock, tube, o) for o in reached):
                depth[tube.name] = step - 1
                reached.append(tube)
        beyond = [n for t in reached for n in (plate_net(t), cathode_net(t)) if n is not None]
        now = [n for n in dict.fromkeys(beyond) if n not in far and n not in ends]
        if not now and not reached:
            now = _undriven(stock, [t for t in tubes if t.name not in depth], ends)
        far |= dict.fromkeys(now, step)
    whole = {t.name: depth.get(t.name, step) for t in tubes}
    return whole, {t.name: inputs.get(t.name, control(t)) for t in tubes}


def _joined(stock: Inventory, device: Device, other: Device) -> bool:
    """Whether two sections share a cathode that is no mark, and are no pair of output tubes."""
    if cathode_net(device) != cathode_net(other) or cathode_net(device) in MARKS:
        return False
    outputs = [_output_of(stock, d) for d in (device, other)]
    return outputs[0] is None or outputs[0] is not outputs[1]


def _output_of(stock: Inventory, device: Device) -> Device | None:
    """The output transformer a plate is on."""
    net = plate_net(device)
    at = [] if net is None else stock.at(net)
    return next((d for d in at if d.symbol is Symbol.OUTPUT), None)


def _starts(stock: Inventory, ends: frozenset[str]) -> list[str]:
    signals = [d for d in stock.devices.values() if d.symbol is Symbol.SIGNAL]
    jacks = [d for d in stock.devices.values() if d.symbol is Symbol.JACK]
    found = [d.leads[0].net for d in (signals or jacks)]
    tubes = [d for d in stock.devices.values() if d.symbol is Symbol.TUBE]
    return list(dict.fromkeys(found)) or _undriven(stock, tubes, ends)


def _undriven(stock: Inventory, tubes: list[Device], ends: frozenset[str]) -> list[str]:
    """The grid of the first section that no other one's plate drives; where all are driven, any."""
    for tube in tubes:
        others = [plate_net(t) for t in tubes if t is not tube]
        nets = [n for n in others if n is not None and n not in ends and n != control(tube)]
        if control(tube) not in ends and control(tube) not in _from(stock, nets, ends):
            return [control(tube)]
    return [control(tube) for tube in tubes[:1]]


def _from(stock: Inventory, nets: list[str], ends: frozenset[str]) -> set[str]:
    """Where a signal gets to from some nets without passing a tube."""
    far = dict.fromkeys(nets, 0)
    _spread(stock, list(nets), far, 0, ends)
    return set(far)


def _spread(
    stock: Inventory, nets: list[str], far: dict[str, int], step: int, ends: frozenset[str]
) -> None:
    """Go on from nets through parts that are no tubes."""
    for net in nets:
        for device in stock.at(net):
            if device.symbol in (Symbol.TUBE, Symbol.OUTPUT):
                continue
            for beyond in _beyond(stock, device, net, ends):
                if beyond not in far and beyond not in ends and _free(stock, net, beyond):
                    far[beyond] = step
                    nets.append(beyond)


def _beyond(stock: Inventory, device: Device, net: str, ends: frozenset[str]) -> list[str]:
    """Where a signal gets to through a part: of a coupler only to what is hot."""
    if device.symbol is Symbol.TRANSFORMER:
        hot = hot_nets(stock, device, ends)
        return hot if net in hot else []
    return [] if tunes(stock, device) else list(device.nets)


def _free(stock: Inventory, net: str, beyond: str) -> bool:
    """Whether the signal goes on to a net by a part, and not by the tube that drives the net."""
    above = tails(stock, beyond)
    return not _fed(stock, beyond) and (not above or net in above)


def tails(stock: Inventory, net: str) -> set[str]:
    """The cathodes that one resistor joins to a net, where another leads from it to a mark."""
    beyond = {
        other_net(d, net) for d in stock.at(net) if is_two_lead(d) and d.symbol is Symbol.RESISTOR
    }
    if not beyond & set(MARKS):
        return set()
    return {n for n in beyond - set(MARKS) if any(e == "cathode" for _, e in stock.uses[n])}


def _fed(stock: Inventory, net: str) -> bool:
    """Whether a plate or a cathode drives a net: the signal comes there through its tube."""
    return any(
        lead in ("plate", "cathode", "f1", "f2") and stock.devices[d].symbol is Symbol.TUBE
        for d, lead in stock.uses[net]
    )


def _side_by_side(stock: Inventory, tubes: list[Device]) -> Iterator[list[Device]]:
    """Layers of what is equally far: joined cathodes one after the other."""
    left = list(tubes)
    while left:
        layer: list[Device] = []
        for tube in list(left):
            alike = [t for t in layer if _joined(stock, t, tube)]
            if not any(control(a) != control(tube) for a in alike):
                layer.append(tube)
                left.remove(tube)
        yield layer


def _riders(stock: Inventory, tubes: list[Device], ends: frozenset[str]) -> dict[str, Device]:
    found: dict[str, Device] = {}
    for upper in tubes:
        cathode = cathode_net(upper)
        if cathode is None or cathode in ends or upper.name in found:
            continue
        lower = _carrier(stock, upper, tubes, cathode, ends)
        if lower is not None and lower.name not in found:
            found[lower.name] = upper
    return found


def _carrier(
    stock: Inventory, upper: Device, tubes: list[Device], cathode: str, ends: frozenset[str]
) -> Device | None:
    """The section whose plate feeds a cathode, directly or through one resistor."""
    near = {cathode: 0}
    for device in stock.at(cathode):
        if is_two_lead(device) and is_metal(device):
            beyond = other_net(device, cathode)
            if beyond in ends and not _bleeds(device):
                return None
            near.setdefault(beyond, 1)
    for lower in tubes:
        plate = plate_net(lower)
        if lower is not upper and plate in near and plate not in ends:
            return lower
    return None


def _bleeds(device: Device) -> bool:
    """Whether a resistor from a cathode only drains it: it is in the megohms."""
    return len(device.lines) > 1 and "M" in device.lines[1]
