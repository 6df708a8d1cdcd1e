"""What is left in the capacitors after switch-off, worked out exactly.

With the mains gone and the tubes cold what remains is a linear network of capacitors and
resistances: ``C dv/dt + G v = 0``. Only capacitors that hold enough to matter are kept; the
other nets are eliminated (Kron's reduction), and the generalised symmetric eigenproblem
``C u = tau G u`` gives the time constants. Charge put in at t = 0 is conserved, so capacitors
that charge one another are covered. Switches, one at a time, are also taken as thrown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import magnitude
from coldcheck.solve.solution import PULLED, WARM

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.units import Quantity
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

TOUCH_V = 60.0
CHARGE_C = 45e-6
LEAK_S = 1e-11
"""To gnd from every net (100 gigohm): better than any real part, so "never" stays never."""

JOINED_OHM = 1.0
FASTEST_S = 1e-5
NEVER_S = 1e5
CHOKE_OHM_PER_HENRY = 20.0


@dataclass(frozen=True, slots=True)
class Decay:
    """The slowest discharge found for one capacitor.

    ``seconds`` until the voltage across it stays below ``TOUCH_V``, ``inf`` if beyond a day or
    so; ``group`` are the capacitors that resistances join it to, itself included.
    """

    capacitor: Branch
    volts: float
    seconds: float
    charged_in: str
    thrown: tuple[str, ...]
    group: tuple[str, ...]
    undrawn: tuple[str, ...]
    """Names of sources and parts of unknown value that might drain it."""

    @property
    def joules(self) -> float:
        """Energy at the start."""
        return 0.5 * (si(self.capacitor.value, "farad") or 0.0) * self.volts**2


def slowest(circuit: Circuit, solutions: Iterable[Solution]) -> list[Decay]:
    """The slowest discharge of every capacitor that holds a charge worth draining.

    Taken over every solved state it may be charged in and every position of one switch.
    """
    solved = {s.state.name: s for s in solutions if s.converged}
    charged = [s for s in solved.values() if s.state.kind != PULLED]
    kept = charged_capacitors(circuit, charged)
    if not kept:
        return []
    worst: dict[str, Decay] = {}
    for thrown in positions(circuit):
        network = Discharge.build(circuit, kept, thrown, solved.get(WARM))
        for decay in network.decays(charged):
            old = worst.get(decay.capacitor.name)
            if old is None or (decay.seconds, decay.volts) > (old.seconds, old.volts):
                worst[decay.capacitor.name] = decay
    return list(worst.values())


def charged_capacitors(circuit: Circuit, charged: Sequence[Solution]) -> tuple[Branch, ...]:
    """Capacitors of known value that hold more than 60 V and 45 microcoulomb in some state."""
    return tuple(
        b
        for b in circuit.branches.values()
        if b.kind == "capacitor"
        and b.value is not None
        and b.a != b.b
        and any(_counts(b, held_volts(b, s)) for s in charged)
    )


def _counts(capacitor: Branch, volts: float) -> bool:
    farads = si(capacitor.value, "farad") or 0.0
    return abs(volts) > TOUCH_V and farads * abs(volts) > CHARGE_C


def held_volts(capacitor: Branch, solution: Solution) -> float:
    """DC across a capacitor in a state, volts; 0 where it has no number."""
    wave = solution.between(capacitor.a, capacitor.b)
    return 0.0 if wave is None else wave.dc


def si(value: Quantity | None, unit: str) -> float | None:
    """A quantity as a plain float, ``None`` where it is not given."""
    return None if value is None else magnitude(value, unit)


def positions(circuit: Circuit) -> list[frozenset[str]]:
    """No switch thrown, then each one."""
    switches = {b.owner for b in circuit.branches.values() if b.kind in ("switch", "contact")}
    return [frozenset(), *(frozenset({s}) for s in sorted(switches))]


def drain_ohms(branch: Branch, thrown: frozenset[str], warm: Solution | None) -> float | None:
    """What a branch conducts with once everything is off, ohms; ``None`` for nothing.

    A signal generator counts as unplugged, a jack as empty; a diode drains only where it carried
    the direct current already (a series diode in a supply line).
    """
    kind = branch.kind
    if kind in ("resistor", "pot", "thermistor", "heater"):
        return si(branch.value, "ohm")
    if kind in ("fuse", "lamp"):
        return 0.0
    if kind in ("switch", "contact", "jack-contact"):
        return 0.0 if branch.closed != (branch.owner in thrown) else None
    if kind == "winding":
        return si(branch.resistance, "ohm") or 0.0
    if kind == "inductor":
        henries = si(branch.value, "henry") or 0.0
        written = si(branch.resistance, "ohm")
        return CHOKE_OHM_PER_HENRY * henries if written is None else written
    if kind == "speaker":
        return si(branch.value, "ohm") or 8.0
    return 0.0 if kind in ("diode", "led") and _carries(branch, warm) else None


def _carries(diode: Branch, warm: Solution | None) -> bool:
    wave = warm.between(diode.a, diode.b) if warm is not None and warm.converged else None
    return wave is not None and wave.low > 0.1


@dataclass(frozen=True, slots=True)
class Discharge:
    """The network in one switch position, in its own modes.

    ``node`` maps a net to its row (gnd: -1); ``modes`` has one column a time constant ``taus``.
    """

    capacitors: tuple[Branch, ...]
    thrown: tuple[str, ...]
    node: dict[str, int]
    taus: Array
    modes: Array
    groups: dict[str, tuple[str, ...]]
    undrawn: dict[str, tuple[str, ...]]

    @classmethod
    def build(
        cls,
        circuit: Circuit,
        capacitors: tuple[Branch, ...],
        thrown: frozenset[str],
        warm: Solution | None,
    ) -> Discharge:
        """Join, reduce and diagonalise; ``warm`` says which diodes carry direct current."""
        drains = [(b, drain_ohms(b, thrown, warm)) for b in circuit.branches.values()]
        known = [(b, r) for b, r in drains if r is not None and b.a != b.b]
        node = _joined_nets(circuit, known)
        conductance, row = _reduced(known, node, capacitors)
        c = np.zeros_like(conductance)
        for capacitor in capacitors:
            w = _incidence(capacitor, row, len(c))
            c += (si(capacitor.value, "farad") or 0.0) * np.outer(w, w)
        taus, modes = modes_of(c, conductance)
        slow = taus > FASTEST_S
        silent = [b for b, r in drains if r is None and _may_drain(b)]
        groups, undrawn = _groups(circuit, known, capacitors, silent)
        return cls(
            capacitors, tuple(sorted(thrown)), row, taus[slow], modes[:, slow], groups, undrawn
        )

    def decays(self, charged: Iterable[Solution]) -> Iterable[Decay]:
        """The discharge of every capacitor from every state it may be charged in."""
        for solution in charged:
            held = {b.name: held_volts(b, solution) for b in self.capacitors}
            for b in self.capacitors:
                if _counts(b, held[b.name]):
                    yield Decay(
                        b,
                        held[b.name],
                        self.seconds(b, held),
                        solution.state.name,
                        self.thrown,
                        self.groups[b.name],
                        self.undrawn[b.name],
                    )

    def seconds(self, capacitor: Branch, held: Mapping[str, float]) -> float:
        """Time to 60 V across a capacitor when each starts from ``held`` volts (by name)."""
        across = _incidence(capacitor, self.node, len(self.modes)) @ self.modes
        return seconds_above(across * self._amplitudes(held), self.taus)

    def _amplitudes(self, held: Mapping[str, float]) -> Array:
        """Each mode's share of the charge (modes are normalised so that u'Cu = tau)."""
        charge = np.zeros(len(self.modes))
        for b in self.capacitors:
            farads = si(b.value, "farad") or 0.0
            charge += farads * held[b.name] * _incidence(b, self.node, len(charge))
        return np.asarray(self.modes.T @ charge / self.taus)


def _may_drain(branch: Branch) -> bool:
    return branch.kind == "source" or (
        branch.kind in ("resistor", "pot", "thermistor") and branch.value is None
    )


def _joined_nets(circuit: Circuit, known: list[tuple[Branch, float]]) -> dict[str, int]:
    """Net -> number of its node; nets less than an ohm apart are one node, gnd's is -1."""
    wires: nx.Graph[str] = nx.Graph()
    wires.add_nodes_from([GROUND, *circuit.graph.nodes])
    wires.add_edges_from((b.a, b.b) for b, r in known if r < JOINED_OHM)
    node: dict[str, int] = {}
    free = 0
    for group in nx.connected_components(wires):
        number = -1 if GROUND in group else free
        free += GROUND not in group
        node.update(dict.fromkeys(group, number))
    return node


def _reduced(
    known: list[tuple[Branch, float]], node: dict[str, int], capacitors: tuple[Branch, ...]
) -> tuple[Array, dict[str, int]]:
    """Conductances between the capacitors' nodes alone, and net -> row in that matrix."""
    size = max(node.values()) + 1
    full = np.eye(size) * LEAK_S
    for branch, ohms in known:
        if ohms >= JOINED_OHM and node[branch.a] != node[branch.b]:
            w = _incidence(branch, node, size)
            i = np.flatnonzero(w)
            full[np.ix_(i, i)] += np.outer(w[i], w[i]) / ohms
    ends = {node[n] for b in capacitors for n in (b.a, b.b)} - {-1}
    keep = np.array(sorted(ends), dtype=int)
    drop = np.setdiff1d(np.arange(size), keep)
    cross = full[np.ix_(drop, keep)]
    reduced = full[np.ix_(keep, keep)]
    if len(drop):
        reduced = reduced - cross.T @ np.linalg.solve(full[np.ix_(drop, drop)], cross)
    place = {int(n): i for i, n in enumerate(keep)}
    return (reduced + reduced.T) / 2, {net: place.get(n, -1) for net, n in node.items()}


def _incidence(branch: Branch, row: dict[str, int], size: int) -> Array:
    w = np.zeros(size)
    for net, sign in ((branch.a, 1.0), (branch.b, -1.0)):
        if row[net] >= 0:
            w[row[net]] += sign
    return w


def _groups(
    circuit: Circuit,
    known: list[tuple[Branch, float]],
    capacitors: tuple[Branch, ...],
    silent: list[Branch],
) -> tuple[dict[str, tuple[str, ...]], dict[str, tuple[str, ...]]]:
    """Capacitor -> those joined to it by resistances other than through gnd; and its maybes."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    graph.add_edges_from((b.a, b.b) for b, _ in known if GROUND not in (b.a, b.b))
    number = {n: i for i, group in enumerate(nx.connected_components(graph)) for n in group}
    gnd = number.get(GROUND, -1)
    sides = {b.name: {number[b.a], number[b.b]} - {gnd} for b in (*capacitors, *silent)}
    groups, undrawn = {}, {}
    for b in capacitors:
        near = [o.name for o in capacitors if sides[o.name] & sides[b.name] or o is b]
        groups[b.name] = tuple(near)
        undrawn[b.name] = tuple(s.name for s in silent if sides[s.name] & sides[b.name])
    return groups, undrawn


def seconds_above(weights: Array, taus: Array, limit: float = TOUCH_V) -> float:
    """Time after which ``|sum(weights exp(-t/taus))|`` stays below ``limit``; ``inf`` if too long.

    weights : shape (modes,), volts.  taus : shape (modes,), seconds.
    """

    def over(t: float) -> bool:
        return bool(abs(float(weights @ np.exp(-t / taus))) > limit)

    times = np.concatenate(([0.0], np.geomspace(1e-3, NEVER_S, 800)))
    last = np.flatnonzero(np.abs(np.exp(-times[:, None] / taus) @ weights) > limit)
    if not len(last):
        return 0.0
    if last[-1] == len(times) - 1:
        return math.inf
    low, high = times[last[-1]], times[last[-1] + 1]
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) else (low, middle)
    return float(high)


def modes_of(c: Array, g: Array) -> tuple[Array, Array]:
    """Solve ``C u = tau G u``: time constants (n,) ascending and modes (n, n), u' G u = 1.

    G must be positive definite. Reduced with its Cholesky factor to an ordinary symmetric
    problem (Golub and Van Loan, "Matrix Computations", sec. 8.7); numpy alone, since importing
    scipy costs as much as the rest of a small review.
    """
    lower = np.linalg.cholesky(g)
    half = np.linalg.solve(lower, c)
    taus, vectors = np.linalg.eigh(np.linalg.solve(lower, half.T))
    return taus, np.linalg.solve(lower.T, vectors)
