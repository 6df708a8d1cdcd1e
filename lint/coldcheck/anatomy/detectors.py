"""Diodes that detect: of their own, in a tube of their own, or beside a triode or pentode."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Section

BESIDE = ("diode1", "diode2", "diode3")
"""The plates of diodes that share the cathode of a triode or pentode."""


@dataclass(frozen=True, slots=True)
class Diode:
    """A diode: what a report calls it, and the nets of its plate and cathode."""

    name: str
    plate: str
    cathode: str


def diodes(circuit: Circuit) -> Iterator[Diode]:
    """Diodes with a cathode of their own, of tubes and others."""
    for section in circuit.sections():
        if section.kind is SectionKind.DIODE:
            yield from (Diode(section.name, section.electrodes[p], section.cathode_nets[0])
                        for p in section.plates)  # fmt: skip
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE:
            yield Diode(branch.name, branch.a, branch.b)


def diodes_beside(circuit: Circuit) -> Iterator[tuple[Section, Diode]]:
    """Diodes that share the cathode of a stage, with its section."""
    for section in circuit.sections():
        for lead in BESIDE:
            plate = section.net(lead)
            if plate is not None and section.kind.amplifies:
                name = f"{section.name}.{lead}"
                yield section, Diode(name, plate, section.cathode_nets[0])
