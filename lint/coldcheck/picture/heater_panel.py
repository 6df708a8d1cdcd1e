"""The heaters: each winding with its tubes in a row beside it, its reference to the left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.board import Board, Item, leftward, rightward
from coldcheck.picture.devices import Symbol
from coldcheck.picture.geometry import doubled, winding_half
from coldcheck.picture.grid import Dir
from coldcheck.picture.rest import place_rest
from coldcheck.picture.scene import Scene, is_two_lead, turned

if TYPE_CHECKING:
    from coldcheck.picture.devices import Device, Inventory

BELOW = 13
"""From one winding's row to the next."""


def lay_heaters(
    board: Board, stock: Inventory, below: frozenset[str], above: frozenset[str]
) -> Scene:
    """Lay out the heaters."""

    def sinks(net: str, _: Device) -> bool:
        return all(is_two_lead(d) or d.symbol is Symbol.WINDING for d in stock.at(net))

    scene = Scene(stock, below, above, sinks, board)
    windings = [d for d in stock.devices.values() if d.symbol is Symbol.WINDING]
    for n, winding in enumerate(windings):
        if winding.name not in scene.done:
            _row(scene, winding, n * BELOW)
    _string(scene)
    place_rest(scene)
    return scene


def _row(scene: Scene, winding: Device, y: int) -> None:
    """A winding, what lies across it, and what holds it."""
    scene.put([Item(winding, 0, y)], rightward())
    first, last = winding.leads[0].net, winding.leads[-1].net
    for device in list(scene.stock.devices.values()):
        if device.name not in scene.done and set(device.nets) == {first, last}:
            _across(scene, winding, device, y)
    for lead in reversed(winding.leads):
        if lead.net in scene.ends:
            continue
        if lead not in (winding.leads[0], winding.leads[-1]):
            x, row = scene.at[lead.net]
            scene.attach(lead.net, (x - 4, row), sinking=True, ways=leftward)
        else:
            right = scene.board.box[2]
            half = winding_half(winding)
            row = y + (-half if lead is winding.leads[0] else half)
            scene.attach(lead.net, (right + 3, row), sinking=True)


def _across(scene: Scene, winding: Device, device: Device, y: int) -> None:
    """A heater or a lamp between the two lines of a winding."""
    first = winding.leads[0].net
    x = scene.board.box[2] + 4
    if device.symbol is Symbol.HEATER and doubled(device):
        h1 = device.lead("h1")
        item = Item(device, x, y, flip=h1 is not None and h1.net != first)
    else:
        item = Item(device, x, y, turned(device, first, Dir.DOWN))
    scene.put([item], rightward())


def _string(scene: Scene) -> None:
    """Heaters in series lie in a row, from the supply's end on."""
    heaters = [d for d in scene.stock.devices.values() if _is_strung(scene, d)]
    if not heaters:
        return
    y = scene.board.box[3] + 8 if scene.board.items else 0
    net = _first_net(scene, heaters)
    x = 0
    while device := next((d for d in heaters if net in d.nets and d.name not in scene.done), None):
        item = Item(device, x, y, turned(device, net, Dir.RIGHT))
        scene.put([item], rightward())
        net = next((n for n in device.nets if n != net), net)
        x += 8


def _is_strung(scene: Scene, device: Device) -> bool:
    return device.symbol is Symbol.HEATER and device.name not in scene.done and is_two_lead(device)


def _first_net(scene: Scene, heaters: list[Device]) -> str:
    """An end of the string, rather the one that is no mark."""
    nets = [n for d in heaters for n in d.nets]
    ends = [n for n in dict.fromkeys(nets) if nets.count(n) == 1 and n not in scene.below]
    return (ends or nets)[0]
