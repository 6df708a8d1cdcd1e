"""The state ``off``: every stored charge and every net on its way down after switch-off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.off.charging import at_their_highest
from coldcheck.solve.off.decay import all_seconds_above
from coldcheck.solve.off.discharge import (
    GUARD_V,
    TOUCH_V,
    Decay,
    Discharge,
    charged_capacitors,
    held_volts,
    positions,
    warm_of,
    worst_of,
)
from coldcheck.solve.solution import PULLED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

OFF = "off"


@dataclass(frozen=True, slots=True)
class NetDecay:
    """A net's way down, measured to gnd; ``volts`` right after switch-off, the tubes cold."""

    net: str
    volts: float
    seconds: float
    guard_seconds: float
    charged_in: str


@dataclass(frozen=True, slots=True)
class Position:
    """One position of the switches: the slowest discharge of each capacitor and each net."""

    thrown: tuple[str, ...]
    capacitors: tuple[Decay, ...]
    nets: tuple[NetDecay, ...]

    @property
    def name(self) -> str:
        """``off``, or ``off, S1 thrown``."""
        return ", ".join([OFF, *(thrown_text((s,)) for s in self.thrown)])


@dataclass(frozen=True, slots=True)
class OffState:
    """The set switched off, once for every position of one switch, none thrown first.

    Capacitors and nets are those that start above ``GUARD_V`` (capacitors: and hold enough to
    matter). ``unsolved`` says why there is nothing, where no state has numbers; ``unvalued``
    names the capacitors that are left out because their capacitance is not written.
    """

    positions: tuple[Position, ...]
    unsolved: str
    unvalued: tuple[str, ...]


def off_state(circuit: Circuit, solutions: Mapping[str, Solution]) -> OffState:
    """Every charge's way down after switch-off, from the worst state it may be charged in.

    States with a tube out of its socket are no start: nobody listens to those.
    """
    unvalued = tuple(
        b.name
        for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and b.value is None
    )
    charged = [s for s in at_their_highest(solutions.values()) if s.state.kind != PULLED]
    if not charged:
        reason = next((s.reason for s in solutions.values() if s.reason), "nothing was solved")
        return OffState((), reason, unvalued)
    kept = charged_capacitors(circuit, charged, GUARD_V)
    found = []
    for thrown in positions(circuit):
        if not kept:
            found.append(Position(tuple(thrown), (), ()))
            continue
        network = Discharge.build(circuit, kept, thrown, warm_of(charged))
        slow = tuple(worst_of(network.decays(charged, GUARD_V)).values())
        found.append(Position(tuple(sorted(thrown)), slow, _nets(network, circuit, charged)))
    return OffState(tuple(found), "", unvalued)


def _nets(
    network: Discharge, circuit: Circuit, charged: Sequence[Solution]
) -> tuple[NetDecay, ...]:
    """The slowest way down of every net the drawing names that starts above ``GUARD_V``."""
    names = [n for n in circuit.names if n in network.drains.node and n != GROUND]
    if not names:
        return ()
    shares = np.array([network.drains.net_volts(n) for n in names])
    each = [
        network.weights(shares, {b.name: held_volts(b, s) for b in network.capacitors})
        for s in charged
    ]
    states = [s.state.name for s in charged for _ in names]
    worst: dict[str, NetDecay] = {}
    for found in _net_decays(names * len(charged), np.concatenate(each), network.taus, states):
        old = worst.get(found.net)
        if old is None or (found.seconds, abs(found.volts)) > (old.seconds, abs(old.volts)):
            worst[found.net] = found
    return tuple(worst[n] for n in names if n in worst)


def _net_decays(
    names: Sequence[str], weights: Array, taus: Array, states: Sequence[str]
) -> Iterator[NetDecay]:
    start = weights.sum(axis=1)
    touch, guard = all_seconds_above(weights, taus, (TOUCH_V, GUARD_V))
    for k, net in enumerate(names):
        if guard[k] > 0:
            yield NetDecay(net, float(start[k]), float(touch[k]), float(guard[k]), states[k])
