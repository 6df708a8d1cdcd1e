"""Preferred values of parts: the series of IEC 60063."""

from __future__ import annotations

E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)  # fmt: skip
"""IEC 60063 (memory); E3, E6 and E12 are part of E24. Not round(10^(k/24)): the 27 to 47 and 82 of
the standard differ from it."""


def preferred(number: float) -> float:
    """The nearest E12 value (on a logarithmic scale) to a positive number."""
    return min(_e12_near(number), key=lambda s: max(s / number, number / s))


def preferred_below(number: float) -> float:
    """The largest E12 value that is no more than a positive number, but for rounding."""
    return max(s for s in _e12_near(number) if s <= number * 1.0001)


def preferred_above(number: float) -> float:
    """The smallest E12 value that is no less than a positive number, but for rounding."""
    return min(s for s in _e12_near(number) if s >= number * 0.9999)


def _e12_near(number: float) -> list[float]:
    """The E12 values of the number's decade, and the first of the next."""
    decade = 10.0 ** int(f"{number:e}".partition("e")[2])
    return [s / 10 * decade for s in E12] + [10 * decade]
