"""The part of a Newton step that couples all instants: ports seen through their surroundings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


class PortStep:
    """Solves (D_v + Z D_i) step = rhs over all ports and instants.

    ``kernel`` (p, p, N) ohms is the circulant Z: response of a port to a current at another,
    by lag. ``dv`` and ``di`` (p, N) are the slopes along the port variables. A port that blocks
    has ``di == 0`` and couples to nothing, so only the conducting instants are factored.
    """

    def __init__(self, kernel: Array, dv: Array, di: Array) -> None:
        self.dv = dv
        p, n = dv.shape
        conducts = di.ravel() > 0
        self.on, self.off = np.flatnonzero(conducts), np.flatnonzero(~conducts)
        port, instant = np.divmod(np.arange(p * n), n)
        lag = (instant[:, None] - instant[self.on][None, :]) % n
        self.columns = kernel[port[:, None], port[self.on][None, :], lag] * di.ravel()[self.on]
        matrix = self.columns[self.on]
        matrix[np.diag_indices(len(self.on))] += dv.ravel()[self.on]
        self.inverse = np.linalg.inv(matrix)

    def solve(self, rhs: Array) -> Array:
        """The step, shape (p, N, k), for errors of shape (p, N, k) volts."""
        flat = rhs.reshape(self.dv.size, rhs.shape[2])
        out = np.zeros_like(flat)
        out[self.on] = self.inverse @ flat[self.on]
        rest = flat[self.off] - self.columns[self.off] @ out[self.on]
        out[self.off] = rest / self.dv.ravel()[self.off, None]
        return out.reshape(rhs.shape)
