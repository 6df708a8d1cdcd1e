"""What tolerances make of AC readings: the mains, filter capacitors, unequal halves, and a rest.

All is worked out at the sound circuit and taken over for the faulty ones, as shares of the AC or
as volts that are added to it.
"""

from __future__ import annotations

from dataclasses import field, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.diagnosis.channels import AC_FLOOR, HUM, above
from coldcheck.bench.diagnosis.readings import AC, DC
from coldcheck.bench.diagnosis.rewired import revalued
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault
from coldcheck.solve.faults.spread import Shown, SpreadSolver

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.tips import Tips
    from coldcheck.circuit.model import Branch, Circuit

    Array = NDArray[np.float64]

EVEN = 1 / 3
"""Variance of a deviation that is even within +/- 1."""

ADDED = 0.8
"""Variance of the square of such a deviation, over its mean squared (4/5)."""

CAPACITOR_OFF = 0.20
"""Tolerance of an electrolytic that states none (common practice)."""

AC_TOGETHER, AC_EACH = 0.055, 0.12
"""Deviations of ripple as a share, all of it together (the load) and each by itself, besides what
the mains, the filter capacitors' tolerances and unequal halves make of it."""

WOUND_EACH = 0.025
"""Deviation of a winding's own AC as a share: its turns, and what its load takes."""

STEADY = 0.05
"""Share of the AC of a winding's lead that its other end, or tap, may have for that to be it."""

MORE_MAINS = 1.02
"""What the mains is times its voltage, to see what moves with it."""

HALVES = 2


@dataclass(frozen=True, slots=True)
class Rippling:
    """The sound circuit, and what was solved of it with its electrolytics and halves moved.

    ``filters`` with each electrolytic at the end of its tolerance, ``halves`` with the one and the
    other half of a winding or hum pot the greater; what could not be solved is the sound circuit.
    ``mains`` is with ``MORE_MAINS``; the sound circuit where there is no mains.
    """

    good: Shown
    mains: Shown
    filters: tuple[Shown, ...] = ()
    halves: tuple[tuple[Shown, Shown], ...] = field(default=())


def rippling(solver: SpreadSolver, good: Shown) -> Rippling:
    """All that is solved for the ripple of a circuit."""
    circuit = solver.circuit
    capacitors = [b for b in circuit.branches.values() if _filters(b)]
    filters = tuple(_solved(_filtering(solver, b), good) for b in capacitors)
    halves = []
    for name, tolerance in _halved(circuit, good):
        off = tolerance * EVEN**0.5
        both = [SpreadSolver(revalued(circuit, name, 1 + x)) for x in (off, -off)]
        more, less = (_solved(s.shown((), deviations=False), good) for s in both)
        halves.append((more, less))
    return Rippling(good, _more_mains(circuit, good), filters, tuple(halves))


def _more_mains(circuit: Circuit, good: Shown) -> Shown:
    if circuit.mains is None:
        return good
    mains = replace(circuit.mains, voltage=circuit.mains.voltage * MORE_MAINS)
    solver = SpreadSolver(replace(circuit, mains=mains))
    return _solved(solver.shown((), deviations=False), good)


def _solved(found: Shown | str, good: Shown) -> Shown:
    return good if isinstance(found, str) else found


def _filtering(solver: SpreadSolver, branch: Branch) -> Shown | str:
    """The circuit with an electrolytic at the end of its tolerance."""
    stated = branch.part.tolerance if branch.part else None
    fault = Fault(f.DRIFT, branch.name, 1 + (CAPACITOR_OFF if stated is None else stated))
    return solver.shown(fault, deviations=False)


def _halved(circuit: Circuit, good: Shown) -> Iterator[tuple[str, float]]:
    """One half of each tapped winding, and of each pot across AC, with its tolerance."""
    for winding in circuit.windings():
        if winding.centred and winding.branches[0].value is not None:
            yield winding.branches[0].name, circuit.usual.winding_voltage
    humming = {n for n, ac in zip(good.nets, np.nan_to_num(good.ac), strict=True) if ac > HUM}
    tracks = [b for b in circuit.branches.values() if b.kind is PartKind.POT]
    for one, other in pairwise(tracks):
        ends = {one.a, one.b} ^ {other.a, other.b}
        if one.owner == other.owner and len(ends & humming) == HALVES:
            yield one.name, circuit.usual.resistor


class Ripple:
    """Deviations of the AC (and of the DC, by filter capacitors) of a circuit's channels (K).

    added
        Squared volts AC that unequal halves bring, (K,).
    with_mains
        What the mains, as much higher as it is taken to be at most, adds to the logarithm, (K,).
    """

    def __init__(
        self, circuit: Circuit, channels: Sequence[Channel], tips: Tips, solved: Rippling
    ) -> None:
        self.tips = tips
        self.kinds = np.array([c.kind for c in channels])
        _, grown = self._filter(solved.mains, solved.good)
        self.with_mains = grown * circuit.mains_tolerance / np.log(MORE_MAINS)
        wound = _wound(circuit, solved.good)
        self.wound = np.array([c.other == GROUND and c.net in wound for c in channels])
        self.good_ac = self._ac(solved.good)
        self.filters = [self._filter(moved, solved.good) for moved in solved.filters]
        self.added, self.unequal = self._unequal(solved)

    def logs(self, shown: Shown) -> Array:
        """The logarithm of the AC to be expected, (K,), as :func:`scaled` has it."""
        return np.log(np.hypot(np.nan_to_num(self.tips.ac(shown)), self.added**0.5) + AC_FLOOR)

    def covariance(self, mean: Array) -> Array:
        """Of the channels by all this, (K, K), where such means (K,) are expected."""
        ac = np.where(self.kinds == AC, above(mean), 0.0)
        volts = self._volts(mean)
        more = ac * self._grown(volts)
        moved = [EVEN**0.5 * (dc + share * ac) for dc, share in self.filters]
        part = np.minimum(self.good_ac / volts, 1.0)
        moved += [share * ac * part for share in self.unequal]
        moved += [np.where(self.wound, 0.0, AC_TOGETHER * ac), ADDED**0.5 * more]
        every = np.array(moved)
        each = np.where(self.wound, WOUND_EACH, AC_EACH) * ac
        return np.asarray(every.T @ every + np.diag(each**2))

    def _filter(self, moved: Shown, good: Shown) -> tuple[Array, Array]:
        """What one thing moved, as an electrolytic, does to the sound circuit.

        Volts DC, and the logarithm of the AC, (K,) each.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.log(self.tips.ac(moved) / self.tips.ac(good))
        share = np.nan_to_num(share, posinf=0.0, neginf=0.0)
        volts = np.nan_to_num(self.tips.volts(moved) - self.tips.volts(good))
        dc, ac = self.kinds == DC, self.kinds == AC
        return np.where(dc, volts, 0.0), np.where(ac, share, 0.0)

    def _unequal(self, solved: Rippling) -> tuple[Array, Array]:
        """What unequal halves of windings and hum pots, a standard deviation off, do to the AC.

        Of equal halves the ripple is at twice the mains frequency only; of unequal ones there is
        some at the mains frequency, which filters let through far better. Squared volts that are
        added whichever half is the greater, (K,), and for each of them the share by which the AC
        then differs between the one and the other, (T, K).
        """
        usual, added, shares = self.good_ac, np.zeros(len(self.kinds)), []
        for more, less in ((self._ac(one), self._ac(two)) for one, two in solved.halves):
            added += np.maximum((more**2 + less**2) / 2 - usual**2, 0.0)
            shares.append(np.log((more + AC_FLOOR) / (less + AC_FLOOR)) / 2)
        return added, np.array(shares).reshape(-1, len(self.kinds))

    def _ac(self, shown: Shown) -> Array:
        """Volts AC of each channel, (K,); 0 where it is none of AC, or of a net without."""
        return np.where(self.kinds == AC, np.nan_to_num(self.tips.ac(shown)), 0.0)

    def _volts(self, mean: Array) -> Array:
        """Volts AC in all of a model, (K,), never nothing."""
        logs = np.where(self.kinds == AC, mean, 0.0)
        return np.asarray(np.maximum(np.exp(logs) - AC_FLOOR, AC_FLOOR / 10))

    def _grown(self, volts: Array) -> Array:
        """What unequal halves have added to the logarithm of so many volts, (K,)."""
        return np.asarray(-0.5 * np.log1p(-np.minimum(self.added / volts**2, 1 - 1e-6)))


def _wound(circuit: Circuit, good: Shown) -> set[str]:
    """The nets whose AC is a winding's own: its other end, or its tap, is about still."""
    ac = {GROUND: 0.0, **dict(zip(good.nets, np.nan_to_num(good.ac).tolist(), strict=True))}
    found = set()
    for winding in circuit.windings():
        least = min(ac.get(net, 0.0) for net in winding.nets)
        found |= {
            n for n in winding.nets if ac.get(n, 0.0) * STEADY > least and not winding.primary
        }
    return found


def _filters(branch: Branch) -> bool:
    """Whether it is a capacitor whose tolerance shows in what a meter reads."""
    return (
        branch.kind is PartKind.CAPACITOR and branch.plus is not None and branch.value is not None
    )
