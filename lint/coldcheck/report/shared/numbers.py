"""Figures and margins as the reports print them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import volt_digits
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from coldcheck.judge.figure import Figure

NONE = "–"
"""Stands where there is no figure."""

_CAPITALS = {"dc": "DC", "ac": "AC", "b+": "B+", "gnd": "gnd"}


def evidence_name(name: str) -> str:
    """The words of an evidence's name: ``heater DC`` of ``heater_dc``."""
    return clean(" ".join(_CAPITALS.get(w, w) for w in name.split("_")))


def evidence_value(value: Figure | str) -> str:
    """A figure with its unit, or the text it is."""
    return clean(value) if isinstance(value, str) else value.text()


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
    return NONE if number is None else volt_digits(number)
