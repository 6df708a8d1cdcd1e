"""What nets show of a suspect turned into what meters would show, and how uncertain that is.

The covariance holds, to first order at the faulty circuit, what the tolerances of parts, the spread
of tubes and the mains move together (each taken as even within its range, so a variance of a third
of the square), what the first order leaves out, the meter's load, the meter, and a floor. Sizes
between two that were solved are interpolated in the logarithm of the size.
"""

from __future__ import annotations

from math import inf, log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.diagnosis.channels import FLOOR, SINE_PEAK, SWAMPED, above, log_ohms
from coldcheck.bench.diagnosis.readings import AC, DC, OHM
from coldcheck.bench.diagnosis.rewired import as_drawn, rewired
from coldcheck.bench.diagnosis.ripple import EVEN, Ripple
from coldcheck.bench.diagnosis.suspects import GOOD
from coldcheck.bench.instruments.instruments import TRUE_RMS_METER
from coldcheck.circuit.paths import Change
from coldcheck.records import dataclass
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.faults.spread import MOVED, Shown, SpreadSolver, read_dc

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.rewired import Wiring
    from coldcheck.bench.diagnosis.suspects import Case, Suspect
    from coldcheck.bench.instruments.instruments import Instrument

    Array = NDArray[np.float64]

BETWEEN = 2
"""Sizes put between two that were solved."""

CURVED = 0.15
"""Share of the first-order deviation allowed for what the first order leaves out."""

MODEL = 0.005
"""Share of a voltage that the computation itself may be off (common practice)."""

ALIKE = 0.1
"""A meter that takes about as large a share as of the sound circuit, and no more than the slope
says there, need not be solved for with every fault."""

UNHEARD = (f.WEAK, f.DEAD, f.GASSY)
"""Faults that an ohmmeter does not notice: tubes do not conduct for it."""

OHM_OFF = 0.02
"""Deviation of an ohmmeter, as a share."""

FLOOR_SHARE = 0.5
"""Deviation of an AC reading at the floor, as a share of the floor."""

LOST_VOLTS = 0.5
"""Deviation of what a meter shows of a net that nothing else holds: leakage that is not drawn."""

LOST_LOG = 1.0
"""Deviation of the logarithm of the AC of such a net."""


@dataclass(slots=True)
class _Row:
    """One model before it is interpolated: means (K,) and deviations (P, K).

    ``own`` is what the meter's load, and AC far above the DC, make uncertain by itself, (K,).
    """

    mean: Array
    deviations: Array
    lost: NDArray[np.bool_]
    own: Array


class Models:
    """Turns what nets show into models: means and deviations of the channels (K), one by one."""

    def __init__(
        self,
        solver: SpreadSolver,
        channels: tuple[Channel, ...],
        good: Shown,
        meter: Instrument,
    ) -> None:
        self.solver, self.circuit, self.good = solver, solver.circuit, good
        self.wired: dict[Wiring | None, SpreadSolver] = {None: solver}
        self.channels, self.meter = channels, meter
        place = {net: k for k, net in enumerate(good.nets)}
        self.kinds = np.array([c.kind for c in channels])
        self.at = np.array([place.get(c.net, 0) for c in channels], dtype=int)
        self.causes = {cause: k for k, cause in enumerate(good.deviations)}
        self.nets = [c.net for c in channels if c.kind == OHM]
        self.owner: list[int] = []
        self.size: list[float] = []
        self.joined: list[bool] = []
        self.rows: list[_Row] = []
        self.lost: dict[str, tuple[str, ...]] = {}
        self.loose = np.where(self.kinds == DC, LOST_VOLTS, LOST_LOG) ** 2
        self.usual = np.full(len(channels), np.nan)
        self.ohm_deviation = self._ohm_deviation()
        self.ripple = Ripple(solver, channels, self.at, good)

    def shown_all(self, cases: Sequence[Case], alone: int | None = None) -> Iterator[Shown | str]:
        """What the nets show in each case, in order: those with the leads as drawn all together.

        ``alone`` is how many of those may be hard; all when ``None``.
        """
        drawn = [c.faults for c in cases if c.wiring is None]
        together = self.solver.shown_all(drawn, alone)
        yield from (next(together) if c.wiring is None else self.shown(c) for c in cases)

    def shown(self, case: Case) -> Shown | str:
        """What the nets of the sound circuit show in a case, or why that has no numbers."""
        if case.wiring is None:
            return self.solver.shown(case.faults) if case.faults else self.good
        found = self._solver(case).shown(case.faults)
        return found if isinstance(found, str) else as_drawn(found, self.good.nets)

    def _solver(self, case: Case) -> SpreadSolver:
        """The solver of the circuit as its leads go in a case; the last one is kept."""
        if case.wiring not in self.wired:
            assert case.wiring is not None
            self.wired = {
                None: self.solver,
                case.wiring: SpreadSolver(rewired(self.circuit, case.wiring)),
            }
        return self.wired[case.wiring]

    def begin(self) -> None:
        """Put the sound circuit first, as every other model is made in view of it."""
        if not self.rows:
            self.add(0, GOOD, [(GOOD.cases[0], self.good)])

    def add(self, place: int, suspect: Suspect, shown: Sequence[tuple[Case, Shown]]) -> None:
        """A suspect's models, with sizes put in between."""
        rows = [(case.size, self._row(case, s)) for case, s in shown]
        lost = [self.channels[k].net for _, r in rows[:1] for k in np.flatnonzero(r.lost)]
        if lost:
            self.lost[suspect.key] = tuple(dict.fromkeys(lost))
        for (size, row), (after, following) in zip(rows, [*rows[1:], *rows[-1:]], strict=True):
            joined = after != size and not (row.lost != following.lost).any()
            self._put(place, size, row, joined=joined)
            if not joined:
                continue
            for share in np.arange(1, BETWEEN + 1) / (BETWEEN + 1):
                middle = np.exp((1 - share) * log(size) + share * log(after))
                mixed = _mixed(row, following, float(share))
                self._put(place, float(middle), mixed, joined=True)

    def _put(self, place: int, size: float, row: _Row, *, joined: bool) -> None:
        self.joined.append(joined)
        self.owner.append(place)
        self.size.append(size)
        self.rows.append(row)

    def _row(self, case: Case, shown: Shown) -> _Row:
        """The channels' means with the meter's loading, and their deviations."""
        inside = np.array([self.meter.input_ohms(v) for v in self._peaks(shown)])
        share = inside / (inside + shown.ohms[self.at])
        dc = np.where(self.kinds == DC, share, 0.0)
        volts = np.where(self.kinds == DC, shown.volts[self.at] * share, self.ripple.logs(shown))
        moved = (self.kinds == DC) & ~(share >= MOVED) & ~(np.abs(share - self.usual) < ALIKE)
        for k in np.flatnonzero(moved):
            volts[k] = read_dc(self._solver(case), case.faults, shown, int(self.at[k]), inside[k])
        if not self.rows:
            self.usual = np.where(self._straight(shown, volts, share), share, np.nan)
        lost = np.isnan(shown.volts[self.at]) & (self.kinds != OHM)
        mean = np.where(np.isnan(volts), 0.0, volts)
        if self.nets:
            mean[self.kinds == OHM] = self._log_ohms(case)
        deviations = np.zeros((len(self.causes), len(mean)))
        for cause, moved in shown.deviations.items():
            if cause in self.causes:
                deviations[self.causes[cause]] = np.where(lost, 0.0, moved[self.at] * dc)
        return _Row(mean, np.nan_to_num(deviations), lost, self._own(shown, mean, share))

    def _peaks(self, shown: Shown) -> Array:
        """About the highest instant at each channel's net, which a meter's range has to hold."""
        dc, ac = np.nan_to_num(shown.volts[self.at]), np.nan_to_num(shown.ac[self.at])
        return np.asarray(np.abs(dc) + SINE_PEAK * ac)

    def _own(self, shown: Shown, mean: Array, share: Array) -> Array:
        """Volts of DC: by the load a meter is on what is behind the net, and by unequal halves.

        Of so much AC as there is on a net whose rectifier has failed, what the halves of a
        winding differ by is left as DC.
        """
        usual, ac = self.circuit.usual, np.nan_to_num(shown.ac[self.at])
        loaded = (1 - share) * usual.resistor * EVEN**0.5 * mean
        waved = np.where(ac > np.maximum(np.abs(mean), SWAMPED), usual.winding_voltage * ac, 0.0)
        return np.where(self.kinds == DC, np.hypot(np.nan_to_num(loaded), waved), 0.0)

    def _straight(self, shown: Shown, volts: Array, share: Array) -> NDArray[np.bool_]:
        """Where the meter's load on the sound circuit is what the slope says, however large."""
        slope = shown.volts[self.at] * share
        return np.asarray(np.abs(volts - slope) <= FLOOR[DC] + MODEL * np.abs(volts))

    def _log_ohms(self, case: Case) -> Array:
        """The logarithm of what an ohmmeter shows with the faults, an overload at its end."""
        if self.rows and case.wiring is None and all(x.kind in UNHEARD for x in case.faults):
            return np.asarray(self.rows[0].mean[self.kinds == OHM])
        thrown = frozenset(x.part for x in case.faults if x.kind == f.THROWN)
        circuit = self._solver(case).circuit
        meter = Ohmmeter(altered(circuit, case.faults), Change(thrown=thrown))
        return np.array([log_ohms(meter.read(net).nominal or 0.0) for net in self.nets])

    def _ohm_deviation(self) -> Array:
        """Standard deviation of the logarithm of each ohm channel, from the sound circuit."""
        meter, found = Ohmmeter(self.circuit), []
        for net in self.nets:
            ohms = meter.read(net)
            wide = 0.0 if ohms.low == inf else (log_ohms(ohms.high) - log_ohms(ohms.low)) / 2
            found.append(np.hypot(wide * np.sqrt(EVEN), OHM_OFF))
        return np.array(found)

    def known(
        self, first: int = 0
    ) -> tuple[NDArray[np.intp], Array, NDArray[np.bool_], Array, Array, Array]:
        """Owner and size of each model from ``first`` on, whether the next is the same at another.

        Then what it expects.
        Means (H, K), covariance by tolerances (H, K, K), variance of a single reading (H, K).
        """
        rows = self.rows[first:]
        mean = np.array([r.mean for r in rows])
        covariance = np.array([self._covariance(r) for r in rows])
        owner, size = np.array(self.owner[first:]), np.array(self.size[first:])
        joined = np.array(self.joined[first:], dtype=bool)
        return owner, size, joined, mean, covariance, self._noise(mean)

    def _covariance(self, row: _Row) -> Array:
        out = EVEN * row.deviations.T @ row.deviations
        own = CURVED**2 * np.diag(out) + np.where(row.lost, self.loose, 0.0)
        own += row.own**2
        own[self.kinds == OHM] += self.ohm_deviation**2
        return np.asarray(out + self.ripple.covariance(row.mean) + np.diag(own))

    def _noise(self, mean: Array) -> Array:
        """Variance of a single reading by meter and floor, (H, K)."""
        meter = {DC: self.meter.accuracy, AC: TRUE_RMS_METER.accuracy, OHM: 0.0}
        share = np.array([np.hypot(meter[k], 0.0 if k == OHM else MODEL) for k in self.kinds])
        size = np.where(self.kinds == DC, mean, above(mean))
        nothing = np.where(self.kinds == DC, FLOOR[DC], FLOOR_SHARE * (1 - above(mean)))
        nothing = np.where(self.kinds == OHM, OHM_OFF, nothing)
        found = (share * size) ** 2 + nothing**2
        for k in np.flatnonzero(self.kinds == DC):  # a needle is so much of its range off
            swing = self._peaks(self.good)[k] - abs(np.nan_to_num(self.good.volts[self.at[k]]))
            of_range = [self.meter.full_scale(abs(v) + swing) for v in mean[:, k]]
            found[:, k] += (self.meter.accuracy_of_range * np.array(of_range)) ** 2
        return np.asarray(found)


def _mixed(a: _Row, b: _Row, share: float) -> _Row:
    mean = (1 - share) * a.mean + share * b.mean
    deviations = (1 - share) * a.deviations + share * b.deviations
    return _Row(mean, deviations, a.lost, (1 - share) * a.own + share * b.own)
