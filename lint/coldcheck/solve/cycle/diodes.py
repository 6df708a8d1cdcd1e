"""Two-terminal nonlinear parts: each a curve v(i) that only conducts one way, or a zener's two.

They are solved in the variable ``w = v + r i`` with a scale resistance ``r``: along ``w`` both
``v`` and ``i`` move monotonically with slopes between 0 and 1, so Newton's method never sees the
exponential's cliff (the wave variable of wave-digital filters: Fettweis, Proc. IEEE 74, 1986).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]
    Curved = tuple[Array, Array, Array, Array]

SILICON_IS, SILICON_NVT, SILICON_RS = 3.9e-9, 0.0465, 0.03
"""A 1 A silicon rectifier: 0.72 V at 20 mA, 0.93 V at 1 A (typical curve; from memory)."""

NEWTON_STEPS = 40


class Curve(Protocol):
    """A two-terminal law.

    ``solve(w, r)``: w of shape (N,) volts, r ohms > 0; returns ``v, i, dv/dw, di/dw``, each (N,).
    """

    def solve(self, w: Array, r: float) -> Curved:
        """Voltage, current and their slopes along ``w``."""
        ...


def _pack(w: Array, on: Mask, v: Array, i: Array, slope: Array, r: float) -> Curved:
    """Fill in the blocking part: all of ``w`` is voltage. ``slope`` is dv/di where on."""
    dv, di = np.ones_like(w), np.zeros_like(w)
    volts, amps = w.copy(), np.zeros_like(w)
    volts[on], amps[on] = v, i
    dv[on], di[on] = slope / (slope + r), 1 / (slope + r)
    return volts, amps, dv, di


@dataclass(frozen=True, slots=True)
class Thermionic:
    """i = k v^1.5 for v > 0 (Child's law), k in A/V^1.5."""

    k: float

    def solve(self, w: Array, r: float) -> Curved:
        """See :class:`Curve`."""
        on = w > 0
        x = w[on]
        v = np.minimum(x, (x / (r * self.k)) ** (2 / 3))
        for _ in range(NEWTON_STEPS):
            step = (v + r * self.k * v**1.5 - x) / (1 + 1.5 * r * self.k * np.sqrt(v))
            v = np.maximum(v - step, 0.0)
            if not x.size or np.abs(step).max() < 1e-13 * (1 + np.abs(x).max()):
                break
        slope = 1 / np.maximum(1.5 * self.k * np.sqrt(v), 1e-12)
        return _pack(w, on, v, self.k * v**1.5, slope, r)


@dataclass(frozen=True, slots=True)
class Junction:
    """v = n Vt ln(1 + i/Is) + Rs i for i > 0; nothing in reverse (Shockley's equation)."""

    saturation: float = SILICON_IS
    nvt: float = SILICON_NVT
    series: float = SILICON_RS

    def solve(self, w: Array, r: float) -> Curved:
        """See :class:`Curve`."""
        on = w > 0
        x, scale = w[on], (self.series + r) * self.saturation
        u = np.minimum(x / self.nvt, np.log1p(x / scale))
        for _ in range(NEWTON_STEPS):
            rise = np.exp(u)
            step = (self.nvt * u + scale * (rise - 1) - x) / (self.nvt + scale * rise)
            u = u - step
            if not x.size or np.abs(step).max() < 1e-14 * (1 + np.abs(u).max()):
                break
        rise = np.exp(u)
        i = self.saturation * (rise - 1)
        slope = self.nvt / (self.saturation * rise) + self.series
        return _pack(w, on, self.nvt * u + self.series * i, i, slope, r)


@dataclass(frozen=True, slots=True)
class Threshold:
    """Conducts above ``start`` volts with a slope of ``ohms``: a lit gas tube, an LED."""

    start: float
    ohms: float

    def solve(self, w: Array, r: float) -> Curved:
        """See :class:`Curve`."""
        on = w > self.start
        i = (w[on] - self.start) / (self.ohms + r)
        slope = np.full_like(i, self.ohms)
        return _pack(w, on, self.start + self.ohms * i, i, slope, r)


@dataclass(frozen=True, slots=True)
class Glow:
    """A struck neon: beyond ``volts`` it conducts with ``ohms``, either way."""

    volts: float
    ohms: float

    def solve(self, w: Array, r: float) -> Curved:
        """See :class:`Curve`."""
        v, i, dv, di = Threshold(self.volts, self.ohms).solve(np.abs(w), r)
        way = np.where(w < 0, -1.0, 1.0)
        return way * v, way * i, dv, di


@dataclass(frozen=True, slots=True)
class Zener:
    """A junction forwards; in reverse it conducts beyond ``volts`` with ``ohms``."""

    volts: float
    ohms: float

    def solve(self, w: Array, r: float) -> Curved:
        """See :class:`Curve`."""
        v, i, dv, di = Junction().solve(w, r)
        back = Threshold(self.volts, self.ohms).solve(-w, r)
        reverse = w < 0
        v[reverse], i[reverse] = -back[0][reverse], -back[1][reverse]
        dv[reverse], di[reverse] = back[2][reverse], back[3][reverse]
        return v, i, dv, di


@dataclass(frozen=True, slots=True)
class Open:
    """A part that does not conduct: an unlit gas tube, a cold cathode."""

    def solve(self, w: Array, r: float) -> Curved:  # noqa: ARG002 - same shape as all
        """See :class:`Curve`."""
        nothing = np.zeros(0)
        return _pack(w, np.zeros_like(w, dtype=bool), nothing, nothing, nothing, 1.0)
