"""What no rule of a panel has placed: near what it joins, or to the right of everything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.board import Item, rightward
from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import Dir
from coldcheck.picture.scene import LONG, end_item, is_two_lead, lying, other_net, turned

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.devices import Device
    from coldcheck.picture.grid import Cell
    from coldcheck.picture.scene import Scene

FAR = 26
"""From where on two nets are so far apart that a part between them goes below everything."""


def place_rest(scene: Scene) -> None:
    """Place every device that still waits, best joined first."""
    for net, at in list(scene.at.items()):
        scene.attach(net, at)
    while waiting := [d for d in scene.stock.devices.values() if d.name not in scene.done]:
        device = max(waiting, key=lambda d: _joined(scene, d))
        _place(scene, device)
        for lead in device.leads:
            if lead.net in scene.at:
                scene.attach(lead.net, scene.at[lead.net])


def _joined(scene: Scene, device: Device) -> float:
    """The share of a device's nets that have a place by now."""
    known = [n for n in device.nets if n in scene.at]
    return len(known) / max(len(device.nets), 1)


def _place(scene: Scene, device: Device) -> None:
    if is_two_lead(device) and set(device.nets) <= scene.below:
        _between_marks(scene, device)
        return
    places = [scene.at[n] for n in device.nets if n in scene.at]
    if is_two_lead(device) and len(places) == 2:
        _between(scene, device)
    elif is_two_lead(device) and len(places) == 1:
        net = next(n for n in device.nets if n in scene.at)
        _onward(scene, device, net, places[0])
    elif places:
        scene.put_anywhere(_whole(scene, _aligned(device, places[0], scene)))
    else:
        x = scene.board.box[2] + 8 if scene.board.items else 0
        scene.put_anywhere(_whole(scene, Item(device, x, _middle(scene))))


def _whole(scene: Scene, item: Item) -> list[Item]:
    """A device, a pot with what is in line with it."""
    return scene.column(item) if item.device.symbol is Symbol.POT else [item]


def _between_marks(scene: Scene, device: Device) -> None:
    """A part between two marks lies, a mark below each of its leads."""
    x = scene.board.box[2] + 4 if scene.board.items else 0
    first, last = device.leads
    items = [
        lying(device, first.net, (x, 0)),
        end_item(first.net, (x, 0), Dir.DOWN),
        end_item(last.net, (x + LONG, 0), Dir.DOWN),
    ]
    scene.put_anywhere(items)


def _middle(scene: Scene) -> int:
    return 0 if not scene.board.items else (scene.board.box[1] + scene.board.box[3]) // 2


def _aligned(device: Device, at: Cell, scene: Scene) -> Item:
    """A device to the right of a place, its lead on the same row."""
    item = Item(device, 0, 0)
    lead = next(lead for lead in device.leads if scene.at.get(lead.net) == at)
    port = item.port(lead.name)
    flip = Item(device, 0, 0, flip=True)
    if port.way is Dir.RIGHT and flip.port(lead.name).way is Dir.LEFT:
        item, port = flip, flip.port(lead.name)
    return item.moved(at[0] + 6 - port.x, at[1] - port.y)


def _between(scene: Scene, device: Device) -> None:
    """A part between two nets that have places: standing, lying, or below everything."""
    a, b = (scene.at[lead.net] for lead in device.leads)
    net = device.leads[0].net if a[1] <= b[1] else device.leads[1].net
    upper, lower = sorted((a, b), key=lambda c: c[1])
    wide, high = abs(a[0] - b[0]), lower[1] - upper[1]
    if wide > FAR:
        _below(scene, device, a, b)
    elif high >= LONG:
        item = Item(device, upper[0], upper[1] + high // 2, turned(device, net, Dir.DOWN))
        scene.put([item], _to_both_sides(14)) or scene.put_anywhere([item])
    else:
        left = device.leads[0].net if a[0] <= b[0] else device.leads[1].net
        at = scene.at[left]
        at = (at[0] + max(2, (wide - LONG) // 2), at[1])
        scene.put_anywhere([lying(device, left, at)])


def _to_both_sides(most: int) -> Iterator[tuple[int, int]]:
    """Shifts to the right and to the left, the nearest first."""
    for n in range(most):
        yield (n, 0)
        yield (-n, 0)


def _below(scene: Scene, device: Device, a: Cell, b: Cell) -> None:
    """Feedback: under all stages, nearer to the end it goes to."""
    left = device.leads[0].net if a[0] <= b[0] else device.leads[1].net
    x = min(a[0], b[0]) + 8
    y = scene.board.box[3] + 3
    scene.put([lying(device, left, (x, y))], rightward()) or scene.put_anywhere(
        [lying(device, left, (x, y))]
    )


def _onward(scene: Scene, device: Device, net: str, at: Cell) -> None:
    """A part that leads on from a net: to the right, or below where the row is taken."""
    item = lying(device, net, (at[0] + 3, at[1]))
    ways = [(dx, 0) for dx in range(16)] + [
        (dx, dy) for dy in (4, -4, 8, -8, 12) for dx in range(16)
    ]
    if scene.put([item], ways) is None:
        scene.put_anywhere([item])
    placed = scene.board.placed(device.name)
    if placed is not None:
        far = other_net(device, net)
        if far not in scene.ends:
            lead = next(lead for lead in device.leads if lead.net == far)
            scene.at[far] = placed.port(lead.name).cell
