"""One mains cycle of a voltage, a current or a power; and the same along a sweep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.drawing.units import engineering
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

__all__ = ["Curve", "Reading"]

LEAST = 5e-12
"""What is shown as 0: less than any figure or value of a drawing, more than rounding leaves."""


def unsure() -> float:
    """For what has no range."""
    return float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """A voltage, a current or a power over one mains cycle.

    samples
        Its instants, equally spaced over the cycle, (N,), in ``unit``; one where nothing is AC.
    unit
        ``V``, ``A`` or ``W``.
    frequency
        Of the mains, hertz.
    """

    samples: Array
    unit: str
    frequency: float
    _off: Callable[[], float] = unsure

    @property
    def seconds(self) -> Array:
        """When each of the samples is, from the start of the cycle, (N,)."""
        n = len(self.samples)
        return np.arange(n) / (n * self.frequency)

    @property
    def dc(self) -> float:
        """The mean: what a DC meter shows. Of a power, what becomes heat."""
        return float(self.samples.mean())

    @property
    def ac_rms(self) -> float:
        """The rms of what is left when the DC is taken out."""
        return float(self.samples.std())

    @property
    def rms(self) -> float:
        """DC and AC together."""
        return float(np.sqrt((self.samples**2).mean()))

    @property
    def low(self) -> float:
        """The lowest instant."""
        return float(self.samples.min())

    @property
    def high(self) -> float:
        """The highest instant."""
        return float(self.samples.max())

    @property
    def range(self) -> Array:
        """Between what the DC is in most copies, (2,), as parts, tubes and the mains spread.

        Worked out when asked for; NaN for currents and powers of parts, and where a circuit is too
        large for it.
        """
        off = self._off()
        return np.array([self.dc - off, self.dc + off])

    def __repr__(self) -> str:
        dc = f"{self._told(self.dc, 4)} DC"
        if len(self.samples) == 1:
            return f"<{dc}>"
        ends = f"{self._told(self.low)} to {self._told(self.high)}"
        return f"<{dc}, {self._told(self.ac_rms)} AC rms, {ends}>"

    def _told(self, number: float, digits: int = 3) -> str:
        return engineering(number if abs(number) > LEAST else 0.0, self.unit, digits)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A voltage, a current or a power at each of the K values of a sweep; NaN where not solved.

    unit
        ``V``, ``A`` or ``W``.
    """

    unit: str
    _readings: tuple[Reading | None, ...]

    @property
    def samples(self) -> Array:
        """The waveforms, (K, N)."""
        instants = max((len(r.samples) for r in self._readings if r is not None), default=1)
        nothing = np.full(instants, np.nan)
        return np.stack([nothing if r is None else r.samples for r in self._readings])

    @property
    def dc(self) -> Array:
        """The means, (K,)."""
        return self._each(lambda r: r.dc)

    @property
    def ac_rms(self) -> Array:
        """The rms of what is left when the DC is taken out, (K,)."""
        return self._each(lambda r: r.ac_rms)

    @property
    def rms(self) -> Array:
        """DC and AC together, (K,)."""
        return self._each(lambda r: r.rms)

    @property
    def low(self) -> Array:
        """The lowest instants, (K,)."""
        return self._each(lambda r: r.low)

    @property
    def high(self) -> Array:
        """The highest instants, (K,)."""
        return self._each(lambda r: r.high)

    @property
    def range(self) -> Array:
        """The range of the DC at each value, (K, 2); each of them costs a solution of its own."""
        nothing = np.full(2, np.nan)
        return np.stack([nothing if r is None else r.range for r in self._readings])

    def _each(self, figure: Callable[[Reading], float]) -> Array:
        return np.array([np.nan if r is None else figure(r) for r in self._readings])
