"""What every suspect would make the meters show: means and covariances, model by model.

DC is in volts; AC and ohms are in logarithms, since filters and tolerances multiply there
(:func:`scaled`).
A model is a suspect at one size; sizes between two that were solved are interpolated (in the
logarithm of the size). A channel is a kind of reading at a net. The covariance holds, to first
order at the faulty circuit, what the tolerances of parts, the spread of tubes and the mains move
together (each taken as even within its range, so a variance of a third of the square), what the
first order leaves out, the meter, and a floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.clip import mains_side
from coldcheck.bench.instruments import DC_METER, TRUE_RMS_METER
from coldcheck.bench.ohmmeter import Ohmmeter
from coldcheck.bench.points import named_points
from coldcheck.bench.readings import AC, DC, OHM
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import Change
from coldcheck.solve import fault as f
from coldcheck.solve.fault import Fault, altered
from coldcheck.solve.fault_spread import MOVED, Shown, SpreadSolver, read_dc

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.instruments import Instrument
    from coldcheck.bench.suspects import Case, Suspect
    from coldcheck.circuit.model import Branch, Circuit

    Array = NDArray[np.float64]

BETWEEN = 3
"""Sizes put between two that were solved."""

EVEN = 1 / 3
"""Variance of a deviation that is even within +/- 1."""

CURVED = 0.15
"""Share of the first-order deviation allowed for what the first order leaves out."""

MODEL = 0.005
"""Share of a voltage that the computation itself may be off (common practice)."""

FLOOR = {DC: 0.04, AC: 0.01}
"""Volts that mean nothing: leads, contact potentials, stray pick-up."""

CAPACITOR_OFF = 0.20
"""Tolerance of an electrolytic that states none (common practice)."""

AC_TOGETHER, AC_EACH = 0.08, 0.12
"""Deviations of AC readings as a share, all together (mains, load) and each by itself, besides
what the filter capacitors' tolerances make of them."""

ALIKE = 0.1
"""A meter that takes about as large a share as of the sound circuit, and no more than the slope
says there, need not be solved for with every fault."""

LEADS = 1.0
"""Ohms of leads and contacts, at the low end of what an ohmmeter tells apart."""

FLOOR_SHARE = 0.5
"""Deviation of an AC reading at the floor, as a share of the floor."""

LOST_LOG = 1.0
"""Deviation of the logarithm of the AC of such a net."""

LOST_VOLTS = 0.5
"""Deviation of what a meter shows of a net that nothing else holds: leakage that is not drawn."""

MOST_OHMS, OHM_OFF = 2e7, 0.02
"""Above this a hand-held meter shows an overload; deviation of an ohmmeter, as a share."""

HUM = 0.005
"""Volts AC rms below which a net is no point for an AC reading."""


SWAMPED = 10.0
"""Volts AC rms from which a DC meter tells nothing of a smaller DC below it (a winding's end)."""

SINE_PEAK = 2**0.5


@dataclass(frozen=True, slots=True)
class Channel:
    """A kind of reading at a net; ``point`` is what the net is called there.

    ``peak`` is the highest instant of the sound circuit there, volts, taking the AC for a sine.
    """

    kind: str
    net: str
    point: str
    peak: float = 0.0


@dataclass(frozen=True, slots=True)
class Library:
    """Every suspect's models (H of them) for the channels (K) of a circuit.

    owner, size
        Of each model its suspect's place in ``suspects`` (H,), and its size (H,).
    mean, covariance
        What is expected, (H, K), and how uncertain by tolerances, (H, K, K).
    noise
        Variance of a single reading by meter and floor, (H, K).
    unsolved
        Suspect's key -> why it has no models.
    lost
        Suspect's key -> nets that lose what held them.
    """

    suspects: tuple[Suspect, ...]
    channels: tuple[Channel, ...]
    owner: NDArray[np.intp]
    size: Array
    mean: Array
    covariance: Array
    noise: Array
    unsolved: dict[str, str]
    lost: dict[str, tuple[str, ...]]

    def channel(self, kind: str, net: str) -> int | None:
        """The place of a channel; ``None`` where there is none."""
        for k, channel in enumerate(self.channels):
            if channel.kind == kind and channel.net == net:
                return k
        return None


class NothingKnown(Exception):  # noqa: N818 - a condition, reported in words
    """The sound circuit itself has no numbers; the text says why."""


def library_of(
    circuit: Circuit,
    suspects: Sequence[Suspect],
    ohm_nets: Sequence[str] = (),
    meter: Instrument = DC_METER,
) -> Library:
    """Solve every suspect, the first of which is the sound circuit. Raises NothingKnown.

    ``ohm_nets`` are the nets for which readings of the cold resistance are wanted as well;
    ``meter`` is what DC is read with.
    """
    solver = SpreadSolver(circuit)
    good = solver.shown(())
    if isinstance(good, str):
        raise NothingKnown(good)
    channels = _channels(circuit, good, ohm_nets, meter)
    writer = _Writer(solver, channels, good, meter)
    unsolved: dict[str, str] = {}
    for place, suspect in enumerate(suspects):
        shown = [(c, solver.shown(c.faults) if c.faults else good) for c in suspect.cases]
        solved = [(c, s) for c, s in shown if isinstance(s, Shown)]
        unsolved.update((suspect.key, s) for _, s in shown if isinstance(s, str) and not solved)
        writer.add(place, suspect, solved)
    return writer.library(tuple(suspects), unsolved)


def _channels(
    circuit: Circuit, good: Shown, ohm_nets: Sequence[str], meter: Instrument
) -> tuple[Channel, ...]:
    """DC at every safe net, AC at those that carry some, ohms where they are asked for.

    Safe are nets off the mains wiring that the meter's input stands, as sines at least.
    """
    unsafe = _unsafe(circuit)
    names = {net: name for name, net in named_points(circuit).items()}
    found = []
    for net, volts, ac in zip(good.nets, good.volts, good.ac, strict=True):
        peak = float(abs(volts) + SINE_PEAK * ac)
        if net in unsafe or np.isnan(volts) or peak > meter.max_volts:
            continue
        point = names.get(net, net)
        if ac < SWAMPED or abs(volts) > ac:
            found.append(Channel(DC, net, point, peak))
        if ac > HUM:
            found.append(Channel(AC, net, point, peak))
    found += [Channel(OHM, net, names.get(net, net)) for net in dict.fromkeys(ohm_nets)]
    return tuple(found)


def _unsafe(circuit: Circuit) -> set[str]:
    """The nets of the mains wiring; of a set whose gnd is live, line and neutral themselves.

    Such a set can only be worked on behind an isolating transformer, which the report says.
    """
    side = mains_side(circuit)
    if GROUND in side:
        side = frozenset(circuit.points[n] for n in ("line", "neutral") if n in circuit.points)
    return {*side, GROUND}


@dataclass(slots=True)
class _Row:
    """One model before it is interpolated: means (K,) and deviations (P, K)."""

    mean: Array
    deviations: Array
    lost: NDArray[np.bool_]


class _Writer:
    """Turns what nets show into models."""

    def __init__(
        self,
        solver: SpreadSolver,
        channels: tuple[Channel, ...],
        good: Shown,
        meter: Instrument,
    ) -> None:
        self.solver, self.circuit = solver, solver.circuit
        self.channels, self.meter = channels, meter
        place = {net: k for k, net in enumerate(good.nets)}
        self.kinds = np.array([c.kind for c in channels])
        self.at = np.array([place.get(c.net, 0) for c in channels], dtype=int)
        self.causes = {cause: k for k, cause in enumerate(good.deviations)}
        self.nets = [c.net for c in channels if c.kind == OHM]
        self.owner: list[int] = []
        self.size: list[float] = []
        self.rows: list[_Row] = []
        self.lost: dict[str, tuple[str, ...]] = {}
        self.loose = np.where(self.kinds == DC, LOST_VOLTS, LOST_LOG) ** 2
        self.usual = np.full(len(channels), np.nan)
        self.ohm_deviation = self._ohm_deviation()
        self.filters = [
            self._filter(b, good) for b in self.circuit.branches.values() if _filters(b)
        ]

    def add(self, place: int, suspect: Suspect, shown: Sequence[tuple[Case, Shown]]) -> None:
        """A suspect's models, with sizes put in between."""
        rows = [(case.size, self._row(case, s)) for case, s in shown]
        lost = [self.channels[k].net for _, r in rows[:1] for k in np.flatnonzero(r.lost)]
        if lost:
            self.lost[suspect.key] = tuple(dict.fromkeys(lost))
        for (size, row), (after, following) in zip(rows, [*rows[1:], *rows[-1:]], strict=True):
            self._put(place, size, row)
            if after == size or (row.lost != following.lost).any():
                continue
            for share in np.arange(1, BETWEEN + 1) / (BETWEEN + 1):
                middle = np.exp((1 - share) * log(size) + share * log(after))
                self._put(place, float(middle), _mixed(row, following, float(share)))

    def _put(self, place: int, size: float, row: _Row) -> None:
        self.owner.append(place)
        self.size.append(size)
        self.rows.append(row)

    def _row(self, case: Case, shown: Shown) -> _Row:
        """The channels' means with the meter's loading, and their deviations."""
        inside = np.array([self.meter.input_ohms(v) for v in np.nan_to_num(shown.volts[self.at])])
        share = inside / (inside + shown.ohms[self.at])
        dc = np.where(self.kinds == DC, share, 0.0)
        ripple = np.log(np.nan_to_num(shown.ac[self.at]) + FLOOR[AC])
        volts = np.where(self.kinds == DC, shown.volts[self.at] * share, ripple)
        moved = (self.kinds == DC) & ~(share >= MOVED) & ~(np.abs(share - self.usual) < ALIKE)
        for k in np.flatnonzero(moved):
            volts[k] = read_dc(self.solver, case.faults, shown, int(self.at[k]), inside[k])
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
        return _Row(mean, np.nan_to_num(deviations), lost)

    def _filter(self, branch: Branch, good: Shown) -> tuple[Array, Array]:
        """What an electrolytic at the end of its tolerance does to the sound circuit.

        Volts DC, and the logarithm of the AC, (K,) each.
        """
        stated = branch.part.tolerance if branch.part else None
        fault = Fault(f.DRIFT, branch.name, 1 + (CAPACITOR_OFF if stated is None else stated))
        moved = self.solver.shown(fault, deviations=False)
        nothing = np.zeros(len(self.channels))
        if isinstance(moved, str):
            return nothing, nothing
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.nan_to_num(np.log(moved.ac / good.ac), posinf=0.0, neginf=0.0)
        volts = np.nan_to_num(moved.volts - good.volts)
        dc, ac = self.kinds == DC, self.kinds == AC
        return np.where(dc, volts[self.at], 0.0), np.where(ac, share[self.at], 0.0)

    def _straight(self, shown: Shown, volts: Array, share: Array) -> NDArray[np.bool_]:
        """Where the meter's load on the sound circuit is what the slope says, however large."""
        slope = shown.volts[self.at] * share
        return np.asarray(np.abs(volts - slope) <= FLOOR[DC] + MODEL * np.abs(volts))

    def _log_ohms(self, case: Case) -> Array:
        """The logarithm of what an ohmmeter shows with the faults, an overload at its end."""
        thrown = frozenset(x.part for x in case.faults if x.kind == f.THROWN)
        meter = Ohmmeter(altered(self.circuit, case.faults), Change(thrown=thrown))
        return np.array([log_ohms(meter.read(net).nominal or 0.0) for net in self.nets])

    def _ohm_deviation(self) -> Array:
        """Standard deviation of the logarithm of each ohm channel, from the sound circuit."""
        meter, found = Ohmmeter(self.circuit), []
        for net in self.nets:
            ohms = meter.read(net)
            wide = 0.0 if ohms.low == inf else (log_ohms(ohms.high) - log_ohms(ohms.low)) / 2
            found.append(np.hypot(wide * np.sqrt(EVEN), OHM_OFF))
        return np.array(found)

    def library(self, suspects: tuple[Suspect, ...], unsolved: dict[str, str]) -> Library:
        """All models put together."""
        mean = np.array([r.mean for r in self.rows])
        covariance = np.array([self._covariance(r) for r in self.rows])
        return Library(
            suspects, self.channels, np.array(self.owner), np.array(self.size), mean, covariance,
            self._noise(mean), unsolved, self.lost,
        )  # fmt: skip

    def _covariance(self, row: _Row) -> Array:
        out = EVEN * row.deviations.T @ row.deviations
        own = CURVED**2 * np.diag(out)
        ac = np.where(self.kinds == AC, _above(row.mean), 0.0)
        out += AC_TOGETHER**2 * np.outer(ac, ac)
        for volts, share in self.filters:
            moved = volts + share * ac
            out += EVEN * np.outer(moved, moved)
        own = own + (AC_EACH * ac) ** 2 + np.where(row.lost, self.loose, 0.0)
        own[self.kinds == OHM] += self.ohm_deviation**2
        return np.asarray(out + np.diag(own))

    def _noise(self, mean: Array) -> Array:
        meter = {DC: self.meter.accuracy, AC: TRUE_RMS_METER.accuracy, OHM: 0.0}
        share = np.array([np.hypot(meter[k], 0.0 if k == OHM else MODEL) for k in self.kinds])
        size = np.where(self.kinds == DC, mean, _above(mean))
        nothing = np.where(self.kinds == DC, FLOOR[DC], FLOOR_SHARE * (1 - _above(mean)))
        nothing = np.where(self.kinds == OHM, OHM_OFF, nothing)
        found = (share * size) ** 2 + nothing**2
        for k in np.flatnonzero(self.kinds == DC):  # a needle is so much of its range off
            of_range = [self.meter.range_for(v) or 0.0 for v in mean[:, k]]
            found[:, k] += (self.meter.accuracy_of_range * np.array(of_range)) ** 2
        return np.asarray(found)


def _filters(branch: Branch) -> bool:
    """Whether it is a capacitor whose tolerance shows in what a meter reads."""
    return branch.kind == "capacitor" and branch.plus is not None and branch.value is not None


def scaled(kind: str, value: float) -> float:
    """A reading as the models have it: volts DC, else a logarithm above a floor."""
    if kind == DC:
        return value
    return log(value + FLOOR[AC]) if kind == AC else log_ohms(value)


def read_back(kind: str, number: float) -> float:
    """The reading that a number of the models stands for."""
    if kind == DC:
        return number
    return max(exp(number) - (FLOOR[AC] if kind == AC else LEADS), 0.0)


def log_ohms(ohms: float) -> float:
    """An ohmmeter's reading as the models have it: never below an ohm's worth of leads."""
    return log(min(ohms, MOST_OHMS) + LEADS)


def _above(mean: Array) -> Array:
    """The share that the AC itself has in what its logarithm is taken of: 0 far below the floor."""
    return np.asarray(np.maximum(1 - FLOOR[AC] * np.exp(-mean), 0.0))


def _mixed(a: _Row, b: _Row, share: float) -> _Row:
    mean = (1 - share) * a.mean + share * b.mean
    return _Row(mean, (1 - share) * a.deviations + share * b.deviations, a.lost)
