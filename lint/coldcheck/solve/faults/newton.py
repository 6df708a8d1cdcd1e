"""Newton's steps of many faults at once: means and port variables, whole or damped.

As in :mod:`coldcheck.solve.faults.equations`, with one more index in front: the fault.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.faults import equations as one

if TYPE_CHECKING:
    from typing import Any

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.faults.equations import Base
    from coldcheck.solve.faults.stack import Stack

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]
    Places = NDArray[np.intp]

STALL, NOISE, LEAST_SHARE = 10, 1e-7, 1e-3
"""For damped steps: see :mod:`coldcheck.solve.cycle.steady`."""

LATER_STEPS = 24
"""Whole steps of a later pass, which begins near: it takes some five, rarely twenty."""

SIZES = (16, 32, 64, 128)
"""Numbers of conducting instants that systems are filled up to, so that equal ones stack."""


class Steps:
    """F faults under way: their means (F, m), port variables (F, p, N), and what these see.

    ``kernel`` (F, p, p, N) is the impedance between ports by lag, ohms, ``spectrum`` its
    harmonics, ``open_ac`` (F, p, N) the ports' AC volts without their own currents; ``g`` and
    ``at`` are the conductances and the terms of the faults.
    """

    base: Base
    good: Cycle
    stack: Stack
    p: int
    q: int
    n: int
    at: Array
    g: Array
    mean: Array
    wave: Array
    steps: Places
    kernel: Array
    spectrum: Complex
    open_ac: Array
    correction: Array

    def _arrive(self, who: Places, goal: float) -> NDArray[np.bool_]:
        """Whole steps, in the first pass also damped ones from its start; who arrived."""
        bias = self.correction.mean(axis=2)
        start = self.mean[who], self.wave[who]
        arrived = self._whole(who, bias, goal)
        if goal >= one.FIRST_STEP and not arrived.all():  # later it is the correction's fault
            lost, again = ~arrived, who[~arrived]
            self.mean[again], self.wave[again] = start[0][lost], start[1][lost]
            arrived[lost] = self._damped(again, bias, goal)
        return arrived

    def _whole(self, who: Places, bias: Array, goal: float) -> NDArray[np.bool_]:
        """As :meth:`FaultCycle._arrive` goes; says which faults arrived."""
        arrived, sizes = np.zeros(len(self.mean), dtype=bool), _Sizes(len(self.mean))
        last, under_way = np.zeros_like(self.mean), who
        for used in range(one.MAX_STEPS if goal >= one.FIRST_STEP else LATER_STEPS):
            step = self._step(under_way, bias)
            size = size_of(step, self.mean[under_way], self.wave[under_way])
            lost, there = sizes.stalled(under_way, size, one.GIVE_UP, 0.7), size < goal
            moved = np.clip(step[0], -one.FARTHEST, one.FARTHEST)
            before = last[under_way]
            along = np.einsum("fm,fm->f", moved, before)
            back = along < -one.TO_AND_FRO * np.einsum("fm,fm->f", before, before)
            share = np.where(back & (used >= one.SURE) & ~there, 0.5, 1.0)
            kept = ~lost
            self._move(under_way[kept], (moved[kept], step[1][kept]), share[kept])
            last[under_way[kept]] = moved[kept]
            arrived[under_way] = there & kept
            under_way = under_way[kept & ~there]
            if not len(under_way):
                break
        return np.asarray(arrived[who])

    def _damped(self, who: Places, bias: Array, goal: float) -> NDArray[np.bool_]:
        """Damped steps, as :meth:`Cycle._newton` takes them; says which faults arrived."""
        arrived, sizes = np.zeros(len(self.mean), dtype=bool), _Sizes(len(self.mean))
        under_way = who
        for _ in range(one.MAX_STEPS):
            step = self._step(under_way, bias)
            size = size_of(step, self.mean[under_way], self.wave[under_way])
            lost, there = sizes.stalled(under_way, size, STALL, 0.5), size < goal
            share = np.where(there, 1.0, self._share(under_way, bias, step, size))
            self._move(under_way[~lost], (step[0][~lost], step[1][~lost]), share[~lost])
            arrived[under_way] = there & ~lost
            under_way = under_way[~lost & ~there]
            if not len(under_way):
                break
        return np.asarray(arrived[who])

    def _share(self, who: Places, bias: Array, step: tuple[Array, Array], size: Array) -> Array:
        """The largest of 1, 1/2, 1/4, ... of a step after which the next would be shorter, (f,)."""
        share, left = np.ones(len(who)), np.flatnonzero(np.isfinite(size))
        while len(left):
            some, part = who[left], share[left]
            mean = self.mean[some] + part[:, None] * step[0][left]
            wave = self.wave[some] + part[:, None, None] * step[1][left]
            following = self._step(some, bias, (mean, wave))
            after = size_of(following, self.mean[some], self.wave[some])
            enough = np.maximum((1 - part / 4) * size[left], NOISE)
            left = left[~(after < enough) & (part >= LEAST_SHARE)]
            share[left] /= 2
        return share

    def _move(self, who: Places, step: tuple[Array, Array], share: Array) -> None:
        self.mean[who] += share[:, None] * step[0]
        self.wave[who] += share[:, None, None] * step[1]
        self.steps[who] += 1

    def _step(
        self, who: Places, bias: Array, trial: tuple[Array, Array] | None = None
    ) -> tuple[Array, Array]:
        """One Newton step of means (f, m) and port variables (f, p, N).

        For the errors at a ``trial`` point where one is given, with the slopes as they are.
        """
        good, mean, wave = self.good, self.mean[who], self.wave[who]
        taken, slopes = self._at_means(who, mean, bias)
        curves = self.stack.curves(who, wave)
        dv, di = curves[2:]
        if trial is not None:
            mean, wave = trial
            taken, _ = self._at_means(who, mean, bias)
            curves = self.stack.curves(who, wave)
        volts, amps = curves[:2]
        means = (self.g[who] @ mean[:, :, None])[:, :, 0] - self.stack.steady[who]
        means += taken @ self.base.valve_at.T
        means += amps.mean(axis=2) @ good.port_at.T
        matrix = self.g[who] + self.base.valve_at @ (slopes @ self.base.valve_at.T)
        ports = np.broadcast_to(good.port_at, (len(who), *good.port_at.shape))
        found = solved(matrix, np.concatenate([means[:, :, None], ports], axis=2))
        base, into = found[:, :, 0], found[:, :, 1:]
        if not self.p:
            return -base, np.zeros_like(wave)
        error = volts - (mean @ good.port_at)[:, :, None] - self.open_ac[who]
        error += self._spread(who, amps)
        mutual = (good.port_at.T @ into) / self.n
        right = -error - (base @ good.port_at)[:, :, None]
        change = self._ports(who, mutual, dv, di, right)
        return -base - (into @ (di * change).mean(axis=2)[:, :, None])[:, :, 0], change

    def _at_means(self, who: Places, mean: Array, bias: Array) -> tuple[Array, Array]:
        """The tubes' currents (f, q) and slopes (f, q, q) at mean values (f, m).

        ``bias`` is what their curvature adds to the currents.
        """
        taken, slopes = self._tubes(who, (mean @ self.base.valve_at)[:, :, None])
        return taken[:, :, 0] + bias[who], self._matrix(slopes, slice(None))

    def _spread(self, who: Places, amps: Array) -> Array:
        """What port currents do to the ports through the network, (f, p, N) volts."""
        seen = np.einsum("fpqk,fqk->fpk", self.spectrum[who], np.fft.rfft(amps, axis=-1))
        return np.asarray(np.fft.irfft(seen, n=self.n, axis=-1))

    def _ports(self, who: Places, mutual: Array, dv: Array, di: Array, right: Array) -> Array:
        """See :meth:`FaultCycle._ports`: systems of about the same size go together."""
        faults, flat = len(who), np.zeros((len(who), self.p * self.n))
        slope_v, slope_i = dv.reshape(faults, -1), di.reshape(faults, -1)
        wanted, on = right.reshape(faults, -1), slope_i > 0
        counts = on.sum(axis=1)
        order = np.argsort(~on, axis=1, kind="stable")
        size = np.select([counts <= s for s in SIZES], SIZES, flat.shape[1])
        for group in (np.flatnonzero(size == some) for some in np.unique(size)):
            most = counts[group].max()
            here = group[:, None], order[group, :most]
            filled = np.arange(most) < counts[group, None]
            matrix = self._couples(who[group], mutual[group], here[1])
            matrix *= (slope_i[here] * filled)[:, None, :]
            place = np.arange(most)
            matrix[:, place, place] += slope_v[here]
            flat[here] = solved(matrix, wanted[here][:, :, None])[:, :, 0] * filled
        amps = (slope_i * flat).reshape(di.shape)
        seen = self._spread(who, amps) + (mutual @ amps.sum(axis=2)[:, :, None])
        out = (right - seen) / np.where(di > 0, 1.0, dv)
        return np.where(di > 0, flat.reshape(di.shape), out)

    def _couples(self, who: Places, mutual: Array, at: Places) -> Array:
        """What currents at the given ports and instants (f, k) do to each other, (f, k, k) ohms."""
        full = self.kernel[who] + mutual[:, :, :, None]
        twice = np.concatenate([full, full], axis=3)  # so that a lag may be negative
        port, instant = np.divmod(at, self.n)
        row = 2 * self.n * self.p * port + instant + self.n
        column = 2 * self.n * port - instant
        place = row[:, :, None] + column[:, None, :]
        place += (np.arange(len(who)) * twice[0].size)[:, None, None]
        return np.asarray(twice.ravel()[place])

    def _tubes(self, who: Places, volts: Array) -> tuple[Array, tuple[Places, Places, Array]]:
        """Currents (f, q, t) at volts (f, q, t), and the slopes' rows, columns and values."""
        faults, q, instants = volts.shape
        emission = self.stack.emission[who]
        flat = volts.transpose(1, 0, 2).reshape(q, faults * instants)
        amps, (rows, columns, values) = self.good.bank.each_instant(flat)
        taken = amps.reshape(q, faults, instants).transpose(1, 0, 2) * emission[:, :, None]
        each = values.reshape(len(rows), faults, instants).transpose(1, 0, 2)
        return taken, (rows, columns, each * emission[:, rows, None])

    def _matrix(self, slopes: tuple[Places, Places, Array], instants: slice) -> Array:
        """The slopes' means over some instants as matrices, (f, q, q)."""
        rows, columns, values = slopes
        out = np.zeros((len(values), self.q, self.q))
        out[:, rows, columns] = values[:, :, instants].mean(axis=2)
        return out


class _Sizes:
    """The sizes of each fault's steps so far, (F, steps)."""

    def __init__(self, faults: int) -> None:
        self.known = np.full((faults, 0), np.inf)

    def stalled(self, who: Places, size: Array, patience: int, share: float) -> NDArray[np.bool_]:
        """Write the sizes (f,) down; which faults had none below ``share`` of an older one."""
        self.known = np.pad(self.known, ((0, 0), (0, 1)), constant_values=np.inf)
        self.known[who, -1] = size
        near = self.known[who, -patience:].min(axis=1)
        past = self.known[who, :-patience].min(axis=1, initial=np.inf)
        return np.asarray(~np.isfinite(size) | (near > share * past))


def solved(matrix: Any, right: Any) -> Any:
    """Solutions of many systems; NaN for those that have none."""
    try:
        return np.linalg.solve(matrix, right)
    except np.linalg.LinAlgError:
        return np.stack([_alone(a, b) for a, b in zip(matrix, right, strict=True)])


def _alone(matrix: Any, right: Any) -> Any:
    try:
        return np.linalg.solve(matrix, right)
    except np.linalg.LinAlgError:
        return np.full_like(right, np.nan)


def size_of(step: tuple[Array, Array], mean: Array, wave: Array) -> Array:
    """Largest relative change of any unknown, (f,)."""
    means = (np.abs(step[0]) / (1.0 + np.abs(mean))).max(axis=1, initial=0.0)
    waves = (np.abs(step[1]) / (1.0 + np.abs(wave))).max(axis=(1, 2), initial=0.0)
    return np.asarray(np.maximum(means, waves))
