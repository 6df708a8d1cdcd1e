"""A panel being laid out: what hangs, what stands, what lies, and where each net is by now."""

from __future__ import annotations

from dataclasses import field
from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.picture.board import Board, Item, around, rightward
from coldcheck.picture.devices import MARKS, Device, Inventory, Lead, Symbol
from coldcheck.picture.grid import Dir
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from coldcheck.picture.grid import Cell

LONG = 4
"""From lead to lead of a part with two."""


BETWEEN_POTS = 2
"""From the foot of a pot to the head of the next one in its column."""


class Course(Enum):
    """Where a part leads from a net."""

    DOWN = "down"
    UP = "up"
    ACROSS = "across"


@dataclass(frozen=True, slots=True)
class Chain:
    """Parts in line from a net: the net behind each, and where it ends."""

    course: Course
    parts: tuple[Device, ...]
    nets: tuple[str, ...]

    @property
    def end(self) -> str:
        """The net behind the last part."""
        return self.nets[-1]


@dataclass(slots=True)
class Scene:
    """One panel while it is laid out.

    below, above
        Nets that end a wire downwards (marks, negative rails) and upwards (rails).
    sinks
        Whether a net that is no end may stand between two parts that hang.
    stops
        Nets that others use too: no chain goes on through them.
    at
        Net -> where something more may join it.
    """

    stock: Inventory
    below: frozenset[str]
    above: frozenset[str]
    sinks: Callable[[str, Device], bool]
    board: Board = field(default_factory=Board)
    stops: frozenset[str] = frozenset()
    at: dict[str, Cell] = field(default_factory=dict)
    done: set[str] = field(default_factory=set)
    bonds: list[tuple[str, list[Cell]]] = field(default_factory=list)
    """Marks of different kinds that are joined: their net and where they are."""

    down: int = 0
    """How far down the row of stages is that is laid out now."""

    held: frozenset[str] = frozenset()
    """Parts that stand with what they are across, and nowhere else while that waits."""

    ways: list[tuple[str, tuple[Cell, ...]]] = field(default_factory=list)
    """Wires from leads to their marks that are settled while the panel is laid out."""

    @property
    def ends(self) -> frozenset[str]:
        """Nets that end wherever they are used."""
        return self.below | self.above

    def waiting(self, net: str) -> list[Device]:
        """The devices on a net that stand nowhere yet."""
        return [
            d for d in self.stock.at(net) if d.name not in self.done and d.name not in self.held
        ]

    def put(
        self, items: list[Item], ways: Iterable[tuple[int, int]] = ((0, 0),)
    ) -> tuple[int, int] | None:
        """Put a group at the first shift that fits; the shift. Nets get their places."""
        shift = self.board.put_near(items, ways)
        if shift is None:
            return None
        for item in items:
            if self.stock.devices.get(item.device.name) is item.device:
                self.done.add(item.device.name)
            moved = item.moved(*shift)
            for lead in item.device.leads:
                if lead.net not in self.ends:
                    self.at.setdefault(lead.net, moved.port(lead.name).cell)
        return shift

    def chain(self, net: str, device: Device, *, sinking: bool = False) -> Chain:
        """Where a part with two leads leads; ``sinking``: also through nets with more on them."""
        parts, nets, here = [device], [], net
        while True:
            here = other_net(parts[-1], here)
            nets.append(here)
            if here in self.below:
                return Chain(Course.DOWN, tuple(parts), tuple(nets))
            if here in self.above:
                return Chain(Course.UP, tuple(parts), tuple(nets))
            following = self._next(here, parts, sinking)
            if following is None:
                return Chain(Course.ACROSS, (device,), (nets[0],))
            parts.append(following)

    def _next(self, net: str, parts: list[Device], sinking: bool) -> Device | None:
        """The part that goes on in line from a net."""
        if net in self.at or net in self.stops:
            return None
        if _couples(parts[-1], net) and not self.sinks(net, parts[-1]):
            return None
        more = [d for d in self.waiting(net) if d not in parts and is_two_lead(d)]
        if len(self.stock.uses[net]) == 2 and len(more) == 1:
            return more[0]
        if not sinking or not self.sinks(net, parts[-1]):
            return None
        downward = [d for d in more if other_net(d, net) in self.ends]
        alike = parts[-1].symbol
        return min(downward, key=lambda d: (d.symbol is not alike, not is_metal(d)), default=None)

    def attach(
        self,
        net: str,
        at: Cell,
        *,
        sinking: bool = False,
        ways: Callable[[], Iterable[tuple[int, int]]] = rightward,
    ) -> None:
        """Let hang and stand what hangs and stands at a net, from a place on its wire."""
        self.at[net] = at
        for device in self.waiting(net):
            if device.name in self.done or not is_two_lead(device):
                continue
            chain = self.chain(net, device, sinking=sinking)
            if chain.course is not Course.ACROSS:
                self.hang(net, chain, at, ways())

    def hang(self, net: str, chain: Chain, at: Cell, ways: Iterable[tuple[int, int]]) -> None:
        """Put a chain below (or above) a place, and what else joins the nets inside it."""
        items = stack(net, chain, at)
        shift = self.put(items, ways)
        if shift is None:
            return
        step = LONG if chain.course is Course.DOWN else -LONG
        for n, inner in enumerate(chain.nets[:-1], 1):
            place = (at[0] + shift[0], at[1] + shift[1] + n * step)
            self.attach(inner, place, sinking=True)

    def best(self, net: str, course: Course) -> Chain | None:
        """What hangs or stands in line at a net: a resistor before a capacitor."""
        chains = [self.chain(net, d, sinking=True) for d in self.waiting(net) if is_two_lead(d)]
        fit = [c for c in chains if c.course is course]
        return min(fit, key=lambda c: c.parts[0].symbol is Symbol.CAPACITOR, default=None)

    def column(self, pot: Item, but: tuple[str, ...] = ()) -> list[Item]:
        """A standing pot with what leads in line from its ends, up to a rail and down to a mark."""
        items = [pot]
        for lead, course, way in (("top", Course.UP, Dir.UP), ("bottom", Course.DOWN, Dir.DOWN)):
            net, cell = next(x.net for x in pot.device.leads if x.name == lead), pot.port(lead).cell
            if net in but or net in self.at:
                continue
            if net in (self.above if course is Course.UP else self.below):
                items.append(end_item(net, cell, way))
            elif net not in self.ends and (chain := self.best(net, course)) is not None:
                items += stack(net, chain, cell)
            elif way is Dir.DOWN and (below := self._pot_below(net, pot)) is not None:
                items += self.column(below, but)
        return items

    def _pot_below(self, net: str, pot: Item) -> Item | None:
        """A pot that goes on where another ends stands below it, room for a wire between them."""
        for device in self.waiting(net):
            if device.symbol is Symbol.POT and device is not pot.device:
                item, foot = Item(device, pot.x, 0, pot.turn, pot.flip), pot.port("bottom")
                if device.leads[0].net == net:
                    return item.moved(0, foot.y + BETWEEN_POTS - item.port("top").y)
        return None

    def lie(
        self, device: Device, net: str, at: Cell, ways: Iterable[tuple[int, int]]
    ) -> Cell | None:
        """Put a part with two leads on the right of a place; where its far lead is."""
        item = lying(device, net, at)
        shift = self.put([item], ways)
        if shift is None:
            return None
        return (at[0] + LONG + shift[0], at[1] + shift[1])

    def put_anywhere(self, items: list[Item]) -> tuple[int, int]:
        """Put a group near its place, or else to the right of everything."""
        shift = self.put(items, around(25))
        if shift is None:
            left = min(x for item in items for x, _ in item.cells)
            start = self.board.box[2] + 4 - left
            shift = self.put(items, ((start + n, 0) for n in range(100)))
        assert shift is not None
        return shift


def is_named(net: str) -> bool:
    """Whether the drawing itself gave a net its name: no lead, no pin, no nameless point."""
    return not any(c in net.rpartition("/")[2] for c in ".: \0") and net not in MARKS


def _couples(device: Device, net: str) -> bool:
    """Whether a capacitor leads to a point with a name: to an output, rather than to gnd."""
    return device.symbol is Symbol.CAPACITOR and is_named(net)


def is_two_lead(device: Device) -> bool:
    """Whether a device has two leads and may stand or lie."""
    return len(device.leads) == 2 and device.symbol not in (
        Symbol.TUBE, Symbol.RECTIFIER, Symbol.REGULATOR, Symbol.POLE, Symbol.WINDING,
        Symbol.TRANSFORMER, Symbol.JACK,
    )  # fmt: skip


def other_net(device: Device, net: str) -> str:
    """The net of the other lead of a part with two."""
    a, b = device.leads
    return b.net if a.net == net else a.net


def is_metal(device: Device) -> bool:
    """Whether direct current passes it both ways."""
    return device.symbol in (
        Symbol.RESISTOR, Symbol.INDUCTOR, Symbol.FUSE, Symbol.SWITCH, Symbol.LAMP, Symbol.HEATER,
        Symbol.THERMISTOR, Symbol.LINK,
    )  # fmt: skip


def turned(device: Device, net: str, way: Dir) -> Dir:
    """How a part must be turned to lead from a net the way ``way``."""
    return way if device.leads[0].net == net else way.back


def lying(device: Device, net: str, at: Cell) -> Item:
    """A part that leads to the right from a place."""
    return Item(device, at[0] + LONG // 2, at[1], turned(device, net, Dir.RIGHT))


def mark(net: str, at: Cell) -> Item:
    """The mark of a net at the end of a wire."""
    device = Device(net, MARKS[net], (Lead("1", net),))
    return Item(device, *at)


def flag(net: str, at: Cell, way: Dir) -> Item:
    """A net's name at the end of a wire that goes the way ``way``."""
    return Item(Device(net, Symbol.FLAG, (Lead("1", net),), (net,)), *at, way)


def end_item(net: str, at: Cell, way: Dir) -> Item:
    """A mark, or else a flag."""
    return mark(net, at) if net in MARKS else flag(net, at, way)


def stack(net: str, chain: Chain, at: Cell) -> list[Item]:
    """A chain as items one below (or above) the other, with the mark or flag at its end."""
    way = Dir.DOWN if chain.course is Course.DOWN else Dir.UP
    x, y = at
    items, here = [], net
    for device, beyond in zip(chain.parts, chain.nets, strict=True):
        middle = way.of((x, y), LONG // 2)
        items.append(Item(device, *middle, turned(device, here, way)))
        (x, y), here = way.of((x, y), LONG), beyond
    return [*items, end_item(chain.end, (x, y), way)]
