"""A board: the cells of one panel, what stands on them, and whether more fits."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.picture.devices import Symbol
from coldcheck.picture.geometry import form_of
from coldcheck.picture.grid import Dir
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from coldcheck.picture.devices import Device
    from coldcheck.picture.geometry import Form
    from coldcheck.picture.grid import Cell, Port

_AROUND = [(dx, dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]


TRIED = 40_000
"""Places tried on a panel after which there is no picture: a drawing from a stranger may have a
thousand parts on one point."""


class TangleError(RuntimeError):
    """A panel on which things, wires and names find no place within reason."""


@dataclass(frozen=True, slots=True)
class Item:
    """A device to stand at a place, turned some way."""

    device: Device
    x: int
    y: int
    turn: Dir = Dir.DOWN
    flip: bool = False

    def moved(self, x: int, y: int) -> Item:
        """The same, elsewhere."""
        return Item(self.device, self.x + x, self.y + y, self.turn, self.flip)

    @property
    def form(self) -> Form:
        """Its geometry around its own place."""
        return form_of(self.device, self.turn, flip=self.flip)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Its ports where they are."""
        return tuple(port.moved(self.x, self.y) for port in self.form.ports)

    @property
    def cells(self) -> frozenset[Cell]:
        """The cells it fills."""
        return frozenset((x + self.x, y + self.y) for x, y in self.form.cells)

    def port(self, lead: str) -> Port:
        """The port of a lead."""
        return next(port for port in self.ports if port.name == lead)


@dataclass(slots=True)
class Board:
    """What stands on a panel so far.

    ``near`` are the cells too close to something for another thing; ``exits`` those that a wire
    needs to leave a lead, and ``porch`` those before them that nothing may stand on.
    """

    items: list[Item] = field(default_factory=list)
    filled: set[Cell] = field(default_factory=set)
    near: set[Cell] = field(default_factory=set)
    exits: dict[Cell, str] = field(default_factory=dict)
    porch: dict[Cell, str] = field(default_factory=dict)
    lines: dict[Cell, str] = field(default_factory=dict)
    """Where rails will run as lines: other wires may only cross them."""
    leads: dict[str, list[Port]] = field(default_factory=dict)
    """Net -> the ports on it."""

    bounds: tuple[int, int, int, int] | None = None
    roomy: bool = False
    """Whether a ring around everything stays free of others' leads: then a wire gets anywhere."""

    margin: int = 1
    """How many cells stay free between two things."""

    tried: int = 0
    """Places tried so far."""

    def fits(self, items: Sequence[Item], *, tight: bool = False) -> bool:
        """Whether a group of items may stand where it is."""
        self.tried += 1
        if self.tried > TRIED:
            raise TangleError("too much is joined to too much")
        cells = frozenset[tuple[int, int]]().union(*(item.cells for item in items))
        if not cells.isdisjoint(self.filled if tight else self.near):
            return False
        if any(c in self.exits or c in self.porch for c in cells):
            return False
        if self.roomy and not tight and not self._leaves_rings(items, cells):
            return False
        return all(
            self.porch.get(c, net) == net for item in items for c, net in _ends(item)
        ) and all(
            self.exits.get(c, net) == net and (c not in self.filled or c in cells)
            for c, net in _exits(items).items()
        )

    def _leaves_rings(self, items: Sequence[Item], cells: frozenset[Cell]) -> bool:
        """Whether no lead of one thing ends in the ring around another."""
        exits = _exits(items)
        if any(c in self.near for c in exits):
            return False
        for (x, y), net in exits.items():
            if any(self.exits.get((x + dx, y + dy), net) != net for dx, dy in _AROUND):
                return False
        ring = {(x + dx, y + dy) for x, y in cells for dx, dy in _AROUND}
        return ring.isdisjoint(self.exits)

    def put(self, items: Iterable[Item]) -> None:
        """Let items stand where they are."""
        items = list(items)
        self.items += items
        self.exits |= _exits(items)
        self.porch |= _exits(items, 2)
        for item in items:
            cells = item.cells
            self._widen([*cells, *(port.cell for port in item.ports)])
            self.filled |= cells
            reach = range(-self.margin, self.margin + 1)
            self.near |= {(x + dx, y + dy) for x, y in cells for dx in reach for dy in reach}
            for lead in item.device.leads:
                self.leads.setdefault(lead.net, []).append(item.port(lead.name))

    def put_near(
        self, items: Sequence[Item], ways: Iterable[tuple[int, int]]
    ) -> tuple[int, int] | None:
        """Put a group at the first of some shifts where it fits; that shift."""
        for dx, dy in ways:
            moved = [item.moved(dx, dy) for item in items]
            if self.fits(moved):
                self.put(moved)
                return dx, dy
        return None

    def copy(self) -> Board:
        """The same, to go on with in another way."""
        return Board(
            list(self.items),
            set(self.filled),
            set(self.near),
            dict(self.exits),
            dict(self.porch),
            dict(self.lines),
            {net: list(ports) for net, ports in self.leads.items()},
            self.bounds,
            self.roomy,
            self.margin,
        )

    def placed(self, device: str) -> Item | None:
        """The item of a device (marks and flags, which may have its name, come to no one)."""
        return next(
            (
                i
                for i in self.items
                if i.device.name == device and i.device.symbol is not Symbol.FLAG
            ),
            None,
        )

    @property
    def box(self) -> tuple[int, int, int, int]:
        """Left, top, right, bottom of what is filled and of all exits."""
        return self.bounds or (0, 0, 0, 0)

    def _widen(self, cells: Iterable[Cell]) -> None:
        xs, ys = zip(*cells, strict=True)
        left, top, right, bottom = self.bounds or (xs[0], ys[0], xs[0], ys[0])
        self.bounds = (
            min(left, *xs), min(top, *ys), max(right, *xs), max(bottom, *ys)
        )  # fmt: skip


def _ends(item: Item) -> Iterable[tuple[Cell, str]]:
    return ((item.port(lead.name).cell, lead.net) for lead in item.device.leads)


def _exits(items: Iterable[Item], steps: int = 1) -> dict[Cell, str]:
    """Where wires leave the leads of a group: leads that meet inside it need none."""
    ports = [(item.port(lead.name), lead.net) for item in items for lead in item.device.leads]
    ends = [port.cell for port, _ in ports]
    found = {}
    for port, net in ports:
        found[port.cell] = net
        if ends.count(port.cell) == 1:
            found.setdefault(port.way.of(port.cell, steps), net)
    return found


def rightward(most: int = 400) -> Iterable[tuple[int, int]]:
    """Shifts to the right, the nearest first."""
    return ((dx, 0) for dx in range(most))


def leftward(most: int = 400) -> Iterable[tuple[int, int]]:
    """Shifts to the left, the nearest first."""
    return ((-dx, 0) for dx in range(most))


def around(most: int = 60) -> Iterable[tuple[int, int]]:
    """Shifts to every side, the nearest first, right before down before left before up."""
    yield (0, 0)
    for r in range(1, most):
        ring = [(dx, dy) for dx in range(-r, r + 1) for dy in (-r, r)]
        ring += [(dx, dy) for dy in range(1 - r, r) for dx in (-r, r)]
        yield from sorted(ring, key=lambda s: (abs(s[0]) + abs(s[1]), -s[0], -s[1]))
