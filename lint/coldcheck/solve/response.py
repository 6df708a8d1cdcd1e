"""The linear network's answer to currents and sources, harmonic by harmonic.

A backward difference taken around the cycle is a circulant: the discrete Fourier transform
makes it diagonal. So the periodic linear problem is one small complex system per harmonic, and
only the nonlinear ports need all instants at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.network import Network

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

DENSE_UP_TO = 160
"""Unknowns below which dense algebra on all harmonics at once beats sparse factors."""


def difference_symbol(instants: int, frequency: float) -> Complex:
    """Second-order backward difference at harmonics 1..N/2, shape (N/2,), 1/s.

    (3 x_n - 4 x_(n-1) + x_(n-2)) / 2h with h = 1/(N f), Gear 1971.
    """
    turn = np.exp(-2j * np.pi * np.arange(1, instants // 2 + 1) / instants)
    return (1.5 - 2 * turn + 0.5 * turn**2) * instants * frequency


def difference(samples: Array, frequency: float) -> Array:
    """The same difference in time: samples of shape (..., N) -> derivative, per second."""
    n = samples.shape[-1]
    back, further = np.roll(samples, 1, axis=-1), np.roll(samples, 2, axis=-1)
    return np.asarray((1.5 * samples - 2 * back + 0.5 * further) * n * frequency)


class Response(Protocol):
    """A linear system per harmonic.

    ``solve(rhs)``: rhs of shape (K, m, c) or, for DC, (m, c); returns the same shape.
    """

    def solve(self, rhs: Complex) -> Complex:
        """Node voltages and currents that the right-hand sides cause."""
        ...


def dense_matrix(network: Network, entries: list[tuple[int, int, float]]) -> Array:
    """Triplets summed into an array of shape (size, size)."""
    matrix = np.zeros((network.size, network.size))
    if entries:
        rows, columns, values = zip(*entries, strict=True)
        np.add.at(matrix, (np.array(rows), np.array(columns)), np.array(values))
    return matrix


class DenseHarmonics:
    """All harmonics at once: inverses of shape (K, m, m), corrected for tube conductances.

    The correction is Woodbury's formula with the incidence ``ports`` (m, q) and the
    conductances ``y`` (q, q): tubes change from state to state, the network does not.
    """

    def __init__(self, network: Network, symbol: Complex) -> None:
        g = dense_matrix(network, network.g + network.ac_only)
        c = dense_matrix(network, network.c)
        self._inverse = np.linalg.inv(g[None] + symbol[:, None, None] * c[None])
        self._ports: Array | None = None

    def load(self, ports: Array, y: Array) -> None:
        """Connect conductances ``ports @ y @ ports.T``; replaces what was connected before."""
        if not ports.shape[1]:
            self._ports = None
            return
        self._ports = ports
        self._across = self._inverse @ ports
        seen = ports.T @ self._across
        small = np.eye(ports.shape[1])[None] + y @ seen
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
        from scipy.sparse import coo_array

        def matrix(entries: list[tuple[int, int, float]]) -> object:
            rows, columns, values = zip(*entries, strict=True) if entries else ((), (), ())
            shape = (network.size, network.size)
            return coo_array((values, (rows, columns)), shape=shape, dtype=float).tocsc()

        self._g = matrix(network.g + network.ac_only)
        self._c = matrix(network.c)
        self._symbol = symbol
        self._factors: list[object] = []

    def load(self, ports: Array, y: Array) -> None:
        """Connect conductances ``ports @ y @ ports.T`` and factor."""
        from scipy.sparse import csc_array
        from scipy.sparse.linalg import splu

        columns = csc_array(ports)
        extra = columns @ csc_array(y) @ columns.T
        self._factors = [splu((self._g + extra + s * self._c).tocsc()) for s in self._symbol]  # type: ignore[operator, attr-defined]

    def solve(self, rhs: Complex) -> Complex:
        """See :class:`Response`."""
        return np.stack([f.solve(b) for f, b in zip(self._factors, rhs, strict=True)])  # type: ignore[attr-defined]


def harmonics(network: Network, symbol: Complex) -> DenseHarmonics | SparseHarmonics:
    """The form that suits the network's size."""
    if network.size <= DENSE_UP_TO:
        return DenseHarmonics(network, symbol)
    return SparseHarmonics(network, symbol)
