"""Every unknown at every instant in one sparse Newton iteration.

Where ripple drives a tube far along its curve (a plate on raw AC, a driver that amplifies the
ripple of an unfiltered supply), mean values and a correction do not converge. This solves the
same equations, C dx/dt + G x + B i(x) = b(t) around one cycle, with all instants coupled. It is
exact and costs N times the unknowns. Where it gets lost, `shooting` goes on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.solve.cycle.starts import NotConverged, Start, Steady, resampled
from coldcheck.solve.cycle.triplets import sparse_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.cycle.steady import Cycle

    Array = NDArray[np.float64]

MAX_STEPS = 60
STEP_TOLERANCE = 1e-8
NOISE = 1e-7
SMALLEST_DAMPING = 1e-4
STALL = 12
ROUNDING = 1e-9
FILLED = 100
"""Multiplications for an entry of the sparse factors; they are few to a column."""

LARGEST = 60_000
"""Unknowns, all instants together, beyond which the last resort would take minutes."""


class AllInstants:
    """Newton's method on x (m, N), the port variables w (p, N) and one mean mmf a core.

    Unknowns are laid out instant by instant: x at instant 0, x at instant 1, ..., then w port by
    port, then the mean mmfs. A core's emf has no mean; its winding currents may have one, and the
    mean mmf is the unknown that takes it up.
    """

    def __init__(self, cycle: Cycle) -> None:
        from scipy.sparse import csc_array, eye_array, kron

        self.cycle, self.n = cycle, cycle.n
        network = cycle.network
        self.m, self.p = network.size, len(cycle.ports)
        if (self.m + self.p) * self.n > LARGEST:
            raise NotConverged("the circuit is too large for the last resort")
        self.cores = network.cores
        each = eye_array(self.n, format="csc")
        g = sparse_matrix(network.shape, network.g + network.ac_only)
        c = sparse_matrix(network.shape, network.c)
        self.linear: Any = (kron(each, g) + kron(_difference(self.n, network.frequency), c)).tocsc()
        self.into: Any = kron(each, csc_array(cycle.port_at), format="csc")
        self.valves_into: Any = kron(each, csc_array(cycle.valve_at), format="csc")
        self.order = np.arange(self.p * self.n).reshape(self.n, self.p).T.ravel()
        self.border = self._border()
        self.drive = np.tile(cycle.steady[:, None], (1, self.n))
        self.drive += cycle.hum[:, None] * np.sin(2 * np.pi * np.arange(self.n) / self.n)

    def _border(self) -> Any:
        """(m N, cores): where a core's mean mmf enters its rows."""
        rows = [t * self.m + core for core in self.cores for t in range(self.n)]
        columns = [k for k in range(len(self.cores)) for _ in range(self.n)]
        entries = [(r, c, 1.0) for r, c in zip(rows, columns, strict=True)]
        return sparse_matrix((self.m * self.n, len(self.cores)), entries)

    def solve(self, start: Start | None = None, unknowns: Array | None = None) -> Steady:
        """Solve from nothing, or from a start and unknowns on any instants.

        Raises NotConverged.
        """
        z = np.zeros((self.m + self.p) * self.n + len(self.cores))
        if start is not None and unknowns is not None:
            x = np.zeros((self.m, self.n))
            for row, known in zip(x, unknowns, strict=False):
                row[:] = resampled(known, self.n)
            z[: self.m * self.n] = x.T.ravel()
            z[self.m * self.n : (self.m + self.p) * self.n] = start.wave.ravel()
        return self._answer(*self._newton(z))

    def _newton(self, z: Array) -> tuple[Array, int]:
        """The solution near z and the steps taken. Raises NotConverged."""
        sizes: list[float] = []
        with np.errstate(over="ignore", invalid="ignore"):
            for steps in range(1, MAX_STEPS + 1):
                factor = self._factor(z)
                step = factor.solve(-self._residual(z))
                sizes.append(_size(step, z))
                if sizes[-1] < STEP_TOLERANCE:
                    return z + step, steps
                if not np.isfinite(sizes[-1]) or min(sizes[-STALL:]) > min(
                    sizes[:-STALL], default=np.inf
                ):
                    break
                z = self._damped(z, step, sizes[-1], factor)
        if np.abs(self._residual(z)[: self.m * self.n]).max(initial=0.0) < ROUNDING:
            return z, steps  # the steps left are rounding
        raise NotConverged(f"all instants together: no answer in {steps} steps")

    def _damped(self, z: Array, step: Array, size: float, factor: Any) -> Array:
        """The longest of z + step, z + step/2, ... whose next step would be shorter."""
        damping = 1.0
        while damping > SMALLEST_DAMPING:
            trial = z + damping * step
            after = _size(factor.solve(-self._residual(trial)), z)
            if after < max((1 - damping / 4) * size, NOISE):
                return np.asarray(trial)
            damping /= 2
        return np.asarray(z + damping * step)

    def _split(self, z: Array) -> tuple[Array, Array, Array]:
        x = z[: self.m * self.n].reshape(self.n, self.m).T
        wave = z[self.m * self.n : (self.m + self.p) * self.n].reshape(self.p, self.n)
        return x, wave, z[(self.m + self.p) * self.n :]

    def _residual(self, z: Array) -> Array:
        x, wave, mmf = self._split(z)
        volts, amps, _, _ = self.cycle.port_curves(wave)
        valve = self.cycle.valve_at @ self.cycle.bank.over_cycle(self.cycle.valve_at.T @ x)[0]
        flow = (self.cycle.port_at @ amps + valve - self.drive).T.ravel()
        flow = flow + self.linear @ z[: self.m * self.n] + self.border @ mmf
        across = volts - self.cycle.port_at.T @ x
        return np.concatenate([flow, across.ravel(), self.border.T @ z[: self.m * self.n]])

    def _factor(self, z: Array) -> Any:
        from scipy.sparse import block_array, diags_array
        from scipy.sparse.linalg import splu

        x, wave, _ = self._split(z)
        _, _, dv, di = self.cycle.port_curves(wave)
        into = self.into[:, self.order]
        top = self.linear + self._tubes(x)
        rows: list[list[Any]] = [
            [top, into @ diags_array(di.ravel()), self.border],
            [-into.T, diags_array(dv.ravel()), None],
            [self.border.T, None, None],
        ]
        try:
            factor = splu(block_array(rows, format="csc"))
            self.cycle.work.multiply(FILLED * factor.nnz)
            return factor
        except RuntimeError as problem:
            raise np.linalg.LinAlgError(str(problem)) from problem

    def _tubes(self, x: Array) -> Any:
        """Slopes of all tubes at all instants, seen from the nets: (m N, m N)."""
        from scipy.sparse import coo_array

        q = self.cycle.bank.size
        _, (rows, columns, values) = self.cycle.bank.each_instant(self.cycle.valve_at.T @ x)
        shift = q * np.arange(self.n)
        place = ((rows[:, None] + shift).ravel(), (columns[:, None] + shift).ravel())
        slopes = coo_array((values.ravel(), place), shape=(q * self.n, q * self.n)).tocsc()
        return self.valves_into @ slopes @ self.valves_into.T

    def _answer(self, z: Array, steps: int) -> Steady:
        x, wave, _ = self._split(z)
        answer, _ = self.cycle.answer(x, wave, steps)
        if not answer.balanced:
            raise NotConverged(
                f"current still {answer.residual:.2g} A in error after {steps} steps"
            )
        return answer


def _difference(n: int, frequency: float) -> Any:
    """The periodic second-order backward difference as a circulant, (n, n), 1/s."""
    entries = [
        (t, (t - lag) % n, weight * n * frequency)
        for t in range(n)
        for lag, weight in ((0, 1.5), (1, -2.0), (2, 0.5))
    ]
    return sparse_matrix((n, n), entries)


def _size(step: Array, z: Array) -> float:
    return float((np.abs(step) / (1.0 + np.abs(z))).max(initial=0.0))
