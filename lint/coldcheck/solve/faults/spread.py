"""What a faulty circuit shows at every net, and how far each tolerance moves that, to first order.

As `spread` does for the good circuit, at the point where the fault has taken
it: a tube that is cut off no longer spreads what it feeds, a rail that has collapsed spreads less.
The same columns of the Jacobian give the resistance behind every net, which a meter loads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.cycle.spread import _effects, swings_of
from coldcheck.solve.cycle.starts import NotConverged
from coldcheck.solve.faults.equations import FaultCycle
from coldcheck.solve.faults.fault import BRIDGE, Fault, state_with
from coldcheck.solve.faults.solver import FaultSolver, at_once
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.cycle.swings import Swings
    from coldcheck.solve.faults.solver import _Good, _Job
    from coldcheck.solve.solution import NoNumber

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True)
class Shown:
    """A circuit with faults, net by net in the order of ``nets`` (K of them).

    volts, ac, ohms
        DC, AC rms, and the resistance behind the net for direct current, each (K,). NaN for a net
        that nothing holds.
    deviations
        Cause -> what its deviation does to the DC, (K,) volts.
    waves, behind
        What any two nets have between them: the voltages over the cycle, (K, N), and what a direct
        current into one net does to all, (K, K) ohms; also of nets that nothing holds.
    """

    nets: tuple[str, ...]
    volts: Array
    ac: Array
    ohms: Array
    deviations: Mapping[str, Array]
    waves: NDArray[np.float32]
    behind: NDArray[np.float32]


class SpreadSolver(FaultSolver):
    """A fault solver that also says how tolerances move a faulty circuit."""

    def shown(
        self, faults: Fault | Sequence[Fault], state: str = WARM, *, deviations: bool = True
    ) -> Shown | str:
        """The circuit with the faults (none: the good one), or why there are no numbers.

        Without ``deviations`` there are none, and it takes half the time.
        Raises NoSuchPart and KeyError as :meth:`FaultSolver.solve` does.
        """
        try:
            return self._shown(faults, state, deviations)
        except np.linalg.LinAlgError:
            return "the equations have no single answer: a loop of sources, or a short"
        except (Unsolvable, NotConverged) as problem:
            return str(problem)

    def shown_all(
        self, every: Sequence[Sequence[Fault]], alone: int | None = None
    ) -> Iterator[Shown | str]:
        """What :meth:`shown` says of each case (some faults at once), many worked out together.

        Of those that do not arrive with the others so many are solved by themselves, which takes
        ten times as long and more (all of them when ``None``). Raises the same.
        """
        left = len(every) if alone is None else alone
        good = self._batched()
        some = at_once(good.base) if good is not None and good.base is not None else len(every)
        for first in range(0, len(every), max(some, 1)):
            piece = every[first : first + some]
            if good is None:
                yield from (self.shown(tuple(faults)) for faults in piece)
                continue
            jobs = [self._job(good, x, state_with(self._state(WARM), x)) for x in piece]
            for faults, job, found in zip(piece, jobs, self._together(good, jobs), strict=True):
                if found[1] is None and faults and left <= 0:
                    yield TOO_HARD
                    continue
                left -= found[1] is None
                yield self._of_batch(good, tuple(faults), job, found[1])

    def _batched(self) -> _Good | None:
        """The good circuit, where its faults can be worked out together."""
        try:
            good = self._known(WARM)
        except (np.linalg.LinAlgError, Unsolvable, NotConverged):
            return None
        return good if good.base is not None and good.small else None

    def _of_batch(
        self, good: _Good, faults: tuple[Fault, ...], job: _Job, answer: Steady | None
    ) -> Shown | str:
        """One case of many; by itself where it did not arrive with the others."""
        if answer is None or good.base is None or not faults:
            return self.shown(faults)
        cycle = FaultCycle(good.base, job.change, job.cold)
        return _shown(self.circuit, cycle, answer, job.missing, wanted=True)

    def loaded(
        self,
        faults: Sequence[Fault],
        net: str,
        ohms: float,
        state: str = WARM,
        other: str = GROUND,
    ) -> float | None:
        """DC volts of a net from another with a meter of so many ohms on them; ``None`` if unknown.

        For nets that the meter moves so much that a slope says nothing: an open cathode, a grid
        that hangs loose. Raises as :meth:`FaultSolver.solve` does.
        """
        meter = Fault(BRIDGE, f"{net}~{other}", ohms)
        try:
            volts = {GROUND: 0.0, **self.means((*faults, meter), state)}
        except (np.linalg.LinAlgError, Unsolvable, NotConverged):
            return None
        known = net in volts and other in volts
        return volts[net] - volts[other] if known else None

    def _shown(self, faults: Fault | Sequence[Fault], state: str, deviations: bool) -> Shown:
        several = faults if isinstance(faults, tuple | list) else (faults,)
        if not several:
            good = self._known(state)
            return _shown(self.circuit, good.cycle, good.answer, good.missing, deviations)
        wanted = state_with(self._state(state), several)
        faulty, cycle, answer, missing = self._solved(several, state, wanted)
        seen = self.circuit if isinstance(cycle, FaultCycle) else faulty
        return _shown(seen, cycle, answer, missing, deviations)


TOO_HARD = "it does not arrive together with the others"

MOVED = 0.8
"""Share of a voltage that a meter leaves, below which its reading is solved for."""


def read_dc(
    solver: SpreadSolver, faults: Sequence[Fault], shown: Shown, at: int, ohms: float
) -> float:
    """What a DC meter of so many ohms shows at the net in place ``at``; NaN if not known."""
    share = ohms / (ohms + shown.ohms[at])
    if share >= MOVED:
        return float(shown.volts[at] * share)
    volts = solver.loaded(faults, shown.nets[at], ohms)
    return np.nan if volts is None else volts


def _shown(
    circuit: Circuit, cycle: Cycle, answer: Steady, missing: Mapping[str, NoNumber], wanted: bool
) -> Shown:
    rows = cycle.network.nets
    place = np.array(list(rows.values()), dtype=int)
    lost = np.array([net in missing for net in rows])
    effects = list(_effects(circuit, cycle, answer)) if wanted else []
    swings, count = swings_of(effects), len(effects)
    swings.columns += len(place)
    swings.rows += [(int(row), count + k, np.ones(cycle.n)) for k, row in enumerate(place)]
    moved = respond(cycle, answer, swings)[place]
    deviations: dict[str, Array] = {}
    for k, effect in enumerate(effects):
        deviations[effect.cause] = deviations.get(effect.cause, 0.0) + moved[:, k]
    volts, ac = answer.unknowns[place].mean(axis=1), answer.unknowns[place].std(axis=1)
    every = moved[:, count:].astype(np.float32)
    held, ac, ohms = (np.where(lost, np.nan, x) for x in (volts, ac, np.abs(np.diag(every))))
    waves = answer.unknowns[place].astype(np.float32)
    return Shown(tuple(rows), held, ac, ohms, deviations, waves, every)


def respond(cycle: Cycle, answer: Steady, swings: Swings) -> Array:
    """:meth:`Cycle.respond`, with the fault in the AC network as well where there is one."""
    if not isinstance(cycle, FaultCycle):
        return cycle.respond(answer, swings)
    _, slopes = cycle.bank.linear(cycle.valve_at.T @ answer.start.mean)
    kernel = cycle.impedance(slopes)
    direction = cycle._direction(answer.start.wave, slopes, kernel)
    volts = swings.volts(len(cycle.ports), cycle.n) + _seen_at_ports(cycle, slopes, swings)
    return direction.means(swings.means(cycle.network.size), volts)


def _seen_at_ports(cycle: FaultCycle, slopes: Array, swings: Swings) -> Array:
    """AC volts (p, N, k) that currents taken from the rows leave at the ports.

    Woodbury's formula with the terms of the fault and the tubes' slopes, as in ``fault_cycle``.
    Most columns are one or two rows, so only what ports and terms see of those is asked for.
    """
    ports, n = len(cycle.ports), cycle.n
    out = np.zeros((ports, n, swings.columns))
    rippling = [entry for entry in swings.rows if np.ptp(entry[2]) > 0]
    if cycle.response is None or not ports or not rippling:
        return out
    base, r = cycle.base, cycle.at.shape[1]
    drive = np.fft.rfft(np.stack([samples for *_, samples in rippling]))[:, 1:].T
    views = base.views[:, :, [row for row, *_ in rippling]] * drive[:, None]
    term = _terms_see(cycle, [row for row, *_ in rippling]) * drive[:, None]
    moving, place = np.unique([column for _, column, _ in rippling], return_inverse=True)
    each = np.zeros((len(base.symbol), views.shape[1] + r, len(moving)), dtype=complex)
    both = np.concatenate([views[:, :ports], term, views[:, ports:]], axis=1)
    for k, column in enumerate(place):
        each[:, :, column] += both[:, :, k]
    tubes = slice(ports, ports + cycle.bank.size)
    outward = np.concatenate([cycle.seen_changed, base.seen[:, :, tubes]], axis=2)
    mutual = np.concatenate([cycle.mutual, cycle.felt[:, :, tubes]], axis=2)
    within = np.concatenate([mutual, outward[:, ports:]], axis=1)
    y = np.zeros((len(base.symbol), within.shape[1], within.shape[1]), dtype=complex)
    y[:, r:, r:] = slopes
    y[:, np.arange(r), np.arange(r)] = cycle.extra
    back = np.linalg.solve(np.eye(within.shape[1]) + y @ within, y @ each[:, ports:])
    seen = each[:, :ports] - outward[:, :ports] @ back
    padded = np.concatenate([np.zeros((1, *seen.shape[1:])), seen])
    out[:, :, moving] = np.fft.irfft(padded, n=n, axis=0).transpose(1, 0, 2)
    return out


def _terms_see(cycle: FaultCycle, rows: Sequence[int]) -> Complex:
    """What the terms of the fault see of currents into rows of the plain network, (K, r, rows)."""
    terms = cycle.change.siemens + cycle.change.farads
    found = np.zeros((len(cycle.base.symbol), len(terms), len(rows)), dtype=complex)
    for k, (ends, _) in enumerate(terms):
        for row, weight in ends.items():
            found[:, k] += weight * cycle.base.plain[:, row, rows]
    return found
