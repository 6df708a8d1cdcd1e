"""The linear network's answer to currents and sources, harmonic by harmonic.

A backward difference taken around the cycle is a circulant: the discrete Fourier transform
makes it diagonal. So the periodic linear problem is one small complex system per harmonic, and
only the nonlinear ports need all instants at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from coldcheck.solve.cycle.triplets import DENSE_UP_TO, dense_matrix, sparse_factor, sparse_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.cycle.network import Network

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]


LOW_RANK = 24
"""Unknowns at which a state may differ from the factored one without being factored anew."""

PORTS_AT_ONCE = 4
ROUNDING = 1e-13


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

    def between(self, at: Array) -> Complex:
        """Impedances between ports: at (m, p) -> (K, p, p) ohms."""

    def toward(self, at: Array) -> Complex:
        """What ports see of a current in each equation: at (m, p) -> (K, p, m) ohms."""


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
        if ports is not self._ports:  # a state keeps its ports while their slopes change
            self._connect(ports)
        small = np.eye(ports.shape[1])[None] + y @ self._within
        self._gain = np.linalg.solve(small, np.broadcast_to(y, small.shape).astype(complex))

    def _connect(self, ports: Array) -> None:
        """The impedances that a load at these ports needs; each touches few unknowns."""
        rows, ends = _touched(ports)
        self._ports, self._rows, self._ends = ports, rows, ends
        self._across = self._inverse.take(rows, axis=2) @ ends
        self._within = ends.T @ self._across.take(rows, axis=1)

    def solve(self, rhs: Complex) -> Complex:
        """See :class:`Response`."""
        plain = self._inverse @ rhs
        if self._ports is None:
            return np.asarray(plain)
        felt = self._ends.T @ plain.take(self._rows, axis=1)
        return np.asarray(plain - self._across @ (self._gain @ felt))

    def between(self, at: Array) -> Complex:
        """See :class:`Response`."""
        rows, ends = _touched(at)
        own = ends.T @ self._inverse[:, rows[:, None], rows] @ ends
        if self._ports is None:
            return np.asarray(own)
        felt = self._ends.T @ self._inverse[:, self._rows[:, None], rows] @ ends
        return np.asarray(own - ends.T @ self._across.take(rows, axis=1) @ (self._gain @ felt))

    def toward(self, at: Array) -> Complex:
        """See :class:`Response`."""
        rows, ends = _touched(at)
        own = ends.T @ self._inverse.take(rows, axis=1)
        if self._ports is None:
            return np.asarray(own)
        felt = self._ends.T @ self._inverse.take(self._rows, axis=1)
        return np.asarray(own - ends.T @ self._across.take(rows, axis=1) @ self._gain @ felt)


def _touched(at: Array) -> tuple[NDArray[np.intp], Array]:
    """The unknowns that columns (m, q) touch, and the columns without the others."""
    rows = np.flatnonzero(at.any(axis=1))
    return rows, at[rows]


class SparseHarmonics:
    """One sparse factor per harmonic; what a state changes in a few places is added to them.

    All harmonics have one pattern, so they share one order of elimination (minimum degree), which
    keeps the factors close to the size of the network. A load that differs from the factored one
    at no more than ``LOW_RANK`` unknowns (a pulled tube, a thrown switch) is taken up by Woodbury's
    formula; any other is factored anew.
    """

    def __init__(self, network: Network, symbol: Complex) -> None:
        self._g = sparse_matrix(network.shape, network.g + network.ac_only)
        self._c = sparse_matrix(network.shape, network.c)
        self._symbol = symbol
        self._order: Any = None
        self._factors: list[Any] = []
        self._factored: Any = None
        self._touched = np.zeros(0, dtype=int)

    def load(self, ports: Any, y: Any) -> None:
        """See :class:`Response`. Raises LinAlgError for contradictory wiring."""
        loaded: Any = self._g + ports @ y @ ports.T
        self._touched = np.zeros(0, dtype=int)
        if self._factored is not None:
            change = _beyond_rounding(loaded - self._factored, loaded)
            touched = np.union1d(*change.nonzero())
            if len(touched) <= LOW_RANK:
                self._adjust(touched, change)
                return
        self._factor(loaded)

    def _factor(self, loaded: Any) -> None:
        """Factor every harmonic. Raises LinAlgError for contradictory wiring."""
        self._factored = None
        if self._order is None:
            middle = loaded + self._symbol[len(self._symbol) // 2] * self._c
            self._order = np.argsort(sparse_factor(middle).perm_c)
        g, c = (a.tocsc()[self._order][:, self._order] for a in (loaded, self._c))
        self._factors = [sparse_factor(g + s * c, "NATURAL") for s in self._symbol]
        self._factored = loaded

    def _adjust(self, touched: NDArray[np.intp], change: Any) -> None:
        """Woodbury's formula for a change (r, r) at the touched unknowns. Raises LinAlgError."""
        self._touched = touched
        r = len(touched)
        if not r:
            return
        ends = np.zeros((len(self._symbol), self._g.shape[0], r), dtype=complex)
        ends[:, touched, np.arange(r)] = 1.0
        self._across = self._plain(ends)
        small = change.tocsc()[touched][:, touched].toarray()
        matrix = np.eye(r)[None] + small @ self._across[:, touched]
        self._gain = np.linalg.solve(matrix, np.broadcast_to(small, matrix.shape).astype(complex))

    def solve(self, rhs: Complex) -> Complex:
        """See :class:`Response`."""
        plain = self._plain(rhs)
        if not len(self._touched):
            return plain
        return np.asarray(plain - self._across @ (self._gain @ plain[:, self._touched]))

    def between(self, at: Array) -> Complex:
        """See :class:`Response`. A few ports at a time."""
        rows, ends = _touched(at)
        some = [at[:, k : k + PORTS_AT_ONCE] for k in range(0, at.shape[1], PORTS_AT_ONCE)]
        seen = [ends.T @ self.solve(self._each(columns))[:, rows] for columns in some]
        return np.concatenate([np.zeros((len(self._symbol), at.shape[1], 0)), *seen], axis=2)

    def toward(self, at: Array) -> Complex:
        """See :class:`Response`."""
        own = self._plain(self._each(at), "T").transpose(0, 2, 1)
        if not len(self._touched):
            return own
        ends = np.zeros((len(at), len(self._touched)))
        ends[self._touched, np.arange(len(self._touched))] = 1.0
        felt = self._plain(self._each(ends), "T").transpose(0, 2, 1)
        return np.asarray(own - at.T @ self._across @ self._gain @ felt)

    def _each(self, columns: Array) -> Complex:
        """The same columns (m, c) as right-hand sides of every harmonic."""
        return np.broadcast_to(columns, (len(self._symbol), *columns.shape)).astype(complex)

    def _plain(self, rhs: Complex, form: str = "N") -> Complex:
        """The answer of the factored network alone; of its transpose with the form "T"."""
        given, out = rhs[:, self._order], np.empty_like(rhs)
        pairs = zip(self._factors, given, strict=True)
        out[:, self._order] = np.stack([factor.solve(b, form) for factor, b in pairs])
        return out


def _beyond_rounding(change: Any, whole: Any) -> Any:
    """A difference of two sparse matrices without what rounding left of equal entries."""
    change = change.tocoo()
    size = abs(whole).max()
    kept = np.abs(change.data) > ROUNDING * size
    from scipy.sparse import coo_array

    place = (change.row[kept], change.col[kept])
    return coo_array((change.data[kept], place), shape=change.shape)


def harmonics(network: Network, symbol: Complex) -> Response:
    """The form that suits the network's size."""
    if network.size <= DENSE_UP_TO:
        return DenseHarmonics(network, symbol)
    return SparseHarmonics(network, symbol)
