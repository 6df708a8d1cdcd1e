"""A slip that could be behind findings."""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.drawing.model import Drawing, Span


class Likely(IntEnum):
    """How likely a slip is before anything is worked out (common practice)."""

    SELDOM = 1
    """A lead drawn to another point, a decade between two ordinary values."""
    AT_TIMES = 2
    """A decade where nothing is known of what is ordinary."""
    COMMON = 3
    """Two leads exchanged, an end left loose."""
    USUAL = 4
    """A part turned round, neighbouring pins exchanged, a value that is odd in its place."""
    PLAIN = 5
    """A value that is odd in its place, and ordinary with the decade put right."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """One slip, and the drawing with it undone.

    at
        The thing to change, the main one first.
    found, meant
        What is drawn, and what is tried instead: ``R3 is 18 ohm``, ``with 180 ohm``.
    steps
        How many parts it is from the places of the findings.
    redrawn
        Makes the drawing with the slip undone.
    decade
        It is a decade, or a k, in the value of a part.
    """

    at: tuple[str, ...]
    span: Span
    found: str
    meant: str
    remedy: str
    likely: Likely
    steps: int
    redrawn: Callable[[], Drawing]
    decade: bool = False
