"""Linear networks of capacitors and resistances left to themselves: modes, and when they are low.

``C dv/dt + G v = 0`` has the solution ``v = sum_k u_k a_k exp(-t / tau_k)`` with
``C u = tau G u``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

NEVER_S = 1e5
"""A day and a bit: what takes longer is said to take for ever."""

FIRST_S = 1e-3
GRID = 800
HALVINGS = 30
AT_ONCE = 2000
"""Voltages whose grids are in memory at the same time."""


@dataclass(frozen=True, slots=True)
class Curve:
    """A voltage over time: ``sum(weights exp(-t / taus))``, volts and seconds, shape (modes,)."""

    weights: Array
    taus: Array

    def volts(self, seconds: float) -> float:
        """The voltage that long after switch-off."""
        return float(self.weights @ np.exp(-seconds / self.taus))


def seconds_above(weights: Array, taus: Array, limit: float) -> float:
    """Time after which ``|sum(weights exp(-t/taus))|`` stays below ``limit``; ``inf`` if too long.

    weights : shape (modes,), volts.  taus : shape (modes,), seconds.
    """
    return float(all_seconds_above(weights[None, :], taus, (limit,))[0, 0])


def all_seconds_above(weights: Array, taus: Array, limits: tuple[float, ...]) -> Array:
    """:func:`seconds_above` for many voltages and limits: weights (n, modes), seconds (limits, n).

    The last crossing of a grid of times is refined by halving. Two crossings between neighbours
    of the grid (2.3 % apart) would be overlooked.
    """
    times = np.concatenate(([0.0], np.geomspace(FIRST_S, NEVER_S, GRID)))
    curves = np.exp(-times / taus[:, None])
    over = np.array(limits)[:, None]
    blocks = range(0, len(weights), AT_ONCE)
    found = [_block(weights[k : k + AT_ONCE], taus, over, times, curves) for k in blocks]
    return np.concatenate([np.zeros((len(limits), 0)), *found], axis=1)


def _block(weights: Array, taus: Array, limits: Array, times: Array, curves: Array) -> Array:
    over = np.abs(weights @ curves) > limits[:, :, None]
    last = np.where(over.any(axis=-1), len(times) - 1 - np.argmax(over[:, :, ::-1], axis=-1), -1)
    inside = np.clip(last, 0, len(times) - 2)
    low, high = times[inside], times[inside + 1]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        still = np.abs(np.sum(weights * np.exp(-middle[..., None] / taus), axis=-1)) > limits
        low, high = np.where(still, middle, low), np.where(still, high, middle)
    found = np.where(last < 0, 0.0, high)
    return np.where(last == len(times) - 1, np.inf, found)


def modes_of(c: Array, g: Array) -> tuple[Array, Array]:
    """Solve ``C u = tau G u``: time constants (n,) ascending and modes (n, n), u' G u = 1.

    G must be positive definite. Reduced with its Cholesky factor to an ordinary symmetric
    problem (Golub and Van Loan, "Matrix Computations", sec. 8.7); numpy alone, since importing
    scipy costs as much as the rest of a small review.
    """
    lower = np.linalg.cholesky(g)
    half = np.linalg.solve(lower, c)
    taus, vectors = np.linalg.eigh(np.linalg.solve(lower, half.T))
    return taus, np.linalg.solve(lower.T, vectors)
