"""The part of a Newton step that couples all instants: ports seen through their surroundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.work import Work

    Array = NDArray[np.float64]


APART = 1e-3
"""Ports that see less of each other's current than this share of their own step on their own."""


class PortStep:
    """Solves (D_v + Z D_i) step = rhs over all ports and instants.

    ``kernel`` (p, p, N) ohms is the circulant Z: response of a port to a current at another,
    by lag. ``dv`` and ``di`` (p, N) are the slopes along the port variables. Rectifiers of supplies
    that share little but the mains fall into groups, and what couples the groups is left out of
    the step (not out of the equations): Newton's method loses nothing but a few digits a step,
    and the work grows with the number of supplies, not with its cube.
    """

    def __init__(self, kernel: Array, dv: Array, di: Array, work: Work) -> None:
        self.groups = _groups(kernel)
        self.steps = [_GroupStep(kernel[np.ix_(g, g)], dv[g], di[g], work) for g in self.groups]

    def solve(self, rhs: Array) -> Array:
        """The step, shape (p, N, k), for errors of shape (p, N, k) volts."""
        out = np.empty_like(rhs)
        for group, step in zip(self.groups, self.steps, strict=True):
            out[group] = step.solve(rhs[group])
        return out

    def mean_amps(self, rhs: Array) -> Array:
        """What the step does to each port's mean current, shape (p, k), amperes."""
        out = np.empty((len(rhs), rhs.shape[2]))
        for group, step in zip(self.groups, self.steps, strict=True):
            out[group] = step.amps(rhs[group])[0].mean(axis=1)
        return out


def _groups(kernel: Array) -> list[NDArray[np.intp]]:
    """Ports that see one another, directly or through others."""
    size = np.abs(kernel).max(axis=2)
    own = np.sqrt(size.diagonal())
    near = size + size.T > APART * own[:, None] * own
    left, found = set(range(len(size))), []
    while left:
        group, new = set[int](), {min(left)}
        while new:
            group |= new
            new = set(np.flatnonzero(near[sorted(new)].any(axis=0)).tolist()) - group
        left -= group
        found.append(np.array(sorted(group)))
    return found


class _GroupStep:
    """The step of one group of ports.

    A port that blocks has ``di == 0`` and couples to nothing, so only the conducting instants are
    factored; what their currents do to the blocking ones is a product of spectra.
    """

    def __init__(self, kernel: Array, dv: Array, di: Array, work: Work) -> None:
        self.kernel, self.dv, self.di = kernel, dv, di
        self.on = np.flatnonzero(di.ravel() > 0)
        work.eliminate(len(self.on))
        port, instant = np.divmod(self.on, di.shape[1])
        lag = (instant[:, None] - instant) % di.shape[1]
        matrix = kernel[port[:, None], port, lag] * di.ravel()[self.on]
        matrix[np.diag_indices(len(self.on))] += dv.ravel()[self.on]
        self.inverse = np.linalg.inv(matrix)

    def amps(self, rhs: Array) -> tuple[Array, Array]:
        """The change of the currents (p, N, k), and the step where they flow (on, k)."""
        step = self.inverse @ rhs.reshape(self.dv.size, -1)[self.on]
        amps = np.zeros((self.dv.size, rhs.shape[2]))
        amps[self.on] = self.di.ravel()[self.on, None] * step
        return amps.reshape(rhs.shape), step

    def solve(self, rhs: Array) -> Array:
        """See :class:`PortStep`."""
        amps, step = self.amps(rhs)
        spectrum = np.fft.rfft(self.kernel, axis=-1)
        seen = np.einsum("pqn,qnk->pnk", spectrum, np.fft.rfft(amps, axis=1))
        away = rhs - np.fft.irfft(seen, n=self.dv.shape[1], axis=1)
        out = away / np.where(self.di > 0, 1.0, self.dv)[:, :, None]
        out.reshape(self.dv.size, -1)[self.on] = step
        return np.asarray(out)
