"""What nets show of a suspect turned into what meters would show, and how uncertain that is.

The covariance holds, to first order at the faulty circuit, what the tolerances of parts, the spread
of tubes and the mains move together (each taken as even within its range, so a variance of a third
of the square), what the first order leaves out, the meter's load, the meter, and a floor. Sizes
between two that were solved are put in even in the logarithm of the size (:mod:`~.between`).
"""

from __future__ import annotations

from math import inf, log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.diagnosis.between import away_from_sound, between
from coldcheck.bench.diagnosis.channels import SINE_PEAK, SWAMPED, above, log_ohms
from coldcheck.bench.diagnosis.readings import AC, DC, FREQUENCY, OHM, SIGNAL
from coldcheck.bench.diagnosis.rewired import as_drawn, rewired
from coldcheck.bench.diagnosis.ripple import EVEN, Ripple
from coldcheck.bench.diagnosis.suspects import GOOD
from coldcheck.bench.diagnosis.tips import Tips
from coldcheck.bench.instruments.instruments import TRUE_RMS_METER
from coldcheck.bench.instruments.measure import STRAY_AMPS, STRAY_VOLTS, off_by_range
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import Change
from coldcheck.records import dataclass
from coldcheck.solve.cycle.devices import one_way_ends
from coldcheck.solve.cycle.network import REVERSE_S
from coldcheck.solve.cycle.spread import LINE
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.faults.spread import MOVED, Shown, SpreadSolver, read_dc

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.rewired import Wiring
    from coldcheck.bench.diagnosis.ripple import Rippling
    from coldcheck.bench.diagnosis.suspects import Case, Suspect
    from coldcheck.bench.instruments.instruments import Instrument

    Array = NDArray[np.float64]

BETWEEN = 3
"""Sizes put between two that were solved."""

UNSOLVED = 0.03
"""Share of the step from one solved size to the next that what lies between may be off."""

CURVED = 0.15
"""Share of the first-order deviation allowed for what the first order leaves out."""

MODEL = 0.005
"""Share of a voltage that the computation itself may be off (common practice)."""

ALIKE = 0.1
"""A meter that takes about as large a share as of the sound circuit, and no more than the slope
says there, need not be solved for with every fault."""

STILL = 0.04
"""Volts by which a solved reading may differ from what the slope says and still be as it says."""

UNHEARD = (f.WEAK, f.DEAD, f.GASSY)
"""Faults that an ohmmeter does not notice: tubes do not conduct for it."""

OHM_OFF = 0.02
"""Deviation of an ohmmeter, as a share."""

LEAD_OHMS = 0.3
"""Ohms of leads and contacts that an ohmmeter may show more or less."""

FLOOR_SHARE = 0.5
"""Deviation of an AC reading at the floor, as a share of the floor."""

BY_THEMSELVES = (SIGNAL, FREQUENCY)
"""Kinds of readings that are worked out by themselves, and not for further faults."""

UNHEARD_SPREAD = 1.0
"""Deviation of the logarithm of a signal that was not worked out: from a third to three times."""

LOST_VOLTS = 0.5
"""Deviation of what a meter shows of a net that nothing else holds: leakage that is not drawn."""

LOST_AC, LOST_LOG = 0.3, 1.5
"""Volts AC that a meter picks up on such a net (230 V through a picofarad into 10 Mohm: 0.7 V,
derived), and the deviation of their logarithm."""


@dataclass(slots=True)
class _Row:
    """One model before it is interpolated: means (K,) and deviations (P, K).

    ``own`` is what the meter's load, stray currents, and AC far above the DC make uncertain by
    itself, (K,); ``loose`` are the nets (M,) that nothing holds.
    """

    mean: Array
    deviations: Array
    lost: NDArray[np.bool_]
    own: Array
    loose: NDArray[np.bool_]


class Models:
    """Turns what nets show into models: means and deviations of the channels (K), one by one.

    Of the first ``known`` channels the means are known, so a meter that moves them is not solved.
    """

    def __init__(
        self,
        solver: SpreadSolver,
        channels: tuple[Channel, ...],
        rippling: Rippling,
        meter: Instrument,
        known: int = 0,
    ) -> None:
        self.solver, self.circuit, self.good = solver, solver.circuit, rippling.good
        self.wired: dict[Wiring | None, SpreadSolver] = {None: solver}
        self.rippling = rippling
        self.usual_signal = np.zeros(len(channels))
        self.channels, self.meter = channels, meter
        self.new = np.arange(len(channels)) >= known
        self.kinds = np.array([c.kind for c in channels])
        self.tips = Tips(channels, self.good.nets)
        self.causes = {cause: k for k, cause in enumerate(self.good.deviations)}
        self.nets = [(c.net, c.other) for c in channels if c.kind == OHM]
        self.blocking = _columns(one_way_ends(self.circuit), self.good.nets)
        self.owner: list[int] = []
        self.size: list[float] = []
        self.joined: list[bool] = []
        self.rows: list[_Row] = []
        self.lost: dict[str, tuple[str, ...]] = {}
        self.strays = np.zeros(len(channels))
        self.loose = np.where(self.kinds == DC, LOST_VOLTS, LOST_LOG) ** 2
        self.usual = np.full(len(channels), np.nan)
        self.ohm_deviation = self._ohm_deviation()
        self.ripple = Ripple(self.circuit, channels, self.tips, rippling)

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
            joined = after != size and not (row.loose != following.loose).any()
            self._put(place, size, row, joined=joined)
            if not joined:
                continue
            for share in np.arange(1, BETWEEN + 1) / (BETWEEN + 1):
                middle = float(np.exp((1 - share) * log(size) + share * log(after)))
                at = [away_from_sound(suspect.kind, x) for x in (size, middle, after)]
                means = self.rows[0].mean, row.mean, following.mean
                mean = between(self.kinds, means, at, float(share))
                off = np.where(self.kinds == OHM, 0.0, UNSOLVED * (following.mean - row.mean))
                mixed = _mixed(row, following, mean, off, float(share))
                self._put(place, middle, mixed, joined=True)

    def _put(self, place: int, size: float, row: _Row, *, joined: bool) -> None:
        self.joined.append(joined)
        self.owner.append(place)
        self.size.append(size)
        self.rows.append(row)

    def _row(self, case: Case, shown: Shown) -> _Row:
        """The channels' means with the meter's loading, and their deviations."""
        usual, behind = self.tips.volts(shown), self.tips.ohms(shown)
        inside = np.array([self.meter.input_ohms(v) for v in self._peaks(shown)])
        share = inside / (inside + behind)
        dc = np.where(self.kinds == DC, share, 0.0)
        volts = np.where(self.kinds == DC, usual * share, self.ripple.logs(shown))
        moved = (self.kinds == DC) & ~(share >= MOVED) & ~(np.abs(share - self.usual) < ALIKE)
        for k in np.flatnonzero(moved & self.new):
            volts[k] = self._loaded(case, shown, int(k), float(inside[k]))
        if not self.rows:
            self.usual = np.where(self._straight(usual, volts, share), share, np.nan)
        lost = np.isnan(usual) & (self.kinds != OHM)
        picked = np.where(self.kinds == AC, log(LOST_AC), 0.0)
        mean = np.where(lost, picked, np.where(np.isnan(volts), 0.0, volts))
        mean = np.where(np.isin(self.kinds, BY_THEMSELVES), self.usual_signal, mean)
        if self.nets:
            mean[self.kinds == OHM] = self._log_ohms(case)
        causes = [c for c in shown.deviations if c in self.causes]
        deviations = np.zeros((len(self.causes), len(mean)))
        if causes:
            between = self.tips.moved(np.array([shown.deviations[c] for c in causes]))
            deviations[[self.causes[c] for c in causes]] = np.where(lost, 0.0, between * dc)
        self._with_mains(deviations, mean)
        own = self._own(shown, mean, share, np.nan_to_num(behind))
        return _Row(mean, np.nan_to_num(deviations), lost, own, np.isnan(shown.volts))

    def _with_mains(self, deviations: Array, mean: Array) -> None:
        """Put in what the mains moves of the AC, and with it what the primary's turns do."""
        moved = np.where(self.kinds == AC, self.ripple.with_mains * above(mean), 0.0)
        turns = self.circuit.usual.winding_voltage / max(self.circuit.mains_tolerance, 1e-9)
        fed = [w.name for t in self.circuit.transformers.values() for w in t.primaries]
        alone = [f"voltage of {fed[0]}"] if len(fed) == 1 else []
        for cause, share in ((LINE, 1.0), *((name, -turns) for name in alone)):
            if cause in self.causes:
                deviations[self.causes[cause]] += share * moved

    def _loaded(self, case: Case, shown: Shown, k: int, ohms: float) -> float:
        """What a channel's DC meter of so many ohms shows where it moves the circuit."""
        at, channel = int(self.tips.at[k]), self.channels[k]
        if channel.other == GROUND:
            return read_dc(self._solver(case), case.faults, shown, at, ohms)
        solver = self._solver(case)
        volts = solver.loaded(case.faults, channel.net, ohms, other=channel.other)
        return np.nan if volts is None else volts

    def _peaks(self, shown: Shown) -> Array:
        """About the highest instant between each channel's tips, which a range has to hold."""
        dc, ac = np.nan_to_num(self.tips.volts(shown)), np.nan_to_num(self.tips.ac(shown))
        return np.asarray(np.abs(dc) + SINE_PEAK * ac)

    def _own(self, shown: Shown, mean: Array, share: Array, behind: Array) -> Array:
        """Volts of DC: by the load a meter is on what is behind, by unequal halves, and by strays.

        Of so much AC as there is on a net whose rectifier has failed, what the halves of a
        winding differ by is left as DC. What strays make is never taken for less than in the sound
        circuit: a grid that reads nothing to the millivolt is no sign that it is shorted.
        """
        usual, ac = self.circuit.usual, np.nan_to_num(self.tips.ac(shown))
        loaded = (1 - share) * usual.resistor * EVEN**0.5 * mean
        waved = np.where(ac > np.maximum(np.abs(mean), SWAMPED), usual.winding_voltage * ac, 0.0)
        strays = np.hypot(STRAY_AMPS * behind, self._leaked(shown)) * share
        strays = np.maximum(np.nan_to_num(strays), self.strays)
        if not self.rows:
            self.strays = strays
        own = np.nan_to_num(loaded) ** 2 + waved**2 + strays**2
        return np.where(self.kinds == DC, np.sqrt(own), 0.0)

    def _leaked(self, shown: Shown) -> Array:
        """Volts that the leaks of what blocks make, (K,): a good one leaks nothing to speak of.

        The solver gives each 5 nS: a microampere and a half of a transistor that is shut at 300 V.
        """
        waves, behind = np.nan_to_num(shown.waves), np.nan_to_num(shown.behind)
        amps = REVERSE_S * (waves.mean(axis=1) @ self.blocking)
        moved = self.tips.moved((behind @ self.blocking * amps).T.astype(float))
        return np.asarray(np.sqrt((moved**2).sum(axis=0)))

    def _straight(self, usual: Array, volts: Array, share: Array) -> NDArray[np.bool_]:
        """Where the meter's load on the sound circuit is what the slope says, however large."""
        return np.asarray(np.abs(volts - usual * share) <= STILL + MODEL * np.abs(volts))

    def _log_ohms(self, case: Case) -> Array:
        """The logarithm of what an ohmmeter shows with the faults, an overload at its end."""
        if self.rows and case.wiring is None and all(x.kind in UNHEARD for x in case.faults):
            return np.asarray(self.rows[0].mean[self.kinds == OHM])
        thrown = frozenset(x.part for x in case.faults if x.kind == f.THROWN)
        circuit = self._solver(case).circuit
        meter = Ohmmeter(altered(circuit, case.faults), Change(thrown=thrown))
        return np.array([log_ohms(meter.read(*net).nominal or 0.0) for net in self.nets])

    def _ohm_deviation(self) -> Array:
        """Standard deviation of the logarithm of each ohm channel, from the sound circuit."""
        meter, found = Ohmmeter(self.circuit), []
        for net in self.nets:
            ohms = meter.read(*net)
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
        own[np.isin(self.kinds, BY_THEMSELVES)] += UNHEARD_SPREAD**2
        return np.asarray(out + self.ripple.covariance(row.mean) + np.diag(own))

    def _noise(self, mean: Array) -> Array:
        """Variance of a single reading by meter and floor, (H, K)."""
        meter = {DC: self.meter.accuracy, AC: TRUE_RMS_METER.accuracy}
        known = (DC, AC)
        share = np.array([np.hypot(meter[k], MODEL) if k in known else 0.0 for k in self.kinds])
        size = np.where(self.kinds == DC, mean, above(mean))
        nothing = np.where(self.kinds == DC, STRAY_VOLTS, FLOOR_SHARE * (1 - above(mean)))
        leads = np.hypot(OHM_OFF, LEAD_OHMS * np.exp(-np.where(self.kinds == OHM, mean, 0.0)))
        nothing = np.where(self.kinds == OHM, leads, nothing)
        found = (share * size) ** 2 + nothing**2
        ac = np.nan_to_num(self.tips.ac(self.good))
        for k in np.flatnonzero(self.kinds == DC):
            held = np.abs(mean[:, k]) + SINE_PEAK * ac[k]
            found[:, k] += off_by_range(self.meter, held, float(ac[k])) ** 2
        return np.asarray(found)


def _columns(ends: Sequence[Mapping[str, float]], nets: Sequence[str]) -> Array:
    """What each end weighs at each net, (M, E); gnd weighs nothing."""
    place = {net: k for k, net in enumerate(nets)}
    found = np.zeros((len(nets), len(ends)))
    for column, of in enumerate(ends):
        for net, weight in of.items():
            if net in place:
                found[place[net], column] += weight
    return found


def _mixed(a: _Row, b: _Row, mean: Array, off: Array, share: float) -> _Row:
    """Between two that were solved, with these means and what those may be off."""
    deviations = (1 - share) * a.deviations + share * b.deviations
    own = np.hypot((1 - share) * a.own + share * b.own, off)
    return _Row(mean, deviations, a.lost, own, a.loose)
