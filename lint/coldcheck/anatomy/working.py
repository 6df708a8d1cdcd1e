"""Which sections of the tubes are meant to work, and which are put out of the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import amplifiers, wired
from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Section, Tube


def parked(circuit: Circuit, section: Section) -> bool:
    """A spare section put out of the way: grid on its cathode or gnd, the plate unused or there."""
    grid, plate = section.net("grid"), section.net("plate")
    quiet = {GROUND, *section.cathode_nets}
    return grid in quiet and (plate in quiet or not wired(circuit, plate))


def working(circuit: Circuit) -> Iterator[tuple[Tube, Section]]:
    """The sections that are meant to amplify."""
    for tube, section in amplifiers(circuit):
        if not parked(circuit, section):
            yield tube, section
