"""What is left in the capacitors after switch-off, worked out exactly.

With the mains gone and the tubes cold what remains is a linear network of capacitors and
resistances (:mod:`coldcheck.solve.off.drains`), solved in its own modes
(:mod:`coldcheck.solve.off.decay`). Only capacitors that hold enough to matter are kept. Charge put
in at t = 0 is conserved, so capacitors that charge one another are covered. Switches, one at a
time, are also taken as thrown, and the start is every solved state the set may be switched off in.
"""

from __future__ import annotations

import math
from dataclasses import field, replace
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import throws_by_hand
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.off.decay import Curve, all_seconds_above, modes_of, seconds_above
from coldcheck.solve.off.drains import Drains, drain_ohms, may_drain
from coldcheck.solve.relays import at_rest
from coldcheck.solve.solution import PULLED, WARM

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

TOUCH_V = 60.0
"""IEC 62368-1 table 4, IEC 61010-1 cl. 6.3.1 (memory)."""

GUARD_V = 50.0
"""29 CFR 1910.303(g)(2)(i) (found): live parts from here up are guarded, AC or DC."""

CHARGE_C = 45e-6
"""IEC 60335-1 cl. 8.1.4 (found): what a capacitor above ``CHARGE_V`` may hold."""

CHARGE_V = 450.0
SMALL_F = 0.1e-6
"""The same clause: the capacitance that may be charged up to ``CHARGE_V``, whatever it holds."""

ROUNDING = 1.001

FASTEST_S = 1e-5


@dataclass(frozen=True, slots=True)
class Decay:
    """The discharge of one capacitor from one state with the switches in one position.

    volts
        Across it at the start, from its ``a`` to its ``b``.
    seconds, guard_seconds
        Until the voltage across it stays below ``TOUCH_V`` and below ``GUARD_V``; ``inf`` if
        beyond a day or so.
    group
        The capacitors that resistances join it to, itself included.
    undrawn
        Names of sources and parts of unknown value that might drain it.
    drained_by
        The resistances its charge leaves through, the busiest first; empty where none does.
    """

    capacitor: Branch
    volts: float
    seconds: float
    charged_in: str
    thrown: tuple[str, ...]
    group: tuple[str, ...]
    undrawn: tuple[str, ...]
    guard_seconds: float = math.inf
    drained_by: tuple[str, ...] = ()
    curve: Curve | None = field(default=None, compare=False)

    @property
    def joules(self) -> float:
        """Energy at the start."""
        return 0.5 * (self.capacitor.farads or 0.0) * self.volts**2


def slowest(circuit: Circuit, solutions: Iterable[Solution]) -> list[Decay]:
    """The slowest discharge of every capacitor that holds a charge worth draining.

    Taken over every given state that is solved, but for those with a tube out of its socket, and
    every position of one switch.
    """
    charged = [s for s in solutions if s.converged and s.state.kind != PULLED]
    kept = charged_capacitors(circuit, charged)
    if not kept:
        return []
    return list(
        worst_of(
            decay
            for thrown in positions(circuit)
            for decay in Discharge.build(circuit, kept, thrown, warm_of(charged)).decays(charged)
        ).values()
    )


def surely_below(circuit: Circuit, solution: Solution, seconds: float) -> bool:
    """Whether surely nothing that :func:`slowest` finds lasts longer than ``seconds``.

    A cheap bound, from one state: the sum of what every mode can still be, signs left out, only
    falls. Where it is above the limit at that time, the answer is in :func:`slowest`.
    """
    kept = charged_capacitors(circuit, [solution])
    if not kept:
        return True
    held = np.array([held_volts(b, solution) for b in kept])
    for thrown in positions(circuit):
        off = thrown | at_rest(circuit)
        every = [(b, drain_ohms(b, off, solution)) for b in circuit.branches.values()]
        known = tuple((b, r) for b, r in every if r is not None and b.a != b.b)
        drains, taus, modes, charging = _modes(circuit, kept, known)
        across = np.array([drains.across(b) for b in kept])
        left = np.abs((across @ modes) * (held @ charging)) @ np.exp(-seconds / taus)
        if left.max(initial=0.0) >= TOUCH_V:
            return False
    return True


def parted_by(
    circuit: Circuit, decay: Decay, solutions: Iterable[Solution], limit_s: float
) -> tuple[Branch, Decay] | None:
    """The contact that keeps a capacitor from what would drain it, and how it falls without.

    It is open once all is off, and with it closed the capacitor is down within ``limit_s``.
    """
    charged = [s for s in solutions if s.converged and s.state.kind != PULLED]
    kept, thrown = charged_capacitors(circuit, charged), frozenset(decay.thrown)
    off = thrown | at_rest(circuit)
    for contact in circuit.branches.values():
        if not contact.traits.opens or contact.a == contact.b or contact.closed_with(off):
            continue
        wire = replace(contact, kind=PartKind.FUSE)  # which is whole, whatever is thrown
        joined = replace(circuit, branches={**circuit.branches, contact.name: wire})
        network = Discharge.build(joined, kept, thrown, warm_of(charged))
        found = worst_of(network.decays(charged))[decay.capacitor.name]
        if found.seconds <= limit_s and not found.undrawn:
            return contact, found
    return None


def warm_of(solutions: Iterable[Solution]) -> Solution | None:
    """The nominal state among those given."""
    return next((s for s in solutions if s.state.name == WARM), None)


def worst_of(decays: Iterable[Decay]) -> dict[str, Decay]:
    """The slowest of each capacitor, by its name."""
    worst: dict[str, Decay] = {}
    for decay in decays:
        old = worst.get(decay.capacitor.name)
        if old is None or (decay.seconds, decay.volts) > (old.seconds, old.volts):
            worst[decay.capacitor.name] = decay
    return worst


def charged_capacitors(
    circuit: Circuit, charged: Sequence[Solution], over: float = TOUCH_V
) -> tuple[Branch, ...]:
    """Capacitors of known value that hold more than ``over`` and enough to matter in a state."""
    return tuple(
        b
        for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR
        and b.value is not None
        and b.a != b.b
        and any(_counts(b, held_volts(b, s), over) for s in charged)
    )


def _counts(capacitor: Branch, volts: float, over: float) -> bool:
    return abs(volts) > over and holds_enough(capacitor.farads or 0.0, abs(volts))


def holds_enough(farads: float, volts: float) -> bool:
    """Whether a charge is beyond what may be touched: by the capacitance, above 450 V by itself."""
    if volts <= CHARGE_V:
        return farads > ROUNDING * SMALL_F
    return farads * volts > ROUNDING * CHARGE_C


def held_volts(capacitor: Branch, solution: Solution) -> float:
    """DC across a capacitor in a state, volts; 0 where it has no number."""
    wave = solution.between(capacitor.a, capacitor.b)
    return 0.0 if wave is None else wave.dc


def positions(circuit: Circuit) -> list[frozenset[str]]:
    """No switch thrown, then each one."""
    hands = [s for s in sorted(throws_by_hand(circuit)) if s not in circuit.relays]
    return [frozenset(), *(frozenset({s}) for s in hands)]


@dataclass(frozen=True, slots=True)
class Discharge:
    """The network in one switch position, in its own modes.

    ``modes`` has one column a time constant in ``taus``; its rows are those of ``drains``.
    ``charging`` (capacitors, modes) is what a volt in each capacitor puts into each mode.
    """

    capacitors: tuple[Branch, ...]
    thrown: tuple[str, ...]
    drains: Drains
    taus: Array
    modes: Array
    charging: Array
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
        off = thrown | at_rest(circuit)
        every = [(b, drain_ohms(b, off, warm)) for b in circuit.branches.values()]
        known = tuple((b, r) for b, r in every if r is not None and b.a != b.b)
        drains, taus, modes, charging = _modes(circuit, capacitors, known)
        silent = [b for b, r in every if r is None and may_drain(b)]
        groups, undrawn = _groups(circuit, known, capacitors, silent)
        return cls(
            capacitors, tuple(sorted(thrown)), drains, taus, modes, charging, groups, undrawn
        )

    def decays(self, charged: Iterable[Solution], over: float = TOUCH_V) -> Iterator[Decay]:
        """The discharge of every capacitor from every state it may be charged in."""
        leaving = {b.name: self.drains.drained_by(b) for b in self.capacitors}
        across = {b.name: self.drains.across(b) for b in self.capacitors}
        found = []
        for solution in charged:
            held = {b.name: held_volts(b, solution) for b in self.capacitors}
            counted = [b for b in self.capacitors if _counts(b, held[b.name], over)]
            if counted:
                weights = self.weights(np.array([across[b.name] for b in counted]), held)
                found += [
                    (b, held[b.name], solution.state.name, row)
                    for b, row in zip(counted, weights, strict=True)
                ]
        if not found:
            return
        # all states at once: one call costs as much as one for each
        rows = np.array([row for _, _, _, row in found])
        touch, guard = all_seconds_above(rows, self.taus, (TOUCH_V, GUARD_V))
        for k, (b, volts, state, row) in enumerate(found):
            yield Decay(
                b,
                volts,
                float(touch[k]),
                state,
                self.thrown,
                self.groups[b.name],
                self.undrawn[b.name],
                float(guard[k]),
                leaving[b.name],
                Curve(row, self.taus),
            )

    def seconds(
        self, capacitor: Branch, held: Mapping[str, float], limit: float = TOUCH_V
    ) -> float:
        """Time to ``limit`` across a capacitor when each starts from ``held`` volts (by name)."""
        weights = self.weights(self.drains.across(capacitor), held)
        return seconds_above(weights, self.taus, limit)

    def weights(self, across: Array, held: Mapping[str, float]) -> Array:
        """Each mode's part in a voltage (modes are normalised so that u'Cu = tau)."""
        volts = np.array([held[b.name] for b in self.capacitors])
        return np.asarray((across @ self.modes) * (volts @ self.charging))


def _modes(
    circuit: Circuit, capacitors: tuple[Branch, ...], known: tuple[tuple[Branch, float], ...]
) -> tuple[Drains, Array, Array, Array]:
    """The network, and its slow modes: ``taus``, ``modes`` and ``charging`` of a Discharge."""
    drains = Drains.build(circuit, capacitors, known)
    across = np.array([drains.across(b) for b in capacitors])
    across = across.reshape(len(capacitors), len(drains.reduced))
    farads = np.array([b.farads or 0.0 for b in capacitors])
    taus, modes = modes_of(across.T @ (farads[:, None] * across), drains.reduced)
    slow = taus > FASTEST_S
    charging = (farads[:, None] * across) @ modes[:, slow] / taus[slow]
    return drains, taus[slow], modes[:, slow], charging


def _groups(
    circuit: Circuit,
    known: tuple[tuple[Branch, float], ...],
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
