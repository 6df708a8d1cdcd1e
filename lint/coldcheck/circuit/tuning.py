"""Capacitors that a hand sets: their value is the largest, with the plates fully in."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch

WORDS = frozenset({"variable", "trimmer", "padder", "ganged"})


def adjustable(branch: Branch) -> bool:
    """Whether the drawing calls a part variable, a trimmer, a padder or ganged."""
    return branch.part is not None and bool(WORDS & set(branch.part.words))
