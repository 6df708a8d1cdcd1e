"""A complex ratio over frequency: its mid band, and where it falls by three decibels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

MID_BAND = 1000.0
"""Hertz: the reference frequency of audio measurements (common practice)."""

SWEEP_FROM, SWEEP_TO, POINTS_PER_DECADE = 1.0, 1e5, 20
"""The low corners of ordinary stages (25 uF at 1.5 kohm, 22 nF into 1 Mohm) lie below 10 Hz."""

HALF_POWER_DB = 10 * np.log10(0.5)
NOTHING = 1e-9
"""A ratio below this at mid band is rounding: it has no corners."""


def default_frequencies() -> Array:
    """Log-spaced hertz, 1 Hz to 100 kHz, twenty a decade, 1 kHz among them."""
    decades = np.log10(SWEEP_TO / SWEEP_FROM)
    return np.geomspace(SWEEP_FROM, SWEEP_TO, round(decades * POINTS_PER_DECADE) + 1)


@dataclass(frozen=True, slots=True)
class Sweep:
    """``values`` (F,), a complex ratio or ohms, at ascending ``frequencies`` (F,) in hertz."""

    frequencies: Array
    values: Complex

    def at(self, frequency: float) -> complex:
        """The value at a frequency: as solved on the grid, by straight lines between.

        Beyond the ends it is that of the end.
        """
        x, known = np.log(frequency), np.log(self.frequencies)
        real, imaginary = (np.interp(x, known, v) for v in (self.values.real, self.values.imag))
        return complex(real, imaginary)

    @property
    def mid(self) -> complex:
        """The value at mid band, 1 kHz."""
        return self.at(MID_BAND)

    @property
    def low_corner(self) -> float | None:
        """Hertz where it has fallen 3 dB below mid band on the way down.

        ``None`` if it never does within the sweep, or there is nothing at mid band.
        """
        fallen = self._fallen()
        below = np.flatnonzero(fallen & (self.frequencies < MID_BAND))
        return self._crossing(int(below[-1]), int(below[-1]) + 1) if below.size else None

    @property
    def high_corner(self) -> float | None:
        """Hertz where the DRAWN parts alone make it fall 3 dB below mid band on the way up.

        The true corner is no higher: interelectrode (Miller) and stray capacitance and leakage
        inductance are not on file. ``None``: the drawn parts make none within the sweep, and
        where it really lies is not judged.
        """
        fallen = self._fallen()
        above = np.flatnonzero(fallen & (self.frequencies > MID_BAND))
        return self._crossing(int(above[0]), int(above[0]) - 1) if above.size else None

    def decibels(self) -> Array:
        """The values (F,) in dB to mid band; all 0 where there is nothing at mid band."""
        mid = abs(self.mid)
        if mid < NOTHING:
            return np.zeros(len(self.frequencies))
        return np.asarray(20 * np.log10(np.maximum(np.abs(self.values), 1e-300) / mid))

    def _fallen(self) -> NDArray[np.bool_]:
        return np.asarray(self.decibels() < HALF_POWER_DB)

    def _crossing(self, fallen: int, held: int) -> float:
        """Between a point that has fallen and its neighbour that has not, in dB over log f."""
        level, known = self.decibels(), np.log(self.frequencies)
        share = (HALF_POWER_DB - level[fallen]) / (level[held] - level[fallen])
        return float(np.exp(known[fallen] + share * (known[held] - known[fallen])))


def ratio(over: Sweep, under: Sweep) -> Sweep:
    """One sweep over another, on the same frequencies; 0 where the lower one is nothing."""
    safe = np.where(np.abs(under.values) > NOTHING**2, under.values, np.inf)
    return Sweep(over.frequencies, np.asarray(over.values / safe))
