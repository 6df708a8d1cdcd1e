"""Findings by the parts and nets of a picture they are about, numbered as a list has them."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.picture.model import Entry
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding


@dataclass(frozen=True, slots=True)
class Marked:
    """The list of findings, and place (a part, a section, a net) -> its entries there."""

    entries: tuple[Entry, ...] = ()
    at: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)


def marked(circuit: Circuit, findings: Iterable[Finding]) -> Marked:
    """Findings as entries; each stands at the first place it names."""
    entries: list[Entry] = []
    at: dict[str, tuple[Entry, ...]] = {}
    for number, finding in enumerate((f for f in findings if f.accepted is None), 1):
        place = finding.at[0] if finding.at else ""
        entry = Entry(number, finding.level, place, finding.message)
        entries.append(entry)
        for name in _names(circuit, place):
            at[name] = (*at.get(name, ()), entry)
    return Marked(tuple(entries), at)


def _names(circuit: Circuit, place: str) -> tuple[str, ...]:
    """What a place may be called in the picture: itself, its whole, its net."""
    whole = place.partition(":")[0].rpartition(".")[0] or place.partition(":")[0]
    tube = circuit.tubes.get(place)
    sections = (tube.sections[0].name,) if tube is not None else ()
    net = circuit.points.get(place)
    return tuple(dict.fromkeys((place, *sections, whole, *((net,) if net else ()))))
