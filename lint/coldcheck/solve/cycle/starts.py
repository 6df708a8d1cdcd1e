"""Where Newton's method begins and what it arrives at."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Array = NDArray[np.float64]


CURRENT_TOLERANCE = 1e-9
"""Allowed error of Kirchhoff's current law: amperes, and once more as a share of the largest."""


class NotConverged(Exception):  # noqa: N818 - a condition, reported in words
    """No answer was reached; the text says how far it got."""


@dataclass(slots=True)
class Start:
    """Where to begin: means (m,), port variables (p, N), and what the tubes do about the mean.

    ``rest`` (q, N) are the tubes' currents less those at the mean voltages, ``swing`` (q, N)
    their voltages less the mean. ``slopes`` (q, q), siemens, are those to linearise with where
    factors for them exist already; ``None`` for the tubes' own.
    """

    mean: Array
    wave: Array
    rest: Array
    swing: Array
    slopes: Any = None

    def correction(self, slopes: Any) -> Array:
        """The currents (q, N) that the given slopes (q, q) do not explain, amperes."""
        return np.asarray(self.rest - slopes @ self.swing)


@dataclass(slots=True)
class LabelledStart:
    """A start that another state of the same circuit can use: rows by port and by electrode.

    The rows of struck gas tubes come last, so that the others keep their places.
    """

    mean: Array
    wave: dict[tuple[str, str], Array]
    tubes: dict[tuple[str, str], tuple[Array, Array]]
    unknowns: Array
    slopes: Any = None
    nets: Mapping[str, int] | None = None
    """The rows of ``mean`` that are nets, for a start in another circuit."""


@dataclass(slots=True)
class Steady:
    """An answer: all unknowns (m, N), port volts and amperes (p, N), tube currents (q, N)."""

    unknowns: Array
    port_volts: Array
    port_amps: Array
    valve_volts: Array
    valve_amps: Array
    residual: float
    steps: int
    start: Start

    @property
    def largest(self) -> float:
        """The largest current of any one-way part or tube electrode, amperes."""
        parts = (self.port_amps, self.valve_amps)
        return max(float(np.abs(p).max(initial=0.0)) for p in parts)

    @property
    def balanced(self) -> bool:
        """Whether Kirchhoff's current law holds to within CURRENT_TOLERANCE."""
        return self.residual < CURRENT_TOLERANCE * (1.0 + self.largest)


def resampled(samples: Array, n: int) -> Array:
    """A cycle on another number of instants, by straight lines."""
    if len(samples) == n:
        return samples
    return np.interp(np.arange(n) / n, np.arange(len(samples)) / len(samples), samples, period=1.0)
