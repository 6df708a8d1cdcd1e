"""The bias to set: which pot moves it, which way is safe, and where the plate is at its rating."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from coldcheck.bench.chart.changed import with_parts
from coldcheck.bench.plan.places import joined_by, output_tubes
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import CONTACT_OHM
from coldcheck.solve.engine import Solver
from coldcheck.solve.faults.fault import NoSuchPart, pot_ends
from coldcheck.solve.solution import State

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import Solution

MOVES = 0.05
"""Share of a bias that a pot must move over its travel to count as its adjuster."""

TRAVEL = (0.0, 0.5, 1.0)
"""Places of a wiper; cathode volts against watts are all but straight between them."""


@dataclass(frozen=True, slots=True)
class Point:
    """One place of the wiper (share of the track below it) and what a section then does."""

    at: float
    grid: float
    cathode: float
    plate_ma: float
    plate_w: float


@dataclass(frozen=True, slots=True)
class Adjuster:
    """A pot that sets the bias of output tubes.

    safe
        The end of its travel at which they draw least, as the share below the wiper.
    empty
        Volts at the grid (sockets empty) with the wiper at its bottom and at its top.
    points
        By section: what it does along the travel, settings that were not solved left out.
    """

    pot: str
    sections: tuple[str, ...]
    drawn: float
    safe: float
    empty: tuple[float, float]
    points: dict[str, tuple[Point, ...]]

    @property
    def safe_lead(self) -> str:
        """The lead the wiper is turned to first."""
        return f"{self.pot}.{'top' if self.safe else 'bottom'}"

    def full_at(self, section: str, watts: float) -> tuple[float, float] | None:
        """Wiper and cathode volts at which a plate takes so many watts; ``None`` if never."""
        for one, two in pairwise(self.points[section]):
            if (one.plate_w - watts) * (two.plate_w - watts) <= 0 and one.plate_w != two.plate_w:
                share = (watts - one.plate_w) / (two.plate_w - one.plate_w)
                return (
                    one.at + share * (two.at - one.at),
                    one.cathode + share * (two.cathode - one.cathode),
                )
        return None


def output_sections(circuit: Circuit) -> list[Section]:
    """The sections of output tubes that have a grid."""
    names = output_tubes(circuit)
    return [s for s in circuit.sections() if s.tube in names and "grid" in s.electrodes]


def adjusters(circuit: Circuit, warm: Solution) -> Iterator[Adjuster]:
    """The pots that move an output tube's bias, each with what it does."""
    reach = {s.name: _near(circuit, s) for s in output_sections(circuit)}
    for pot in dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT):
        nets = {n for b in circuit.branches.values() if b.owner == pot for n in (b.a, b.b)}
        near = [s for s in output_sections(circuit) if nets & reach[s.name]]
        found = _adjuster(circuit, warm, pot, near) if near else None
        if found is not None:
            yield found


def _near(circuit: Circuit, section: Section) -> set[str]:
    starts = [section.electrodes["grid"], *section.cathode_nets]
    return {n for s in starts if s != GROUND for n in joined_by(circuit, s)}


def _adjuster(circuit: Circuit, warm: Solution, pot: str, near: list[Section]) -> Adjuster | None:
    try:
        ohms = _whole(circuit, pot)
    except NoSuchPart:
        return None
    solved = {at: _solved(circuit, pot, at, warm.state) for at in TRAVEL}
    points = {s.name: tuple(_points(s, solved)) for s in near if s.name in warm.readings}
    moved = tuple(name for name, track in points.items() if _moves(track))
    if not moved:
        return None
    first = points[moved[0]]
    safe = 0.0 if first[0].plate_ma < first[-1].plate_ma else 1.0
    pulled = State("bias", "plan", pulled=frozenset(output_tubes(circuit)))
    grid = next(s for s in near if s.name == moved[0]).electrodes["grid"]
    ends = [_solved(circuit, pot, at, pulled) for at in (0.0, 1.0)]
    volts = [s.waves[grid].dc if s.converged and grid in s.waves else float("nan") for s in ends]
    below = halves(circuit, pot)[1][0].value
    drawn = 0.0 if below is None else float(below.m_as("ohm")) / ohms
    return Adjuster(pot, moved, drawn, safe, (volts[0], volts[1]), {n: points[n] for n in moved})


def _whole(circuit: Circuit, pot: str) -> float:
    """The ohms of a track without taps; raises NoSuchPart (no bias is set by a tapped control)."""
    if [len(half) for half in halves(circuit, pot)] != [1, 1]:
        raise NoSuchPart(f"{pot} is no pot without taps")
    return pot_ends(circuit, pot)[1]


def _solved(circuit: Circuit, pot: str, at: float, state: State) -> Solution:
    return Solver(turned(circuit, pot, at)).solve(state)


def turned(circuit: Circuit, pot: str, at: float) -> Circuit:
    """The circuit with a pot's wiper elsewhere; ``at`` is the share of the track below it.

    Raises NoSuchPart for a pot of unknown value.
    """
    ohms = _whole(circuit, pot)
    sides = (side for half in halves(circuit, pot) for side in half)
    shares = zip(sides, (1 - at, at), strict=True)
    return with_parts(circuit, [_set(b, max(share * ohms, CONTACT_OHM)) for b, share in shares])


def at_safe_ends(circuit: Circuit, found: Iterable[Adjuster]) -> Circuit:
    """The circuit with every bias pot where the output tubes draw least."""
    for adjuster in found:
        circuit = turned(circuit, adjuster.pot, adjuster.safe)
    return circuit


def _set(branch: Branch, ohms: float) -> Branch:
    return replace(branch, value=quantity(ohms, "ohm"))


def _points(section: Section, solved: dict[float, Solution]) -> Iterator[Point]:
    for at, solution in solved.items():
        found = solution.readings.get(section.name) if solution.converged else None
        if found is None or found.grid_v is None or found.cathode_v is None:
            continue
        yield Point(at, found.grid_v, found.cathode_v, found.plate_ma, found.plate_w)


def _moves(track: tuple[Point, ...]) -> bool:
    if len(track) < 2:
        return False
    grids = [p.grid for p in track]
    return max(grids) - min(grids) > MOVES * max(abs(g) for g in grids)
