"""How many pins a base has, by the word its name begins with."""

from __future__ import annotations

_SOCKETS = (
    *(("octal", 8), ("loctal", 8), ("rimlock", 8), ("noval", 9), ("magnoval", 9), ("novar", 9)),
    *(("7-pin", 7), ("6-pin", 6), ("UX5", 5), ("UY5", 5), ("5-pin", 5), ("UX4", 4), ("4-pin", 4)),
)


def pins_of_base(base: str) -> int:
    """The number of pins, or 0 where the name says nothing of it."""
    return next((n for word, n in _SOCKETS if base.startswith(word)), 0)


_GAPPED = ("noval", "magnoval", "novar", "7-pin")
"""Bases of miniature tubes: pins of a ring with one place left empty (memory)."""


def closed_ring(base: str) -> bool:
    """Whether the last pin is as near to the first as to the one before."""
    return not base.startswith(_GAPPED)
