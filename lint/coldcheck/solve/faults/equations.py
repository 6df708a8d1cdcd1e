"""The equations of a cycle with a fault in them, on the factors of the good circuit.

The good network's answers to its ports (one-way parts, tube electrodes, the mains) are worked out
once for all harmonics. A fault and the tubes' slopes change them by a few rank-one terms, which
Woodbury's formula takes up (M. A. Woodbury, "Inverting modified matrices", 1950): per fault
and harmonic a system as small as the number of tube electrodes plus the terms of the fault.
"""

from __future__ import annotations

from copy import copy
from dataclasses import field, replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.bank import ValveBank
from coldcheck.solve.cycle.mixing import Mixer
from coldcheck.solve.cycle.response import difference_symbol
from coldcheck.solve.cycle.starts import CURRENT_TOLERANCE, NotConverged, Start
from coldcheck.solve.cycle.steady import Cycle, _dense
from coldcheck.solve.cycle.triplets import dense_matrix
from coldcheck.solve.faults.change import weak_port, weak_valve
from coldcheck.solve.work import Work

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.devices import Port
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.faults.change import Change

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

SURE, TO_AND_FRO = 3, 0.7
"""After so many steps, one that takes back this share of the last is halved."""

FARTHEST = 1000.0
"""Volts (amperes) that a step may move a mean: an open plate has next to no slope."""

MAX_STEPS, MAX_PASSES = 40, 30
FIRST_STEP, LATER_STEP = 1e-3, 1e-5
"""Relative steps at which Newton's method stops in the first and in later passes."""

ARRIVED = 2e-5
"""A pass that moves nothing by more than this (relative, or 20 uV at zero) is the last."""

PATIENCE = 4
"""Passes that do not come nearer before another way is tried."""

GIVE_UP = 14
"""Steps without a smaller one before the damped method takes over."""


@dataclass(slots=True)
class Base:
    """The good circuit of a state in the form that its faults share (dense, small circuits).

    ``plain`` (K, m, m) is the inverse of the network without its tubes at each harmonic.
    ``answers`` (K, m, s + 1) are its answers to its s ports and electrodes and to the mains,
    ``seen`` (K, s, s + 1) what ports and electrodes see of them. ``slopes`` are the tubes' at
    the good circuit's answer, ``looking`` (m, s) is where ports and electrodes are, ``valve_at``
    where the electrodes alone. Without ``alone`` the first three are empty. ``g`` and
    ``moving`` are the conductances for mean values and for harmonics.
    """

    cycle: Cycle
    g: Array
    moving: Array
    c: Array
    symbol: Complex
    plain: Complex
    answers: Complex
    seen: Complex
    slopes: Array
    looking: Array
    valve_at: Array
    _views: list[Complex] = field(default_factory=list)

    @property
    def views(self) -> Complex:
        """What ports and electrodes see of currents into the plain network, (K, s, m)."""
        if not self._views:
            self._views.append(self.looking.T.astype(complex) @ self.plain)
        return self._views[0]

    def plain_columns(self, change: Change) -> Complex:
        """The plain network's answers to the terms of a change, (K, m, rank)."""
        out = np.zeros((*self.plain.shape[:2], change.rank), dtype=complex)
        for k, (ends, _) in enumerate(change.siemens + change.farads):
            for row, weight in ends.items():
                out[:, :, k] += weight * self.plain[:, :, row]
        return out

    @classmethod
    def of(cls, cycle: Cycle, answer: Steady, *, alone: bool = True) -> Base:
        """Invert every harmonic once. Raises LinAlgError for contradictory wiring.

        Without ``alone`` it will do for :class:`coldcheck.solve.faults.batch.FaultBatch` only.
        """
        network = cycle.network
        g = dense_matrix(network.shape, network.g + network.dc_only)
        moving = dense_matrix(network.shape, network.g + network.ac_only)
        c = dense_matrix(network.shape, network.c)
        symbol = np.zeros(0, dtype=complex)
        if cycle.response is not None:
            symbol = difference_symbol(cycle.n, network.frequency)
        valve_at, (_, slopes) = (
            _dense(cycle.valve_at),
            cycle.bank.linear(cycle.valve_at.T @ answer.start.mean),
        )
        looking = np.concatenate([cycle.port_at, valve_at], axis=1)
        into = np.concatenate([looking, cycle.hum[:, None]], axis=1)
        each = moving[None] + symbol[:, None, None] * c[None] if alone else np.zeros((0, *g.shape))
        plain = np.asarray(np.linalg.inv(each), dtype=complex)
        answers = plain @ into.astype(complex)
        seen: Complex = looking.T.astype(complex) @ answers
        return cls(
            cycle, g, moving, c, symbol, plain, answers, seen, _dense(slopes), looking, valve_at
        )


class FaultView(Cycle):
    """What readings need to know of a cycle with a change in it; has no equations."""

    def __init__(self, base: Base, change: Change) -> None:
        good = base.cycle
        self.base, self.change = base, change
        self.n, self.hum, self.port_at = good.n, good.hum, good.port_at
        self.response, self.shunts, self.loaded = good.response, good.shunts, None
        self.ports, self.bank, self.valve_at = good.ports, good.bank, good.valve_at
        self.work = Work()  # a fault has a bound of its own: there may be hundreds
        self.network = copy(good.network)
        self.network.conductance = good.network.conductance | change.conductance
        self.network.farads = good.network.farads | change.capacitance


class FaultCycle(FaultView):
    """A cycle of the good circuit with a change in it; see :class:`Cycle` for the rest."""

    def __init__(self, base: Base, change: Change, cold: frozenset[str]) -> None:
        super().__init__(base, change)
        good = base.cycle
        self.emission = {**change.emission, **dict.fromkeys(cold, 0.0)}
        self.steady = good.steady.copy()
        for row, amount in change.steady:
            self.steady[row] += amount
        for net, amps in change.gas.items():
            if net in good.network.nets:
                self.steady[good.network.nets[net]] += amps
        self._tubes(good)
        self._last = None
        self.curves = {}
        for k, port in enumerate(self.ports):
            self.curves.setdefault(port.curve, []).append(k)
        self._linear(base, change)

    def _tubes(self, good: Cycle) -> None:
        """Ports and electrodes keep their places; only their laws change."""
        if self.emission or self.change.curves:
            self.ports = [self._port(p) for p in good.ports]
        if self.emission:
            valves = [weak_valve(v, self.emission) for v in good.bank.valves]
            self.bank = ValveBank(self.network, valves)

    def _port(self, port: Port) -> Port:
        if port.owner in self.change.curves:
            return replace(port, curve=self.change.curves[port.owner])
        return weak_port(port, self.emission)

    def _linear(self, base: Base, change: Change) -> None:
        """The matrices of mean values, and the fault's terms at every harmonic."""
        self.at = change.columns(self.network.size)
        fixed, moving = len(change.siemens), len(change.farads)
        g_at, c_at = self.at[:, :fixed], self.at[:, fixed:]
        g, c = base.g, base.c
        if fixed:
            g = g + (g_at * [y for _, y in change.siemens]) @ g_at.T
        if moving:
            c = c + (c_at * [y for _, y in change.farads]) @ c_at.T
        self.linear = _Matrices(g, c)
        self.extra = change.amounts(base.symbol)
        self.changed = base.plain_columns(change)
        self.felt = _rows(base.answers, change)
        self.mutual = _rows(self.changed, change)
        self.seen_changed = base.looking.T.astype(complex) @ self.changed

    # -- the AC side ----------------------------------------------------------------------

    def impedance(self, slopes: Any) -> Array:
        """Put the tubes' slopes in; the impedance the ports see, by lag: (p, p, N) ohms."""
        self.loaded = slopes
        p, n = len(self.ports), self.n
        if self.response is None:
            return np.zeros((p, p, n))
        base, r, tubes = self.base, self.at.shape[1], slice(p, p + self.bank.size)
        felt = np.concatenate([self.felt, base.seen[:, tubes]], axis=1)
        y = np.zeros((len(base.symbol), felt.shape[1], felt.shape[1]), dtype=complex)
        y[:, r:, r:] = slopes
        y[:, np.arange(r), np.arange(r)] = self.extra
        within = np.concatenate([self.mutual, self.seen_changed[:, tubes]], axis=1)
        within = np.concatenate([within, felt[:, :, tubes]], axis=2)
        self.gain = np.linalg.solve(np.eye(felt.shape[1]) + y @ within, y @ felt)
        outward = np.concatenate([self.seen_changed, base.seen[:, :, tubes]], axis=2)
        self.seen = base.seen - outward @ self.gain
        return to_time(np.ascontiguousarray(self.seen[:, :p, :p].transpose(1, 2, 0)), n)

    def ac_of(self, port_amps: Array, correction: Array) -> Array:
        """See :meth:`Cycle.ac_of`."""
        if self.response is None:
            return np.zeros((self.network.size, self.n))
        drive = self._drive(port_amps, correction)
        tubes = slice(len(self.ports), len(self.ports) + self.bank.size)
        back, r = self.gain @ drive, self.at.shape[1]
        found = self.base.answers @ drive - self.changed @ back[:, :r]
        found -= self.base.answers[:, :, tubes] @ back[:, r:]
        return to_time(found[:, :, 0].T, self.n)

    def _drive(self, port_amps: Array, correction: Array) -> Complex:
        """Harmonics of what enters at ports, electrodes and the mains: (K, s + 1, 1)."""
        amps = np.concatenate([port_amps, correction, np.zeros((1, self.n))])
        drive = -np.fft.rfft(amps, axis=-1)[:, 1:]
        drive[-1, 0] += -0.5j * self.n
        return np.ascontiguousarray(drive.T)[:, :, None]

    def _seen_ac(self, port_amps: Array, correction: Array) -> Array:
        """AC volts (s, N) at the ports and electrodes."""
        if self.response is None:
            return np.zeros((self.base.looking.shape[1], self.n))
        return to_time((self.seen @ self._drive(port_amps, correction))[:, :, 0].T, self.n)

    # -- passes ---------------------------------------------------------------------------

    def solve(self, start: Start | None = None) -> Steady:
        """Solve from the good circuit's answer (or from nothing). Raises NotConverged."""
        with np.errstate(over="ignore", invalid="ignore"):
            mean, wave, correction, steps = self._repeat(start or self._nothing())
            return self.answer(self.waves(mean, wave, correction), wave, steps)[0]

    def _repeat(self, begin: Start) -> tuple[Array, Array, Array, int]:
        """Newton's method, the tubes' curvature, and again, until nothing moves any more."""
        mean, wave, p = begin.mean, begin.wave, len(self.ports)
        slopes = self.base.slopes
        if self.emission:
            slopes = self.bank.linear(self.valve_at.T @ mean)[1]
        correction = begin.correction(slopes)
        kernel, steps, mixer, history = self.impedance(slopes), 0, Mixer(), list[float]()
        none = np.zeros_like(wave)
        for turn in range(MAX_PASSES):
            goal = LATER_STEP if turn else FIRST_STEP
            open_ac = self._seen_ac(none, correction)[:p]
            bias, before = correction.mean(axis=1), (mean, wave)
            mean, wave, used = self._arrive(mean, wave, kernel, open_ac, bias, goal)
            steps += used
            moved = _size((mean - before[0], wave - before[1]), mean, wave)
            if turn and moved < ARRIVED:
                return mean, wave, correction, steps
            history.append(moved)
            if turn > PATIENCE and min(history[-PATIENCE:]) > 0.5 * min(history[:-PATIENCE]):
                break
            rest, swing, seen = self._curvature(mean, wave, correction)
            wrong = np.abs(rest - slopes @ swing - correction).max(initial=0.0)
            if wrong < CURRENT_TOLERANCE and moved < goal:
                return mean, wave, correction, steps
            if turn < 2 and moved > FIRST_STEP:  # far from where the slopes were taken
                slopes, mixer = seen, Mixer()
                kernel, correction = self.impedance(slopes), rest - slopes @ swing
            else:
                correction = mixer.next(correction, rest - slopes @ swing)
        raise NotConverged(f"still moving by {history[-1]:.2g} after {steps} steps")

    def _curvature(self, mean: Array, wave: Array, correction: Array) -> tuple[Array, Array, Any]:
        """The tubes over the cycle: currents less those at the means, swings, mean slopes."""
        amps = self.port_curves(wave)[1]
        swing = self._seen_ac(amps, correction)[len(self.ports) :]
        middle = self.valve_at.T @ mean
        # one call of the laws for the instants and, as a last column, for the means
        volts = np.concatenate([middle[:, None] + swing, middle[:, None]], axis=1)
        taken, (rows, columns, values) = self.bank.each_instant(volts)
        slopes = np.zeros((self.bank.size, self.bank.size))
        slopes[rows, columns] = values[:, :-1].mean(axis=1)
        return taken[:, :-1] - taken[:, -1:], swing, slopes

    def _arrive(
        self, mean: Array, wave: Array, kernel: Array, open_ac: Array, bias: Array, goal: float
    ) -> tuple[Array, Array, int]:
        """Newton's method with whole steps, which grids driven positive need; else damped.

        From the side of too much current the laws of tubes and diodes let whole steps arrive from
        far away, while a test for progress would refuse the very step that brings the current in.
        """
        spectrum, sizes = np.fft.rfft(kernel, axis=-1), list[float]()
        x, w, last = mean, wave, np.zeros_like(mean)
        for used in range(1, MAX_STEPS + 1):
            step = self._step(x, w, kernel, spectrum, open_ac, bias)
            size = _size(step, x, w)
            sizes.append(size)
            if not np.isfinite(size) or min(sizes[-GIVE_UP:]) > 0.7 * min(
                sizes[:-GIVE_UP], default=np.inf
            ):
                break
            if size < goal:
                return x + step[0], w + step[1], used
            moved = np.clip(step[0], -FARTHEST, FARTHEST)
            back = used > SURE and moved @ last < -TO_AND_FRO * (last @ last)
            share = 0.5 if back else 1.0
            x, w, last = x + share * moved, w + share * step[1], moved
        if goal < FIRST_STEP:  # what went wrong is the correction
            raise NotConverged(f"Newton's method stopped after {used} steps")
        return self._steps(mean, wave, kernel, open_ac, bias, goal, damped=True)

    def _step(
        self,
        mean: Array,
        wave: Array,
        kernel: Array,
        spectrum: Complex,
        open_ac: Array,
        bias: Array,
    ) -> tuple[Array, Array]:
        """One Newton step; every law is evaluated once."""
        valve_amps, slopes = self.bank.linear(self.valve_at.T @ mean)
        volts, amps, dv, di = self.port_curves(wave)
        means = self.linear.times(mean) - self.steady + self.valve_at @ (valve_amps + bias)
        means += self.port_at @ amps.mean(axis=1)
        solve = self.linear.with_slopes(self.valve_at, slopes)
        base = solve(means)
        if not self.ports:
            return -base, wave
        spread = np.einsum("pqk,qk->pk", spectrum, np.fft.rfft(amps, axis=-1))
        error = volts - (self.port_at.T @ mean)[:, None] - open_ac
        error += np.fft.irfft(spread, n=self.n, axis=-1)
        into = solve(self.port_at)
        mutual = (self.port_at.T @ into) / self.n
        right = -error - (self.port_at.T @ base)[:, None]
        change = self._ports(kernel, spectrum, mutual, dv, di, right)
        return -base - into @ (di * change).mean(axis=1), change

    def _ports(
        self, kernel: Array, spectrum: Complex, mutual: Array, dv: Array, di: Array, right: Array
    ) -> Array:
        """The step of the port variables (p, N): only conducting instants couple.

        ``mutual`` (p, p), ohms, is what one port's mean current does to another through the means.
        """
        on = np.flatnonzero(di.ravel() > 0)
        port, instant = np.divmod(on, self.n)
        lag = (instant[:, None] - instant) % self.n
        couples = kernel[port[:, None], port, lag] + mutual[port[:, None], port]
        matrix = couples * di.ravel()[on]
        matrix[np.diag_indices(len(on))] += dv.ravel()[on]
        flat = np.zeros(di.size)
        found = np.linalg.solve(matrix, right.ravel()[on])
        flat[on] = di.ravel()[on] * found
        amps = flat.reshape(di.shape)
        seen = np.einsum("pqk,qk->pk", spectrum, np.fft.rfft(amps, axis=-1))
        seen = np.fft.irfft(seen, n=self.n, axis=-1) + (mutual @ amps.sum(axis=1))[:, None]
        out = (right - seen) / np.where(di > 0, 1.0, dv)
        out.ravel()[on] = found
        return np.asarray(out)


class _Matrices:
    """G and C as they are, with one inverse a step; see `Means`."""

    def __init__(self, g: Array, c: Array) -> None:
        self.g, self._c = g, c

    def times(self, x: Array) -> Array:
        return np.asarray(self.g @ x)

    def charge(self, rate: Array) -> Array:
        return np.asarray(self._c @ rate)

    def with_slopes(self, at: Any, slopes: Any) -> Callable[[Array], Array]:
        inverse = np.linalg.inv(self.g + at @ slopes @ at.T)
        return lambda rhs: np.asarray(inverse @ rhs)


def _rows(answers: Complex, change: Change) -> Complex:
    """What the terms of a change see of answers (K, m, c): (K, rank, c)."""
    out = np.zeros((len(answers), change.rank, answers.shape[2]), dtype=complex)
    for k, (ends, _) in enumerate(change.siemens + change.farads):
        for row, weight in ends.items():
            out[:, k] += weight * answers[:, row]
    return out


def _size(step: tuple[Array, Array], mean: Array, wave: Array) -> float:
    """Largest relative change of any unknown."""
    parts = (np.abs(d) / (1.0 + np.abs(x)) for d, x in zip(step, (mean, wave), strict=True))
    return max(float(p.max(initial=0.0)) for p in parts)


def to_time(harmonics: Complex, n: int) -> Array:
    """(..., N/2) -> (..., N), without a mean."""
    padded = np.concatenate([np.zeros((*harmonics.shape[:-1], 1)), harmonics], axis=-1)
    return np.asarray(np.fft.irfft(padded, n=n, axis=-1))
