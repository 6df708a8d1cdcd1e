"""Figures and lists as the texts write them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering

if TYPE_CHECKING:
    from collections.abc import Iterable


def volts(number: float) -> str:
    """Three digits, and no millivolts of rounding dust: ``volts(0.01) == "0 V"``."""
    return "0 V" if abs(number) < 0.05 else engineering(number, "V")


def ohms(number: float) -> str:
    """Three digits with a prefix: ``ohms(47000) == "47 kohm"``."""
    return "0 ohm" if number < 1e-3 else engineering(number, "ohm")


def amperes(number: float) -> str:
    """Three digits with a prefix."""
    return engineering(number, "A")


def watts(number: float) -> str:
    """Three digits with a prefix."""
    return engineering(number, "W")


def listed(names: Iterable[str]) -> str:
    """``A``, ``A and B``, ``A, B and C``."""
    all_names = list(dict.fromkeys(names))
    if len(all_names) < 2:
        return "".join(all_names)
    return f"{', '.join(all_names[:-1])} and {all_names[-1]}"


def sentence(text: str) -> str:
    """With a capital."""
    return text[:1].upper() + text[1:]
