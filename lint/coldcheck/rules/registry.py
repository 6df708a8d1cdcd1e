"""Every rule there is, listed by hand; a test compares the list with the folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.rules import (
    capacitor,
    drawing,
    grid,
    heater,
    intent,
    mains,
    output,
    resistor,
    signal,
    supply,
    tube,
)

if TYPE_CHECKING:
    from coldcheck.rules.model import Rule

FAMILIES = (heater, supply, capacitor, resistor, grid, tube, output, signal, mains, drawing, intent)

RULES: tuple[Rule, ...] = tuple(r for family in FAMILIES for r in family.RULES)


def rule_by_id(identifier: str) -> Rule:
    """Return the rule; raises KeyError for an unknown identifier."""
    return {r.id: r for r in RULES}[identifier]
