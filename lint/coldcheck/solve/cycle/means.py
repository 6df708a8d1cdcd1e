"""The equations of the mean values: one matrix, dense for small circuits, sparse for large."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from coldcheck.solve.cycle.triplets import DENSE_UP_TO, dense_matrix, sparse_factor, sparse_matrix

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from coldcheck.solve.cycle.network import Network

    Array = NDArray[np.float64]


class Means(Protocol):
    """G and C of a network, and factors of G with tubes' slopes added."""

    def times(self, x: Array) -> Array:
        """``G x``; x of shape (m,) or (m, N)."""

    def charge(self, rate: Array) -> Array:
        """``C rate``; rate of shape (m, N), per second."""

    def with_slopes(self, at: Any, slopes: Any) -> Callable[[Array], Array]:
        """Solver of ``(G + at slopes at.T) x = rhs``; at (m, q), slopes (q, q) siemens."""


class DenseMeans:
    """For circuits of up to some hundred unknowns."""

    def __init__(self, network: Network) -> None:
        self._g = dense_matrix(network.shape, network.g + network.dc_only)
        self._c = dense_matrix(network.shape, network.c)

    def times(self, x: Array) -> Array:
        """See :class:`Means`."""
        return np.asarray(self._g @ x)

    def charge(self, rate: Array) -> Array:
        """See :class:`Means`."""
        return np.asarray(self._c @ rate)

    def with_slopes(self, at: Any, slopes: Any) -> Callable[[Array], Array]:
        """See :class:`Means`. Raises LinAlgError for contradictory wiring."""
        inverse = np.linalg.inv(self._g + at @ slopes @ at.T)
        return lambda rhs: np.asarray(inverse @ rhs)


class SparseMeans:
    """For large circuits: growth close to linear."""

    def __init__(self, network: Network) -> None:
        self._g: Any = sparse_matrix(network.shape, network.g + network.dc_only)
        self._c: Any = sparse_matrix(network.shape, network.c)

    def times(self, x: Array) -> Array:
        """See :class:`Means`."""
        return np.asarray(self._g @ x)

    def charge(self, rate: Array) -> Array:
        """See :class:`Means`."""
        return np.asarray(self._c @ rate)

    def with_slopes(self, at: Any, slopes: Any) -> Callable[[Array], Array]:
        """See :class:`Means`. Raises LinAlgError for contradictory wiring."""
        factor = sparse_factor(self._g + at @ slopes @ at.T)
        return lambda rhs: np.asarray(factor.solve(np.ascontiguousarray(rhs)))


def mean_matrix(network: Network) -> Means:
    """The form that suits the network's size."""
    return DenseMeans(network) if network.size <= DENSE_UP_TO else SparseMeans(network)
