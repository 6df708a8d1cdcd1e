"""A decade lost in the divider that lifts a heater line: the lift is far from any that is used."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.lift_network import CENTRE_OHMS, lift_of
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from collections.abc import Container, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.lift_network import Lift
    from coldcheck.circuit.model import Branch, Circuit

USED_V = (25.0, 130.0)
"""Volts heaters are lifted by in most sets (common practice)."""

UPPER_OHMS, LOWER_OHMS = (68e3, 1e6), (15e3, 330e3)
"""Resistors of such dividers, towards the rail and to gnd (common practice)."""

DECADES = (10.0, 0.1)


def lift_decades(case: Case, sections: Container[str]) -> Iterator[tuple[Branch, float]]:
    """Resistors of lift dividers, each with the factor that makes the lift a usual one.

    Only those of lines that heat one of ``sections``, and where the lift is not usual as it is.
    """
    for line in heater_lines(case.circuit):
        heats = any(s.name in sections for t in line.tubes for s in t.sections)
        lift = lift_of(case.circuit, line) if heats else None
        rail = None if lift is None else warm_volts(case, lift.rail)
        if lift is None or rail is None:
            continue
        lower, upper = _below(case.circuit, lift), list(lift.upper)
        if lower and not _usual(rail, _ohms(upper), _ohms(lower)):
            yield from _turned(rail, upper, lower)


def _turned(
    rail: float, upper: list[Branch], lower: list[Branch]
) -> Iterator[tuple[Branch, float]]:
    for side, found in ((upper, UPPER_OHMS), (lower, LOWER_OHMS)):
        for part in side:
            for factor in DECADES:
                value = part.ohms or 0.0
                more = (factor - 1.0) * value
                high, low = ((_ohms(s) + (more if s is side else 0.0)) for s in (upper, lower))
                if _usual(rail, high, low) and found[0] <= factor * value <= found[1]:
                    yield part, factor


def _below(circuit: Circuit, lift: Lift) -> list[Branch]:
    """The one resistor from the line to gnd; none where several share the work."""
    every = [(n, b) for n in sorted(lift.core) for b in circuit.at(n)]
    found = [b for n, b in every if b.kind is PartKind.RESISTOR and b.other(n) == GROUND]
    found = [b for b in found if (b.ohms or 0.0) > CENTRE_OHMS.value]
    return found if len(found) == 1 else []


def _ohms(parts: list[Branch]) -> float:
    return sum(b.ohms or 0.0 for b in parts)


def _usual(rail: float, upper: float, lower: float) -> bool:
    volts = rail * lower / max(upper + lower, 1e-9)
    return USED_V[0] <= volts <= USED_V[1]
