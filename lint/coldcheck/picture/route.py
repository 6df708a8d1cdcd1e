"""Wires on the grid: the cheapest way for each join, counting length, bends and crossings.

A wire may cross another at a right angle, never run on it, and never go through what fills a
cell or over the end of a lead of another net.
"""

from __future__ import annotations

from dataclasses import field
from heapq import heappop, heappush
from itertools import count, pairwise
from math import inf
from typing import TYPE_CHECKING

from coldcheck.picture.board import TangleError
from coldcheck.picture.grid import SIDES, Dir, way_of
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from coldcheck.picture.board import Board
    from coldcheck.picture.grid import Cell

BEND, CROSSING, BESIDE = 2.5, 7.0, 0.6
DEAR = 130.0
"""Cost from which a join is no wire but a name at both ends."""

DETOUR, TANGLE = 26.0, 1.7
"""What a join may cost: so much, and so much a cell of the distance; beyond that it is a tangle."""

MARGIN = 8

EFFORT = 100_000
"""Steps of searching on a panel after which what is not joined yet gets names: a drawing from a
stranger may have everything joined to everything."""

HOPELESS = 3 * EFFORT
"""Steps after which there is no picture at all."""


@dataclass(slots=True)
class Wires:
    """The wires laid so far: at each cell, by net, the ways they leave it."""

    board: Board
    at: dict[Cell, dict[str, set[Dir]]] = field(default_factory=dict)
    leads: dict[Cell, str] = field(default_factory=dict)
    spent: int = 0
    """Steps of searching so far."""

    def __post_init__(self) -> None:
        for net, ports in self.board.leads.items():
            self.leads |= {port.cell: net for port in ports}

    def lay(self, net: str, path: Iterable[Cell]) -> None:
        """Lay a wire along neighbouring cells."""
        for a, b in pairwise(path):
            way = way_of(b[0] - a[0], b[1] - a[1])
            self.at.setdefault(a, {}).setdefault(net, set()).add(way)
            self.at.setdefault(b, {}).setdefault(net, set()).add(way.back)

    def lift(self, net: str, path: Iterable[Cell]) -> None:
        """Take a wire up again."""
        for a, b in pairwise(path):
            way = way_of(b[0] - a[0], b[1] - a[1])
            for cell, out in ((a, way), (b, way.back)):
                here = self.at[cell][net]
                here.discard(out)
                if not here:
                    del self.at[cell][net]

    def open(self, cell: Cell, net: str) -> bool:
        """Whether a wire of a net may be here at all."""
        board = self.board
        return (
            cell not in board.filled
            and self.leads.get(cell, net) == net
            and board.exits.get(cell, net) == net
        )

    def foreign(self, cell: Cell, net: str) -> list[set[Dir]]:
        """The ways of the other nets' wires here."""
        here = self.at.get(cell)
        return [ways for other, ways in here.items() if other != net] if here else []

    def step_cost(self, cell: Cell, way: Dir, net: str) -> float:
        """What it costs to come to a cell this way; endless where it cannot be crossed."""
        cost = 1.0
        others = self.foreign(cell, net)
        if others:
            if len(others) > 1 or not _square(others[0], way):
                return inf
            cost += CROSSING
        for side in SIDES[way]:
            beside = side.of(cell)
            if beside in self.at and any(way in ways for ways in self.foreign(beside, net)):
                cost += BESIDE
        return cost


def _square(ways: set[Dir], way: Dir) -> bool:
    """Whether a straight wire lies here at a right angle to a way."""
    return len(ways) == 2 and way not in ways and way.back not in ways


@dataclass(frozen=True, slots=True)
class Found:
    """A way and its cost."""

    cost: float
    path: tuple[Cell, ...]


def cheapest(
    wires: Wires,
    net: str,
    sources: Iterable[Cell],
    arrived: Callable[[Cell, Dir], bool],
    guess: Callable[[Cell], float],
    most: float = DEAR,
) -> Found | None:
    """The cheapest way from any source to a cell that counts as arrived.

    ``guess`` is never more than what the rest of a way costs; from where that is too much, none
    is looked for.
    """
    area = _Area.around(wires)
    order = count()
    heap: list[tuple[float, int, float, Cell, Dir | None]] = []
    came: dict[tuple[Cell, Dir | None], tuple[Cell, Dir | None] | None] = {}
    best: dict[tuple[Cell, Dir | None], float] = {}
    steps: dict[tuple[Cell, Dir], float] = {}  # asked for from up to three ways
    for cell in sorted(sources):
        if not wires.foreign(cell, net):
            best[cell, None], came[cell, None] = 0.0, None
            heappush(heap, (guess(cell), next(order), 0.0, cell, None))
    while heap:
        wires.spent += 1
        if wires.spent > HOPELESS:
            raise TangleError("too much is joined to too much")
        _, _, cost, cell, way = heappop(heap)
        if best[cell, way] < cost:
            continue
        crossing = cell in wires.at and bool(wires.foreign(cell, net))
        if way is not None and not crossing and arrived(cell, way):
            return Found(cost, _path(came, (cell, way)))
        for out in _onward(way, crossing=crossing):
            place = out.of(cell)
            step = steps.get((place, out))
            if step is None:
                free = area.has(place) and wires.open(place, net)
                step = steps[place, out] = wires.step_cost(place, out, net) if free else inf
            total = cost + step + (BEND if way is not None and out is not way else 0.0)
            if total < best.get((place, out), most) and (hope := total + guess(place)) < most:
                best[place, out], came[place, out] = total, (cell, way)
                heappush(heap, (hope, next(order), total, place, out))
    return None


@dataclass(frozen=True, slots=True)
class _Area:
    """The cells where wires may go."""

    left: int
    top: int
    right: int
    bottom: int

    @classmethod
    def around(cls, wires: Wires) -> _Area:
        left, top, right, bottom = wires.board.box
        return cls(left - MARGIN, top - MARGIN, right + MARGIN, bottom + MARGIN)

    def has(self, cell: Cell) -> bool:
        return self.left <= cell[0] <= self.right and self.top <= cell[1] <= self.bottom


_ALL = tuple(Dir)


def _onward(way: Dir | None, *, crossing: bool) -> tuple[Dir, ...]:
    """The ways a wire may go on: across another only straight, never back."""
    if way is None:
        return _ALL
    return (way,) if crossing else (way, *SIDES[way])


def _path(
    came: dict[tuple[Cell, Dir | None], tuple[Cell, Dir | None] | None],
    last: tuple[Cell, Dir | None],
) -> tuple[Cell, ...]:
    cells = [last[0]]
    at = came[last]
    while at is not None:
        cells.append(at[0])
        at = came[at]
    return tuple(reversed(cells))


@dataclass(slots=True)
class Join:
    """Leads of one net that wires should join; what stays apart gets names."""

    net: str
    clusters: list[set[Cell]]
    paths: list[tuple[Cell, ...]] = field(default_factory=list)

    @property
    def span(self) -> int:
        """Half the girth of what is to be joined."""
        cells = [c for cluster in self.clusters for c in cluster]
        xs, ys = [c[0] for c in cells], [c[1] for c in cells]
        return max(xs) - min(xs) + max(ys) - min(ys)


def join_all(wires: Wires, joins: list[Join], *, most: float = DEAR) -> None:
    """Wire every join, the short ones first; then those that cross others once more."""
    for join in sorted(joins, key=lambda j: (j.span, j.net)):
        _wire(wires, join, most)
    for join in sorted(joins, key=lambda j: (-j.span, j.net)):
        if join.paths and wires.spent < EFFORT:
            _again(wires, join, most)


def _wire(wires: Wires, join: Join, most: float) -> None:
    apart: list[set[Cell]] = []
    left = sorted(join.clusters, key=min)
    while left:
        cluster = left.pop(0)
        tired = wires.spent >= EFFORT
        found = None if tired else _nearest(wires, join.net, cluster, left, most)
        if found is None:
            apart.append(cluster)
            continue
        wires.lay(join.net, found.path)
        join.paths.append(found.path)
        goal = next(other for other in left if found.path[-1] in other)
        left.remove(goal)
        left.insert(0, cluster | goal | set(found.path))
    join.clusters = apart


def _nearest(
    wires: Wires, net: str, cluster: set[Cell], others: list[set[Cell]], most: float
) -> Found | None:
    goals = set().union(*others) if others else set()
    if not goals:
        return None
    xs, ys = [c[0] for c in goals], [c[1] for c in goals]
    left, right, top, bottom = min(xs), max(xs), min(ys), max(ys)

    def guess(cell: Cell) -> float:
        x, y = cell
        return max(left - x, 0, x - right) + max(top - y, 0, y - bottom)

    near = min(guess(cell) for cell in cluster)
    bound = min(most, DETOUR + TANGLE * near)
    return cheapest(wires, net, cluster, lambda c, _: c in goals, guess, bound)


def _again(wires: Wires, join: Join, most: float) -> None:
    """Lay a net anew, now that all others lie; kept only where it is cheaper."""
    before = _crossings(wires, join)
    if not before:
        return
    old = join.paths
    for path in old:
        wires.lift(join.net, path)
    ends = _leads(wires, join)
    fresh = Join(join.net, ends)
    _wire(wires, fresh, most)
    worse = len(fresh.clusters) > len(join.clusters) or _crossings(wires, fresh) >= before
    if worse:
        for path in fresh.paths:
            wires.lift(join.net, path)
        for path in old:
            wires.lay(join.net, path)
        return
    join.paths, join.clusters = fresh.paths, fresh.clusters


def _leads(wires: Wires, join: Join) -> list[set[Cell]]:
    """The leads a net's clusters are of, each for itself."""
    cells = set().union(*join.clusters)
    return [{c} for c in sorted(cells) if wires.leads.get(c) == join.net]


def _crossings(wires: Wires, join: Join) -> int:
    cells = {c for path in join.paths for c in path}
    return sum(1 for c in cells if wires.foreign(c, join.net))
