"""The linear network's answer to currents and sources, harmonic by harmonic.

A backward difference taken around the cycle is a circulant: the discrete Fourier transform
makes it diagonal. So the periodic linear problem is one small complex system per harmonic, and
only the nonlinear ports need all instants at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from coldcheck.solve.triplets import DENSE_UP_TO, dense_matrix, sparse_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.network import Network

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]


def difference_symbol(instants: int, frequency: float) -> Complex:
    """Second-order backward difference at harmonics 1..N/2, shape (N/2,), 1/s.

    (3 x_n - 4 x_(n-1) + x_(n-2)) / 2h with h = 1/(N f), Gear 1971.
    """
    turn = np.exp(-2j * np.pi * np.arange(1, instants // 2 + 1) / instants)
    return np.asarray((1.5 - 2 * turn + 0.5 * turn**2) * instants * frequency)


def difference(samples: Array, frequency: float) -> Array:
    """The same difference in time: samples of shape (..., N) -> derivative, per second."""
    n = samples.shape[-1]
    back, further = np.roll(samples, 1, axis=-1), np.roll(samples, 2, axis=-1)
    return np.asarray((1.5 * samples - 2 * back + 0.5 * further) * n * frequency)


class Response(Protocol):
    """A linear system per harmonic."""

    def load(self, ports: Any, y: Any) -> None:
        """Connect conductances ``ports y ports.T``: ports (m, q), y (q, q) siemens.

        Replaces what was connected before.
        """

    def solve(self, rhs: Complex) -> Complex:
        """All unknowns for right-hand sides of shape (K, m, c); returns the same shape."""


class DenseHarmonics:
    """All harmonics at once: inverses of shape (K, m, m), corrected for tube conductances.

    The correction is Woodbury's formula: tubes change from state to state, the network does not.
    """

    def __init__(self, network: Network, symbol: Complex) -> None:
        g = dense_matrix(network.shape, network.g + network.ac_only)
        c = dense_matrix(network.shape, network.c)
        self._inverse = np.linalg.inv(g[None] + symbol[:, None, None] * c[None])
        self._ports: Array | None = None

    def load(self, ports: Any, y: Any) -> None:
        """See :class:`Response`."""
        if not ports.shape[1]:
            self._ports = None
            return
        self._ports = ports
        self._across = self._inverse @ ports
        small = np.eye(ports.shape[1])[None] + y @ (ports.T @ self._across)
        self._gain = np.linalg.solve(small, np.broadcast_to(y, small.shape).astype(complex))

    def solve(self, rhs: Complex) -> Complex:
        """See :class:`Response`."""
        plain = self._inverse @ rhs
        if self._ports is None:
            return np.asarray(plain)
        return np.asarray(plain - self._across @ (self._gain @ (self._ports.T @ plain)))


class SparseHarmonics:
    """One sparse factor per harmonic, remade when the tubes' conductances change."""

    def __init__(self, network: Network, symbol: Complex) -> None:
        self._g = sparse_matrix(network.shape, network.g + network.ac_only)
        self._c = sparse_matrix(network.shape, network.c)
        self._symbol = symbol
        self._factors: list[Any] = []

    def load(self, ports: Any, y: Any) -> None:
        """See :class:`Response`. Raises LinAlgError for contradictory wiring."""
        from scipy.sparse.linalg import splu

        loaded: Any = self._g + ports @ y @ ports.T
        try:
            self._factors = [splu((loaded + s * self._c).tocsc()) for s in self._symbol]
        except RuntimeError as problem:
            raise np.linalg.LinAlgError(str(problem)) from problem

    def solve(self, rhs: Complex) -> Complex:
        """See :class:`Response`."""
        return np.stack([f.solve(b) for f, b in zip(self._factors, rhs, strict=True)])


def harmonics(network: Network, symbol: Complex) -> Response:
    """The form that suits the network's size."""
    if network.size <= DENSE_UP_TO:
        return DenseHarmonics(network, symbol)
    return SparseHarmonics(network, symbol)
