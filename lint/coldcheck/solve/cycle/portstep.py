"""The part of a Newton step that couples all instants: ports seen through their surroundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.work import Work

    Array = NDArray[np.float64]


APART = 1e-3
"""Ports step apart that see less of each other's current than this share of their own, ohms to
ohms: of the smaller of the two."""


class PortStep:
    """Solves (D_v + Z D_i) step = rhs over all ports and instants.

    ``kernel`` (p, p, N) ohms is the circulant Z: response of a port to a current at another,
    by lag. ``dv`` and ``di`` (p, N) are the slopes along the port variables. Rectifiers of supplies
    that share little but the mains fall into groups, and what couples the groups is left out of
    the step (not out of the equations): Newton's method loses nothing but a few digits a step,
    and the work grows with the number of supplies, not with its cube.
    """

    def __init__(self, kernel: Array, dv: Array, di: Array, work: Work) -> None:
        self.dv, self.di = dv[:, :, None], di[:, :, None]
        self.groups = _groups(kernel)
        coupled = [_coupled(kernel, dv, di, group, work) for group in self.groups]
        self.coupled = [(place, matrix) for place, matrix in coupled if len(matrix)]
        self.spectrum = np.fft.rfft(kernel, axis=-1)
        if len(self.groups) > 1:
            self.spectrum *= _within(self.groups, len(kernel))[:, :, None]
        self.conducts = self.di > 0
        self.blocking = np.where(self.conducts, 1.0, self.dv)

    def solve(self, rhs: Array) -> Array:
        """The step, shape (p, N, k), for errors of shape (p, N, k) volts."""
        on = self._conducting(rhs)
        seen = np.einsum("pqn,qnk->pnk", self.spectrum, np.fft.rfft(self.di * on, axis=1))
        left = rhs - np.fft.irfft(seen, n=rhs.shape[1], axis=1)
        return np.where(self.conducts, on, left / self.blocking)

    def mean_amps(self, rhs: Array) -> Array:
        """What the step does to each port's mean current, shape (p, k), amperes."""
        return np.asarray((self.di * self._conducting(rhs)).mean(axis=1))

    def _conducting(self, rhs: Array) -> Array:
        """The step where ports conduct; 0 where they block."""
        out = np.zeros_like(rhs)
        for place, matrix in self.coupled:  # mostly asked once, so solving beats an inverse
            out[place] = np.linalg.solve(matrix, rhs[place])
        return out


def _groups(kernel: Array) -> list[NDArray[np.intp]]:
    """Ports that see one another, directly or through others."""
    if not len(kernel):
        return []
    size = np.abs(kernel).max(axis=2)
    own = size.diagonal()  # huge where a blocked bridge floats: the smaller of two decides
    near = size + size.T > APART * np.minimum(own[:, None], own)
    reach = near | np.eye(len(near), dtype=bool)
    while not ((further := reach @ reach) == reach).all():
        reach = further
    first = reach.argmax(axis=1)
    leaders = np.flatnonzero(first == np.arange(len(first)))
    return [np.flatnonzero(first == k) for k in leaders]


def _within(groups: list[NDArray[np.intp]], count: int) -> Array:
    """1 where two ports are of one group, else 0; shape (p, p)."""
    together = np.zeros((count, count))
    for group in groups:
        together[np.ix_(group, group)] = 1.0
    return together


def _coupled(
    kernel: Array, dv: Array, di: Array, group: NDArray[np.intp], work: Work
) -> tuple[tuple[NDArray[np.intp], NDArray[np.intp]], Array]:
    """Where the ports of a group conduct (port and instant), and the matrix that couples it.

    A port that blocks has ``di == 0`` and moves nothing else.
    """
    row, instant = np.nonzero(di[group] > 0)
    port = group[row]
    count, (ports, n) = len(port), di.shape
    work.eliminate(count)
    # Two cycles on end, so that the place of a lag is a sum of one term a row and one a column.
    twice = np.concatenate([kernel, kernel], axis=-1)
    into, out = (port * ports * 2 + 1) * n + instant, port * 2 * n - instant
    matrix = twice.ravel().take(into[:, None] + out)
    matrix *= di[port, instant]
    matrix.ravel()[:: count + 1] += dv[port, instant]
    return (port, instant), matrix
