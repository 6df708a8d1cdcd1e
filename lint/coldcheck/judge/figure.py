"""A figure: a value and its unit, never a bare number whose unit is guessed from its name."""

from __future__ import annotations

from math import isfinite
from typing import Literal, TypeAlias, get_args

from coldcheck.drawing.units import engineering
from coldcheck.records import dataclass

Symbol: TypeAlias = Literal["V", "A", "W", "VA", "ohm", "s", "Hz", "F", "H", "J", "%", "S", ""]
"""The units a figure has, by the symbol the reports print; empty for a plain ratio or a count."""

SYMBOLS: frozenset[Symbol] = frozenset(get_args(Symbol))

Scaled: TypeAlias = Symbol | Literal["mV", "mA", "uA", "kohm", "ms", "uF", "nF"]
"""The units a figure may be given in."""

_SCALES: dict[Scaled, tuple[float, Symbol]] = {
    "mV": (1e-3, "V"),
    "mA": (1e-3, "A"),
    "uA": (1e-6, "A"),
    "kohm": (1e3, "ohm"),
    "ms": (1e-3, "s"),
    "uF": (1e-6, "F"),
    "nF": (1e-9, "F"),
}
_PLAIN: dict[Scaled, Symbol] = {symbol: symbol for symbol in SYMBOLS}

_DUST = {"V": 1e-6, "A": 1e-9}
"""What is left of a zero by rounding, or below what the laws of the tubes are good for."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value in the plain unit whose symbol stands beside it: volts, not millivolts."""

    value: float
    unit: Symbol

    def text(self, digits: int = 4) -> str:
        """With a prefix: ``44.8 mA``; ``no number`` for what is not finite."""
        if not isfinite(self.value):
            return "no number"
        dust = abs(self.value) < _DUST.get(self.unit, 0.0)
        return engineering(0.0 if dust else self.value, self.unit, digits)


def figure(value: float, unit: Scaled) -> Figure:
    """A figure given in a unit that may have a prefix: ``figure(44.8, "mA")`` is 0.0448 A."""
    if unit in _SCALES:
        scale, plain = _SCALES[unit]
        return Figure(float(value) * scale, plain)
    return Figure(float(value), _PLAIN[unit])
