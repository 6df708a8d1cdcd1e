"""What conducts once everything is off: a network of plain resistances between the capacitors.

Cold tubes, silicon that carried no direct current, empty jacks and unplugged generators conduct
nothing. Nets that no capacitor of interest ends on are eliminated (Kron's reduction).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

import numpy as np

from coldcheck.circuit.kinds import Stamp
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Transistor
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

LEAK_S = 1e-11
"""To gnd from every net (100 gigohm): better than any real part, so "never" stays never."""

LEAST_DRAIN_A = 1e-5
"""A transistor that carries less at work is taken to drain nothing, amperes."""
JOINED_OHM = 1.0
CHOKE_OHM_PER_HENRY = 20.0
UNDRAINED_OHM = 1e9
"""Between the ends of a capacitor: above this nothing but insulation drains it."""

SHARE = 0.1
"""A resistance that takes less of a capacitor's charge than this is not named as its drain."""


def drain_ohms(branch: Branch, thrown: frozenset[str], warm: Solution | None) -> float | None:
    """What a branch conducts with once everything is off, ohms; ``None`` for nothing.

    A signal generator counts as unplugged, a jack as empty; a diode drains only where it carried
    the direct current already (a series diode in a supply line), or where, with another and a
    meter, it lets through what comes to it either way.
    """
    kind = branch.kind
    match kind:
        case (
            PartKind.RESISTOR
            | PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.HEATER
        ):
            return branch.ohms
        case PartKind.RELAY | PartKind.METER:
            return branch.ohms
        case PartKind.FUSE | PartKind.LAMP:
            return None if branch.glows else 0.0
        case PartKind.SWITCH | PartKind.CONTACT | PartKind.JACK_CONTACT | PartKind.PLUG:
            return 0.0 if branch.closed_with(thrown) else None
        case PartKind.WINDING:
            return si(branch.resistance, "ohm") or 0.0
        case PartKind.INDUCTOR:
            henries = branch.henries or 0.0
            written = si(branch.resistance, "ohm")
            return CHOKE_OHM_PER_HENRY * henries if written is None else written
        case PartKind.SPEAKER:
            return branch.ohms or 8.0
        case PartKind.DIODE | PartKind.LED:
            return 0.0 if _carries(branch, warm) else None
        case PartKind.CHANNEL:
            return _passes(branch, warm)
        case (
            PartKind.CAPACITOR
            | PartKind.ZENER
            | PartKind.JACK
            | PartKind.ARRESTER
            | PartKind.THYRISTOR
            | PartKind.TRIGGER
            | PartKind.VIBRATOR
            | PartKind.CRYSTAL
            | PartKind.SOURCE
            | PartKind.SIGNAL
            | PartKind.GATE
            | PartKind.BASE
        ):
            return None
        case _:
            assert_never(kind)


def _carries(diode: Branch, warm: Solution | None) -> bool:
    if warm is None or not warm.converged:
        return False
    wave = warm.between(diode.a, diode.b)
    return (wave is not None and wave.low > 0.1) or _around_a_meter(warm.circuit, diode)


def _around_a_meter(circuit: Circuit, diode: Branch) -> bool:
    """Whether at one end of a diode another lies the other way, and a meter closes their circuit.

    What either passes goes on through the meter, so that neither way is blocked.
    """
    return any(
        _metered(circuit, diode.other(net), other.other(net))
        for net in (diode.a, diode.b)
        for other in circuit.at(net)
        if other.kind is PartKind.DIODE and (other.a == net) != (diode.a == net)
    )


def _metered(circuit: Circuit, one: str, other: str) -> bool:
    """Whether a meter lies between two nets, with a resistor at either side or not."""
    near, far = (
        {n, *(b.other(n) for b in circuit.at(n) if b.kind is PartKind.RESISTOR and n != GROUND)}
        for n in (one, other)
    )
    meters = (b for n in near for b in circuit.at(n) if b.kind is PartKind.METER)
    return any({m.a, m.b} & near and {m.a, m.b} & far and m.a != m.b for m in meters)


def _passes(channel: Branch, warm: Solution | None) -> float | None:
    """A regulator, or a transistor that what it drains keeps on, by its volts over its amperes.

    What regulates takes a current that stays while the volts fall, so this is rather too slow.
    """
    if warm is None or not warm.converged:
        return None
    one = warm.circuit.transistors[channel.owner]
    across, through = warm.between(channel.a, channel.b), warm.current(channel.name)
    if across is None or through is None or through.dc < LEAST_DRAIN_A:
        return None
    on = one.type.family.regulates or _kept_on(warm.circuit, one)
    return max(across.dc, 0.0) / through.dc if on else None


def _kept_on(circuit: Circuit, one: Transistor) -> bool:
    """Whether plain resistance leads from what steers it to where its current comes from."""
    seen = [one.control.a if one.type.family.sign > 0 else one.control.b]
    for net in seen:
        if net == one.channel.a:
            return True
        near = (b.other(net) for b in circuit.at(net) if b.traits.metal and b.closed)
        seen += [n for n in near if n != GROUND and n not in seen]
    return False


def may_drain(branch: Branch) -> bool:
    """Whether a branch without a known resistance might conduct all the same."""
    kind = branch.kind
    if kind is PartKind.SOURCE or branch.traits.stamp is Stamp.UNSOLVED:
        return True
    return branch.value is None and (branch.traits.steady or kind is PartKind.THERMISTOR)


@dataclass(frozen=True, slots=True)
class Drains:
    """The resistances, seen from the capacitors' nets.

    known
        Branches with what they conduct with, ohms.
    row
        Net -> row of the reduced matrix, -1 for gnd and for nets that were eliminated.
    reduced
        Conductances between the kept nets, shape (kept, kept), siemens.
    node, lift
        Net -> row of ``lift``, shape (nodes, kept): the volts of every node from those of the
        kept ones; gnd is -1.
    """

    known: tuple[tuple[Branch, float], ...]
    row: Mapping[str, int]
    reduced: Array
    node: Mapping[str, int]
    lift: Array

    @classmethod
    def build(
        cls,
        circuit: Circuit,
        capacitors: tuple[Branch, ...],
        known: tuple[tuple[Branch, float], ...],
    ) -> Drains:
        """Join what is less than an ohm apart and eliminate what holds no capacitor."""
        node = _joined_nets(circuit, known)
        size = max(node.values()) + 1
        full = np.eye(size) * LEAK_S
        for branch, ohms in known:
            a, b = node[branch.a], node[branch.b]
            if ohms >= JOINED_OHM and a != b:
                for one, other in ((a, b), (b, a)):
                    if one >= 0:
                        full[one, one] += 1 / ohms
                        if other >= 0:
                            full[one, other] -= 1 / ohms
        ends = {node[n] for b in capacitors for n in (b.a, b.b)} - {-1}
        keep = np.array(sorted(ends), dtype=int)
        reduced, lift = _eliminated(full, keep)
        place = {int(n): i for i, n in enumerate(keep)}
        row = {net: place.get(n, -1) for net, n in node.items()}
        return cls(known, row, reduced, node, lift)

    def across(self, branch: Branch) -> Array:
        """+1 and -1 at the kept ends of a branch, shape (kept,)."""
        return incidence(branch, self.row, len(self.reduced))

    def net_volts(self, net: str) -> Array:
        """The volts of a net as weights on those of the kept nets, shape (kept,); gnd is zeros."""
        n = self.node[net]
        return np.zeros(len(self.reduced)) if n < 0 else np.asarray(self.lift[n])

    def drained_by(self, capacitor: Branch) -> tuple[str, ...]:
        """The resistances through which the charge of a capacitor leaves, the busiest first.

        The charge that flows through a branch in all is what a direct current from one end of
        the capacitor to the other would send through it (the integral of the network's equation).
        """
        across = self.across(capacitor)
        kept = np.linalg.solve(self.reduced, across)
        if across @ kept > UNDRAINED_OHM:
            return ()
        volts = np.append(self.lift @ kept, 0.0)
        shares: dict[str, float] = {}
        for b, ohms in self.known:
            if ohms >= JOINED_OHM:
                share = abs(volts[self.node[b.a]] - volts[self.node[b.b]]) / ohms
                shares[b.owner] = max(share, shares.get(b.owner, 0.0))
        return tuple(sorted((n for n, q in shares.items() if q > SHARE), key=lambda n: -shares[n]))


def _joined_nets(circuit: Circuit, known: tuple[tuple[Branch, float], ...]) -> dict[str, int]:
    """Net -> number of its node; nets less than an ohm apart are one node, gnd's is -1."""
    parent = {net: net for net in (GROUND, *circuit.graph.nodes)}

    def stands_for(net: str) -> str:
        while parent[net] != net:
            parent[net] = parent[parent[net]]
            net = parent[net]
        return net

    for branch, ohms in known:
        if ohms < JOINED_OHM:
            parent[stands_for(branch.a)] = stands_for(branch.b)
    gnd = stands_for(GROUND)
    number, node = {gnd: -1}, dict[str, int]()
    for net in parent:
        node[net] = number.setdefault(stands_for(net), len(number) - 1)
    return node


def _eliminated(full: Array, keep: NDArray[np.intp]) -> tuple[Array, Array]:
    """Kron's reduction to the nodes ``keep``, and all nodes' volts from theirs."""
    size = len(full)
    rest = np.ones(size, dtype=bool)
    rest[keep] = False
    drop = np.flatnonzero(rest)
    cross = full[np.ix_(drop, keep)]
    lift = np.zeros((size, len(keep)))
    lift[keep, np.arange(len(keep))] = 1.0
    reduced = full[np.ix_(keep, keep)]
    if len(drop):
        lift[drop] = -np.linalg.solve(full[np.ix_(drop, drop)], cross)
        reduced = reduced + cross.T @ lift[drop]
    return (reduced + reduced.T) / 2, lift


def incidence(branch: Branch, row: Mapping[str, int], size: int) -> Array:
    """+1 at the row of ``a`` and -1 at that of ``b``, shape (size,); rows below 0 are left out."""
    w = np.zeros(size)
    for net, sign in ((branch.a, 1.0), (branch.b, -1.0)):
        if row[net] >= 0:
            w[row[net]] += sign
    return w
