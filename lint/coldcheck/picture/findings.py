"""Findings, or test points, by what of a picture they are about, numbered as a list has them."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.picture.model import Entry
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

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
    for number, finding in numbered(findings):
        place = finding.at[0] if finding.at else ""
        entry = Entry(number, finding.level, place, finding.message)
        entries.append(entry)
        for name in names_of(circuit, place):
            at[name] = (*at.get(name, ()), entry)
    return Marked(tuple(entries), at)


def pointed(nets: Mapping[str, int]) -> Marked:
    """Nets with numbers of their own, which are no findings: the points of a chart."""
    return Marked((), {net: (Entry(number, "", net, ""),) for net, number in nets.items()})


def numbered(findings: Iterable[Finding]) -> Iterator[tuple[int, Finding]]:
    """Findings with the numbers they have in a picture: what was accepted has none."""
    return enumerate((f for f in findings if f.accepted is None), 1)


def names_of(circuit: Circuit, place: str) -> tuple[str, ...]:
    """What a place may be called in the picture: itself, a tube's sections, its whole, its net."""
    whole = place.partition(":")[0].rpartition(".")[0] or place.partition(":")[0]
    tube = circuit.tubes.get(place)
    sections = () if tube is None else tuple(s.name for s in tube.sections)
    heater = () if tube is None else (f"{place} heater",)
    net = circuit.points.get(place)
    return tuple(dict.fromkeys((place, *sections, *heater, whole, *((net,) if net else ()))))
