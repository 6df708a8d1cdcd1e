"""Through the cycle instant by instant: the same equations, solved in the order of time.

What the linear part lets the nonlinear parts see is worked out once, so an instant costs a
Newton iteration on the electrodes alone. An amplifier that amplifies its own supply's ripple is
hard to solve at all instants at once, but easy one instant after the other: what came before is
known, and each stage's error is cured before the next cycle sees it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.starts import NotConverged, resampled
from coldcheck.solve.cycle.triplets import DENSE_UP_TO, dense_matrix, sparse_matrix

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.steady import Cycle

    Array = NDArray[np.float64]

MAX_STEPS = 25
STEP_TOLERANCE = 1e-9
NOISE = 1e-8
SMALLEST_DAMPING = 1e-3
LARGEST = 600
"""Electrodes beyond which a dense system at every instant would take minutes."""

STRAY_S = (1e-2, 1e-8)
"""Conductance of the stray capacitances that a jump begins and ends with, siemens."""

STRAY_FALL, STRAY_RISE, STRAY_STEPS = 4.0, 10.0, 150


@dataclass(slots=True)
class Point:
    """All electrodes at variables z (p + q,): volts, amperes and their derivatives by z."""

    z: Array
    volts: Array
    amps: Array
    dv: Array
    slopes: Array


@dataclass(slots=True)
class Lap:
    """One cycle marched: unknowns (m, N), and the electrodes at each instant.

    ``after`` (k,) is the state at the end, ``slope`` (k, k) its derivative by the state at the
    beginning. ``error`` is what Kirchhoff's current law is out by (amperes) at the worst net if
    the cycle is taken to repeat.
    """

    unknowns: Array
    points: tuple[Point, ...]
    after: Array
    slope: Array
    error: float


class March:
    """Marches a cycle's equations in time by the second-order backward difference.

    The state, shape (k,), is what an instant needs to know of the past: charge and flux of the
    rows that store any at the last two instants, then each core's mean mmf. The mmf belongs to the
    cycle as a whole; in the state "after" it stands with the mean emf added, so that a cycle that
    repeats has emfs without a mean.
    """

    def __init__(self, cycle: Cycle) -> None:
        network = cycle.network
        self.cycle, self.n, self.p = cycle, cycle.n, len(cycle.ports)
        self.rate = self.n * network.frequency
        at = cycle.valve_at if isinstance(cycle.valve_at, np.ndarray) else cycle.valve_at.toarray()
        self.at = np.concatenate([cycle.port_at, at], axis=1)
        if self.at.shape[1] > LARGEST:
            raise NotConverged("the circuit is too large for the last resort")
        solve, self.charge = _factored(cycle, 1.5 * self.rate)
        rows = sorted({row for row, _, _ in network.c})
        self.rows, self.cores = np.array(rows, dtype=int), np.array(network.cores, dtype=int)
        self.drive = np.tile(cycle.steady[:, None], (1, self.n))
        self.drive += cycle.hum[:, None] * np.sin(2 * np.pi * np.arange(self.n) / self.n)
        eye = np.eye(network.size)
        self.open = solve(self.drive)
        self.of_charge, self.of_core = solve(eye[:, self.rows]), -solve(eye[:, self.cores])
        self.reach = solve(self.at)
        self.ohms = self.at.T @ self.reach
        self.size = 2 * len(rows) + len(self.cores)
        self.scale = self._scale()

    def _scale(self) -> Array:
        """Charge or flux of a volt or an ampere, for each entry of the state."""
        stored = np.zeros(self.cycle.network.size)
        for row, _, value in self.cycle.network.c:
            stored[row] = max(stored[row], abs(value))
        return np.concatenate([stored[self.rows], stored[self.rows], np.ones(len(self.cores))])

    def beginning(self, known: Array | None) -> tuple[Array, tuple[Point, ...]]:
        """A state and electrodes to begin with: nothing, or unknowns (m', N') that are known."""
        x = np.zeros((len(self.at), self.n))
        for row, wave in zip(x, () if known is None else known, strict=False):
            row[:] = resampled(wave, self.n)
        stored = (self.charge @ x)[self.rows]
        # [-2 % n]: a circuit without mains has one instant, which is its own past
        state = np.concatenate([stored[:, -1], stored[:, -2 % self.n], np.zeros(len(self.cores))])
        return state, tuple(self._point(z) for z in (self.at.T @ x).T)

    def lap(self, state: Array, near: tuple[Point, ...], *, alike: bool) -> Lap:
        """March one cycle from a state. Raises NotConverged.

        The electrodes are sought near where the last instant left them, or, if the cycle is to be
        ``alike``, near the same instant of the former cycle.
        """
        k, c = len(self.rows), len(self.cores)
        past, further, mmf = np.split(state, [k, 2 * k])
        d_past, d_further, d_mmf = np.split(np.eye(self.size), [k, 2 * k])
        xs, points = np.empty((len(self.at), self.n)), list[Point]()
        d_emf, point = np.zeros((c, self.size)), near[-1]
        for t in range(self.n):
            base = self._behind(past, further, mmf) + self.open[:, t]
            point = self._instant(self.at.T @ base, (near[t], point) if alike else (point,))
            xs[:, t] = base - self.reach @ point.amps
            past, further = (self.charge @ xs[:, t])[self.rows], past
            d_base = self._behind(d_past, d_further, d_mmf)
            d_x = d_base - self.reach @ self._follow(point, self.at.T @ d_base)
            d_past, d_further = (self.charge @ d_x)[self.rows], d_past
            d_emf += d_x[self.cores] / self.n
            points.append(point)
        after = np.concatenate([past, further, mmf + xs[self.cores].mean(axis=1)])
        slope = np.concatenate([d_past, d_further, d_mmf + d_emf])
        return Lap(xs, tuple(points), after, slope, self._imbalance(after - state))

    def _behind(self, past: Array, further: Array, mmf: Array) -> Array:
        """What the past and the mmfs do to the unknowns (m, ...) while no electrode conducts."""
        return np.asarray(
            self.rate * (self.of_charge @ (2 * past - 0.5 * further)) + self.of_core @ mmf
        )

    def _imbalance(self, change: Array) -> float:
        """Amperes at the worst net that a change of the state over a cycle stands for."""
        k = len(self.rows)
        amps = self.rate * (2 * change[:k] - 0.5 * change[k : 2 * k])
        return float(np.abs(amps[self.rows < len(self.cycle.network.nets)]).max(initial=0.0))

    # -- one instant ------------------------------------------------------------------------

    def _instant(self, open_volts: Array, near: tuple[Point, ...]) -> Point:
        """The electrodes behind their open-circuit volts (p + q,), sought near some points."""
        for point in near:
            try:
                return self._newton(open_volts, point, 0.0)
            except (NotConverged, np.linalg.LinAlgError):
                continue
        return self._jump(open_volts, near[-1])

    def _jump(self, open_volts: Array, point: Point) -> Point:
        """Follow stray capacitances at the electrodes to where they let the circuit rest.

        Where stages feed back on each other an instant can have several answers, and the one that
        the last instant was near can cease to be; then the real circuit jumps, as fast as its
        stray capacitances allow. Pseudo-transient continuation (Kelley and Keyes, SIAM J. Numer.
        Anal. 35, 1998).
        """
        stray, least = STRAY_S
        for _ in range(STRAY_STEPS):
            try:
                point = self._newton(open_volts, point, stray)
            except (NotConverged, np.linalg.LinAlgError):
                stray = STRAY_RISE * max(stray, least)
                continue
            if stray == 0.0:
                return point
            stray = stray / STRAY_FALL if stray > least else 0.0
        raise NotConverged("marching: an instant has no answer")

    def _newton(self, open_volts: Array, rest: Point, stray: float) -> Point:
        """Damped Newton; ``stray`` siemens pull the electrodes' volts to those at rest."""
        point = rest
        for _ in range(MAX_STEPS):
            self.cycle.work.eliminate(self.at.shape[1])
            inverse = np.linalg.inv(self._slope(point, stray))
            step = -inverse @ self._mismatch(open_volts, point, stray, rest)
            size = _size(step, point.z)
            if not np.isfinite(size):
                break
            damping = 1.0
            while True:
                trial = self._point(point.z + damping * step)
                if size < STEP_TOLERANCE:
                    return trial
                after = inverse @ self._mismatch(open_volts, trial, stray, rest)
                if _size(after, point.z) < max((1 - damping / 4) * size, NOISE):
                    break
                damping /= 2
                if damping < SMALLEST_DAMPING:
                    raise NotConverged("marching: an instant was not reached")
            point = trial
        raise NotConverged("marching: an instant was not reached")

    def _point(self, z: Array) -> Point:
        """The laws of all electrodes at their variables."""
        volts, amps, dv, di = (part[:, 0] for part in self.cycle.port_curves(z[: self.p, None]))
        valves = z[self.p :]
        through, (rows, columns, values) = self.cycle.bank.each_instant(valves[:, None])
        slopes = np.zeros((len(z), len(z)))
        slopes[np.arange(self.p), np.arange(self.p)] = di
        slopes[rows + self.p, columns + self.p] = values[:, 0]
        return Point(
            z,
            np.concatenate([volts, valves]),
            np.concatenate([amps, through[:, 0]]),
            np.concatenate([dv, np.ones(len(valves))]),
            slopes,
        )

    def _mismatch(self, open_volts: Array, point: Point, stray: float, rest: Point) -> Array:
        amps = point.amps + stray * (point.volts - rest.volts)
        return np.asarray(point.volts - open_volts + self.ohms @ amps)

    def _slope(self, point: Point, stray: float) -> Array:
        own = np.diag(point.dv)
        return np.asarray(own + self.ohms @ (point.slopes + stray * own))

    def _follow(self, point: Point, moved: Array) -> Array:
        """How the electrodes' currents move with their open-circuit volts (p + q, k)."""
        return np.asarray(point.slopes @ np.linalg.solve(self._slope(point, 0.0), moved))


def _factored(cycle: Cycle, lead: float) -> tuple[Callable[[Array], Array], Any]:
    """Solver of ``(G + lead C) x = rhs`` and the matrix C."""
    network = cycle.network
    if network.size <= DENSE_UP_TO:
        g = dense_matrix(network.shape, network.g + network.ac_only)
        c = dense_matrix(network.shape, network.c)
        inverse = np.linalg.inv(g + lead * c)
        return lambda rhs: np.asarray(inverse @ rhs), c
    from scipy.sparse.linalg import splu

    g = sparse_matrix(network.shape, network.g + network.ac_only)
    stored = sparse_matrix(network.shape, network.c)
    factor = splu((g + lead * stored).tocsc())
    return lambda rhs: np.asarray(factor.solve(np.ascontiguousarray(rhs))), stored


def _size(step: Array, z: Array) -> float:
    return float((np.abs(step) / (1.0 + np.abs(z))).max(initial=0.0))
