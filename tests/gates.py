"""A review with a gate applied to it, for tests of what comes after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.verdict.document.build import document_of
from coldcheck.verdict.ruling import Gate, Ruling, ruled

if TYPE_CHECKING:
    from coldcheck.verdict.review import Review


def at(review: Review, level: str = "notice", *, holds_undecided: bool = True) -> Ruling:
    """The ruling on a review at a level."""
    return ruled(document_of(review), Gate(level, holds_undecided))
