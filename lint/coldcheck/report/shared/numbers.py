"""Numbers of a finding's evidence, with the unit their names imply.

Evidence is stored as plain numbers under names such as ``peak`` or ``plate_ma``; the unit is a
suffix of the name, or follows from a word in it, or from the other numbers it stands beside.
"""

from __future__ import annotations

from math import isclose, isfinite
from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Mapping

# suffix of the evidence's name -> (factor to SI, SI symbol)
_SUFFIXES = {
    "v": (1.0, "V"),
    "volt": (1.0, "V"),
    "volts": (1.0, "V"),
    "mv": (1e-3, "V"),
    "a": (1.0, "A"),
    "amp": (1.0, "A"),
    "amps": (1.0, "A"),
    "ma": (1e-3, "A"),
    "ua": (1e-6, "A"),
    "w": (1.0, "W"),
    "watt": (1.0, "W"),
    "watts": (1.0, "W"),
    "va": (1.0, "VA"),
    "ohm": (1.0, "ohm"),
    "ohms": (1.0, "ohm"),
    "kohm": (1e3, "ohm"),
    "s": (1.0, "s"),
    "seconds": (1.0, "s"),
    "ms": (1e-3, "s"),
    "hz": (1.0, "Hz"),
    "f": (1.0, "F"),
    "uf": (1e-6, "F"),
    "nf": (1e-9, "F"),
    "h": (1.0, "H"),
    "j": (1.0, "J"),
    "joule": (1.0, "J"),
    "joules": (1.0, "J"),
    "percent": (1.0, "%"),
    "siemens": (1.0, "S"),
}

_DUST = {"V": 1e-6, "A": 1e-9}
"""What is left of a zero by rounding, or below what the laws of the tubes are good for."""

# word anywhere in the name -> SI symbol; the first that matches wins
_WORDS = {
    "current": "A",
    "resistance": "ohm",
    "dissipation": "W",
    "power": "W",
    "time": "s",
    "capacitance": "F",
    "energy": "J",
    "frequency": "Hz",
    "voltage": "V",
    "volts": "V",
    "emf": "V",
    "dc": "V",
    "peak": "V",
    "rms": "V",
}

# names of pure numbers, which borrow no unit from their neighbours
_COUNTS = frozenset({"count", "ratio", "share", "factor", "paths", "number", "tubes", "parts"})

_CAPITALS = {"dc": "DC", "ac": "AC", "b+": "B+"}


def split_name(name: str) -> tuple[str, float, str | None]:
    """Split an evidence name into words to print, the factor to SI, and the unit (if it says)."""
    words = name.split("_")
    factor, unit = 1.0, None
    if len(words) > 1 and words[-1].lower() in _SUFFIXES:
        factor, unit = _SUFFIXES[words.pop().lower()]
    elif not _COUNTS.intersection(words):
        unit = next((u for w, u in _WORDS.items() if w in words), None)
    else:
        unit = ""
    return " ".join(_CAPITALS.get(w, w) for w in words), factor, unit


def common_unit(evidence: Mapping[str, float | str], rule: str, excess: float = 1.0) -> str:
    """The unit of numbers whose name gives none, such as ``limit``.

    It is the unit of the number that is ``excess`` times the limit; else the one unit all the
    others share; failing that, the one the rule is about.
    """
    numbers = {name: value for name, value in evidence.items() if not isinstance(value, str)}
    limit = numbers.get("limit", 0.0)
    units = {name: unit for name in numbers if (unit := split_name(name)[2])}
    for name, unit in units.items():
        if limit and isclose(numbers[name] * split_name(name)[1] / limit, excess, rel_tol=0.01):
            return unit
    if len(set(units.values())) == 1:
        return next(iter(units.values()))
    defect = rule.partition(".")[2].replace("-", " ").split()
    hints = {**_WORDS, "stress": "V", "overload": "A", "leak": "ohm"}
    return next((u for w, u in hints.items() if w in defect), "")


def evidence_text(name: str, value: float | str, fallback: str) -> tuple[str, str]:
    """Return the words of an evidence's name and its value with the unit."""
    words, factor, unit = split_name(name)
    if isinstance(value, str):
        return clean(words), clean(value)
    if not isfinite(value):
        return clean(words), "no number"
    symbol = fallback if unit is None else unit
    size = float(value) * factor
    if abs(size) < _DUST.get(symbol, 0.0):
        size = 0.0
    return clean(words), engineering(size, symbol, 4)


def margin_text(excess: float) -> str:
    """Say how a value stands to its limit; empty where there is nothing to say."""
    if excess >= 100:
        return "far beyond the limit"
    if excess >= 2:
        return f"{excess:.3g} times the limit"
    if excess > 1.0005:
        return f"{_percent(excess - 1)} beyond the limit"
    if excess < 0.9995:
        return f"{_percent(1 - excess)} inside the limit"
    return ""


def _percent(fraction: float) -> str:
    return f"{fraction * 100:.2g} %" if fraction < 0.1 else f"{fraction * 100:.0f} %"


def volts(number: float | None) -> str:
    """A voltage for a table column: one decimal below 100 V, none above 1000 V."""
    if number is None:
        return "–"
    size = abs(number)
    text = f"{number:.{2 if size < 10 else 1 if size < 1000 else 0}f}"
    return text.removeprefix("-") if float(text) == 0 else text
