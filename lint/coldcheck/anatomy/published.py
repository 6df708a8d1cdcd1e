"""What data sheets have for a place in a circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.ordinary import Place, heated_from_tap, place_of
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred

LEAST_BIAS_V = -3.5
"""Published for output tubes; signal tubes have less (data sheets on file)."""

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube


def published_for(circuit: Circuit, branch: Branch) -> float | None:
    """The published cathode resistor of the output tube that a resistor biases, ohms.

    ``None`` for any other part, and where no sheet on file has one.
    """
    if place_of(circuit, branch) is not Place.POWER_CATHODE:
        return None
    for net in {branch.a, branch.b} - {GROUND}:
        section = next(iter(_biased(circuit, net)), None)
        if section is not None:
            return published_resistor(circuit.tubes[section.tube], section)
    return None


def wants_bias(circuit: Circuit, section: Section) -> bool:
    """Whether every published point of a section has a bias of volts, as output tubes have it.

    True where none is on file: nothing is known against it.
    """
    points = circuit.tubes[section.tube].type.points_of(section.type.name)
    found = [p["grid-voltage"] for p in points if "grid-voltage" in p]
    return all(not isinstance(v, str) and v.value <= LEAST_BIAS_V for v in found)


def _biased(circuit: Circuit, net: str) -> list[Section]:
    """The sections whose cathode, or filament's winding, is on a net."""
    straight = [s for s in circuit.sections() if s.kind.amplifies and net in s.cathode_nets]
    return [*straight, *heated_from_tap(circuit, net)]


def published_resistor(tube: Tube, section: Section) -> float | None:
    """The cathode resistor of the first published point that has one, or its bias over current."""
    for point in tube.type.points_of(section.type.name):
        value, grid = point.get("cathode-resistor"), point.get("grid-voltage")
        plate = point.get("plate-current")
        if value is not None and not isinstance(value, str):
            return value.value
        if not (grid is None or plate is None or isinstance(grid, str) or isinstance(plate, str)):
            each = preferred(abs(grid.value) / plate.value) if grid.value < 0 < plate.value else 0.0
            if each:
                return each
    return None
