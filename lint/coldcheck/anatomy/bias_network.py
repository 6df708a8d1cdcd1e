"""The resistors between a fixed-bias supply and a grid, solved by hand's own means.

What feeds the network (a rectifier, a source, another tube's electrode) is held at the voltage it
has in the solved warm state; the few resistors and pots behind it are solved afresh with a wiper
lifted or turned. That the supply itself would rise a little is left out: it makes a bias larger.
"""

from __future__ import annotations

from itertools import chain
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.neighbourhood import CHOKE_OHMS, metal_ohms
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import rectifying_diodes
from coldcheck.circuit.kinds import Passage
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.once import once
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import Solution

LEAK_SIEMENS = 1e-12
"""Keeps a net defined that a lifted wiper cuts off; far above a gigohm, so it decides nothing."""

LEAST_OHMS = 1e-3
NOT_TURNED: Mapping[str, float] = MappingProxyType({})
CARRIES = 1e-3
"""Share of the largest voltage in a network that a part has across it if current flows in it."""


@dataclass(frozen=True, slots=True)
class Edge:
    """A resistance between two nets, ohms; ``owner`` is the part."""

    a: str
    b: str
    ohms: float
    owner: str


@dataclass(frozen=True, slots=True)
class Track:
    """A pot in the network: the nets of its leads and its whole resistance, ohms."""

    name: str
    top: str
    wiper: str
    bottom: str
    ohms: float
    at: float


@dataclass(frozen=True, slots=True)
class BiasNetwork:
    """What a grid's bias comes through.

    held
        Net -> volts to gnd, of the nets that something outside the network fixes.
    edges, tracks
        Fixed resistances, and pots, between the nets.
    charges
        (net, net, farad) of the capacitors with an end in the network.
    """

    grid: str
    held: Mapping[str, float]
    edges: tuple[Edge, ...]
    tracks: tuple[Track, ...]
    charges: tuple[tuple[str, str, float], ...]

    def volts(
        self, lifted: str = "", turned: Mapping[str, float] | None = None, extra: float = 0.0
    ) -> float:
        """DC of the grid to gnd with the wiper of ``lifted`` open, or pots ``turned``.

        ``turned`` maps a pot to its setting (0 at the bottom lead, 1 at the top); ``extra`` ohms
        stand at the end of the track that the wiper was turned to.
        """
        edges = self._with_tracks(lifted, turned or {}, extra)
        place, matrix, drive = self._equations(edges)
        if self.grid not in place:
            return self.held[self.grid]
        return float(np.linalg.solve(matrix, drive)[place[self.grid]])

    def carrying(self) -> list[str]:
        """The parts that direct current flows in: they set the bias, leaks and stoppers do not."""
        edges = self._with_tracks()
        place, matrix, drive = self._equations(edges)
        rest = np.linalg.solve(matrix, drive)
        at = {**self.held, **{n: float(rest[k]) for n, k in place.items()}}
        least = CARRIES * max(map(abs, at.values()))
        return list(dict.fromkeys(e.owner for e in edges if abs(at[e.a] - at[e.b]) > least))

    def seconds(self) -> float:
        """How long the grid takes to 63 % of its bias once the supply is there, seconds.

        The area above the step response, divided by its end: for resistors and capacitors
        (G^-1 C v) / v at the grid (the first moment; Elmore 1948, from memory). Exact for one
        capacitor.
        """
        edges = self._with_tracks()
        place, matrix, drive = self._equations(edges)
        if self.grid not in place:
            return 0.0
        final = np.linalg.solve(matrix, drive)
        charge = np.zeros(len(place))
        for a, b, farads in self.charges:
            for here, there in ((a, b), (b, a)):
                if here in place:
                    far = final[place[there]] if there in place else 0.0
                    charge[place[here]] += farads * (final[place[here]] - far)
        at = place[self.grid]
        delays = np.linalg.solve(matrix, charge)
        return float(delays[at] / final[at]) if final[at] else 0.0

    def _with_tracks(
        self, lifted: str = "", turned: Mapping[str, float] = NOT_TURNED, extra: float = 0.0
    ) -> list[Edge]:
        """The fixed resistances and those of the pots' tracks."""
        pots = (_track(t, t.name == lifted, turned.get(t.name), extra) for t in self.tracks)
        return [*self.edges, *chain.from_iterable(pots)]

    def _equations(
        self, edges: list[Edge]
    ) -> tuple[dict[str, int], NDArray[np.float64], NDArray[np.float64]]:
        """Net -> row; conductances (n, n), siemens; currents from the held nets (n,), amperes."""
        nets = dict.fromkeys(n for e in edges for n in (e.a, e.b) if n not in self.held)
        nets.setdefault(self.grid)
        place = {n: i for i, n in enumerate(n for n in nets if n not in self.held)}
        matrix = np.eye(len(place)) * LEAK_SIEMENS
        drive = np.zeros(len(place))
        for edge in (e for e in edges if e.a != e.b):
            siemens = 1 / max(edge.ohms, LEAST_OHMS)
            for here, there in ((edge.a, edge.b), (edge.b, edge.a)):
                if here not in place:
                    continue
                matrix[place[here], place[here]] += siemens
                if there in place:
                    matrix[place[here], place[there]] -= siemens
                else:
                    drive[place[here]] += siemens * self.held[there]
        return place, matrix, drive


def _track(track: Track, lifted: bool, turned: float | None, extra: float) -> list[Edge]:
    if lifted:
        return [Edge(track.top, track.bottom, track.ohms, track.name)]
    at = track.at if turned is None else turned
    above = (1 - at) * track.ohms + (extra if turned == 1 else 0.0)
    below = at * track.ohms + (extra if turned == 0 else 0.0)
    return [
        Edge(track.top, track.wiper, above, track.name),
        Edge(track.wiper, track.bottom, below, track.name),
    ]


def bias_network(circuit: Circuit, section: Section, warm: Solution) -> BiasNetwork | str:
    """The network of a section's grid, or why it cannot be had (an open value, no number)."""
    grid = section.electrodes["grid"]
    fixed = outside(circuit)
    nets = list(reach(circuit, [grid], fixed))
    held = {GROUND: 0.0}
    for net in (n for n in nets if n in fixed and n != GROUND):
        wave = warm.waves.get(net)
        if wave is None:
            return "the voltage of its bias supply has no number"
        held[net] = wave.dc
    free = [n for n in nets if n not in held]
    edges, pots = [], set()
    for branch in {b.name: b for n in free for b in circuit.at(n)}.values():
        if branch.kind is PartKind.POT:
            pots.add(branch.owner)
            continue
        if branch.a == branch.b or not {branch.a, branch.b} <= set(nets):
            continue
        ohms = _coil_ohms(branch) if branch.kind is PartKind.WINDING else metal_ohms(branch)
        if ohms is not None:
            edges.append(Edge(branch.a, branch.b, ohms, branch.owner))
        elif branch.traits.needs_value and (branch.traits.series or branch.kind is PartKind.LAMP):
            return f"the value of {branch.owner} is not known"
    tracks = [track_of(circuit, p) for p in sorted(pots)]
    if any(t is None for t in tracks):
        return f"the value of {sorted(pots)[0]} is not known"
    known = tuple(t for t in tracks if t is not None)
    return BiasNetwork(grid, held, tuple(edges), known, _charges(circuit, free))


def _coil_ohms(branch: Branch) -> float:
    """A winding of a coupling transformer in the grid's way."""
    return si(branch.resistance, "ohm") or CHOKE_OHMS


def _holds(branch: Branch) -> bool:
    """Whether a part fixes the nets it is on; so do rectifying diodes and mains windings."""
    passage = branch.traits.passage
    return passage is Passage.CLAMPS or passage is Passage.DRIVES


def bias_makers(circuit: Circuit, section: Section, warm: Solution) -> tuple[float, list[str]]:
    """The volts of a fixed bias to gnd, and the parts that set it.

    (0, []) where it cannot be had.
    """
    network = bias_network(circuit, section, warm)
    if isinstance(network, str):
        return 0.0, []
    return network.volts(), network.carrying() or _sources(circuit, network)


def _sources(circuit: Circuit, network: BiasNetwork) -> list[str]:
    """The sources that hold a grid where no resistor divides what they give."""
    held = {n for n, volts in network.held.items() if volts < 0}
    every = circuit.branches.values()
    return [b.owner for b in every if b.kind is PartKind.SOURCE and {b.a, b.b} & held]


@once
def outside(circuit: Circuit) -> frozenset[str]:
    """Nets that are fixed from outside: gnd, rectifiers, sources, electrodes that draw current."""
    found = {GROUND}
    held = (b for b in circuit.branches.values() if _holds(b))
    for branch in (*held, *rectifying_diodes(circuit)):
        found |= {branch.a, branch.b}
    found.update(net for winding in circuit.windings() for net in winding.nets)
    for section in circuit.sections():
        for electrode, net in section.electrodes.items():
            if not electrode.startswith("grid"):
                found.add(net)
    return frozenset(found)


def track_of(circuit: Circuit, pot: str) -> Track | None:
    """The pot with its nets; ``None`` where its value is not known."""
    upper, lower = halves(circuit, pot)
    every = [b.ohms for b in (*upper, *lower)]
    whole = sum(ohms or 0.0 for ohms in every)
    if None in every or whole == 0:
        return None
    below = sum(b.ohms or 0.0 for b in lower)
    return Track(pot, upper[0].a, upper[-1].b, lower[-1].b, whole, below / whole)


def _charges(circuit: Circuit, free: list[str]) -> tuple[tuple[str, str, float], ...]:
    found = {b.name: b for n in free for b in circuit.at(n) if b.kind is PartKind.CAPACITOR}
    known = ((b, b.farads) for b in found.values())
    return tuple((b.a, b.b, f) for b, f in known if f is not None)
