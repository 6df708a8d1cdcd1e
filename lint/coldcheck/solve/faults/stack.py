"""The changes that many faults make, in arrays: one entry a fault, padded to the largest of them.

What every fault of a state shares is worked out once: the network's answers at all harmonics with
the good circuit's tubes in it, so that a fault that leaves the tubes about as they were costs no
more than its own few terms.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.faults.change import weak_port

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.diodes import Curve
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.faults.change import Change
    from coldcheck.solve.faults.equations import Base

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]
    Places = NDArray[np.intp]
    Solved = tuple[Array, Array, Array, Array]

SCALE_OHM = 200.0


@dataclass(slots=True)
class Loaded:
    """The good circuit with its tubes, at each of K harmonics.

    ``within`` (K, m, m) is the inverse, ``answers`` (K, m, s + 1) what ports, electrodes and the
    mains make of it, ``backward`` (K, s, m) what ports and electrodes see of any row, ``seen``
    (K, s, s + 1) of each other. ``into`` (m, s + 1) is where they are.
    """

    within: Complex
    into: Array
    answers: Complex
    backward: Complex
    seen: Complex

    @classmethod
    def of(cls, base: Base) -> Loaded:
        """Invert every harmonic once. Raises LinAlgError for contradictory wiring."""
        cycle, looking = base.cycle, base.looking
        tubes = base.valve_at @ base.slopes @ base.valve_at.T
        each = base.moving[None] + tubes[None] + base.symbol[:, None, None] * base.c[None]
        within = np.asarray(np.linalg.inv(each), dtype=complex)
        into = np.concatenate([looking, cycle.hum[:, None]], axis=1)
        answers, backward = within @ into.astype(complex), looking.T.astype(complex) @ within
        return cls(within, into, answers, backward, backward @ into.astype(complex))


@dataclass(slots=True)
class Stack:
    """F faults. R is the largest number of terms that one of them has.

    rows, weights
        The two rows of each term and what they weigh, (F, R, 2): places without a row weigh 0.
    siemens, farads
        How much of G and of C each term is, (F, R).
    steady, emission
        Right-hand sides (F, m); factors on the currents of each electrode (F, q).
    laws, law
        The different curves of ports, and which one each port has, (F, p).
    """

    rows: Places
    weights: Array
    siemens: Array
    farads: Array
    steady: Array
    emission: Array
    laws: list[Curve]
    law: Places

    @classmethod
    def of(cls, cycle: Cycle, changes: Sequence[Change], cold: Sequence[frozenset[str]]) -> Stack:
        """Put the changes into arrays; ``cold`` are the tubes that do not emit, fault by fault."""
        faults, terms = len(changes), max((c.rank for c in changes), default=0)
        ends = np.zeros((faults, terms, 2))
        rows, siemens = np.zeros((faults, terms, 2), dtype=int), np.zeros((faults, terms))
        farads, steady = np.zeros((faults, terms)), np.tile(cycle.steady, (faults, 1))
        for k, change in enumerate(changes):
            fixed = len(change.siemens)
            siemens[k, :fixed] = [y for _, y in change.siemens]
            farads[k, fixed : change.rank] = [c for _, c in change.farads]
            for j, (at, _) in enumerate(change.siemens + change.farads):
                rows[k, j, : len(at)], ends[k, j, : len(at)] = list(at), list(at.values())
            _drive(cycle, change, steady[k])
        emits = [
            {**c.emission, **dict.fromkeys(dead, 0.0)}
            for c, dead in zip(changes, cold, strict=True)
        ]
        names = [v.part for v in cycle.bank.valves for _ in v.ends]
        emission = np.array([[e.get(name, 1.0) for name in names] for e in emits])
        laws, law = _laws(cycle, changes, emits)
        return cls(
            rows, ends, siemens, farads, steady, emission.reshape(faults, len(names)), laws, law
        )

    def at(self, size: int) -> Array:
        """The terms' vectors, (F, m, R)."""
        faults, terms = self.siemens.shape
        out = np.zeros((faults, size, terms))
        fault, term = np.indices((faults, terms))
        for end in range(2):  # both ends of a term are never the same row
            out[fault, self.rows[:, :, end], term] += self.weights[:, :, end]
        return out

    def seen(self, answers: Complex) -> Complex:
        """What the terms see of answers (K, m, c): (F, K, R, c)."""
        found = sum(answers[:, self.rows[:, :, e]] * self.weights[:, :, e, None] for e in range(2))
        return np.asarray(found).transpose(1, 0, 2, 3)

    def caused(self, backward: Complex) -> Complex:
        """What the terms cause in a view (K, c, m) of all rows: (F, K, c, R)."""
        found = sum(backward[:, :, self.rows[:, :, e]] * self.weights[:, :, e] for e in range(2))
        return np.asarray(found).transpose(2, 0, 1, 3)

    def mutual(self, within: Complex) -> Complex:
        """What each term sees of each: (F, K, R, R)."""
        out = np.zeros((), dtype=complex)
        for e in range(2):
            for d in range(2):
                pairs = within[:, self.rows[:, :, e, None], self.rows[:, None, :, d]]
                out = out + pairs * self.weights[:, :, e, None] * self.weights[:, None, :, d]
        return np.asarray(out).transpose(1, 0, 2, 3)

    def curves(self, who: Places, wave: Array) -> Solved:
        """Volts, amperes and slopes of the ports of some faults, each (f, p, N)."""
        out = [np.zeros_like(wave) for _ in range(4)]
        law = self.law[who]
        for k in np.unique(law):
            here = law == k
            flat = wave[here].ravel()
            for target, got in zip(out, self.laws[k].solve(flat, SCALE_OHM), strict=True):
                target[here] = got.reshape(len(flat) // wave.shape[2], wave.shape[2])
        return out[0], out[1], out[2], out[3]


def _drive(cycle: Cycle, change: Change, steady: Array) -> None:
    """Add what the change puts into the right-hand side (m,)."""
    for row, amount in change.steady:
        steady[row] += amount
    for net, amps in change.gas.items():
        if net in cycle.network.nets:
            steady[cycle.network.nets[net]] += amps


def _laws(
    cycle: Cycle, changes: Sequence[Change], emits: Sequence[dict[str, float]]
) -> tuple[list[Curve], Places]:
    """The curves there are, and each fault's choice of them."""
    known: dict[Curve, int] = {}
    law = np.zeros((len(changes), len(cycle.ports)), dtype=int)
    for k, (change, emission) in enumerate(zip(changes, emits, strict=True)):
        for j, port in enumerate(cycle.ports):
            curve = change.curves.get(port.owner) or weak_port(port, emission).curve
            law[k, j] = known.setdefault(curve, len(known))
    return list(known), law
