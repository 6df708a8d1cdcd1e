"""Speeding up a slowly converging correction (D. G. Anderson, J. ACM 12, 1965)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

DEPTH = 5


class Mixer:
    """Proposes the next input of a fixed-point iteration x = g(x) from the last few.

    Plain repetition until there is a history; arrays of any one shape.
    """

    def __init__(self) -> None:
        self._inputs: list[Array] = []
        self._errors: list[Array] = []

    def next(self, given: Array, got: Array) -> Array:
        """The input to try after ``g(given) == got``."""
        self._inputs = [*self._inputs, given][-DEPTH:]
        self._errors = [*self._errors, got - given][-DEPTH:]
        if len(self._errors) < 2:
            return got
        x = np.diff(self._flat(self._inputs), axis=0)
        f = np.diff(self._flat(self._errors), axis=0)
        weights = np.linalg.lstsq(f.T, self._errors[-1].ravel(), rcond=1e-12)[0]
        return got - (weights @ (x + f)).reshape(got.shape)

    @staticmethod
    def _flat(arrays: list[Array]) -> Array:
        return np.stack([a.ravel() for a in arrays])
