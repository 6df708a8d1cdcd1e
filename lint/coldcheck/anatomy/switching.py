"""Stages that are either on or off by design: triggers, and tubes that work a relay."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Section


def switches(circuit: Circuit, section: Section) -> bool:
    """Whether a stage has a relay's coil in its plate, or is a half of a trigger.

    Of a trigger the plate of one half leads by resistors to the grid of another, and the two share
    their cathode or each leads to the other.
    """
    return _works_a_relay(circuit, section) or any(
        _leads_to(circuit, one, two) and (_shared(one, two) or _leads_to(circuit, two, one))
        for other in circuit.sections()
        if other.kind.amplifies and other.name != section.name
        for one, two in ((section, other), (other, section))
    )


def _works_a_relay(circuit: Circuit, section: Section) -> bool:
    plate = section.net("plate")
    if plate is None or plate in LANDMARKS:
        return False
    near = {plate, *(b.other(plate) for b in resistors_at(circuit, plate))} - set(LANDMARKS)
    near -= stiff_nets(circuit)  # a coil hangs on its supply as well
    return any(b.kind is PartKind.RELAY for n in near for b in circuit.at(n))


def _shared(one: Section, other: Section) -> bool:
    return bool(set(one.cathode_nets) & set(other.cathode_nets) - set(LANDMARKS))


def _leads_to(circuit: Circuit, one: Section, other: Section) -> bool:
    """Whether a resistor, and a stopper behind it at most, leads from a plate to a grid."""
    plate, grid = one.net("plate"), other.net("grid")
    if plate is None or grid is None or {plate, grid} & set(LANDMARKS):
        return False
    near = {b.other(grid) for b in resistors_at(circuit, grid)}
    behind = {b.other(n) for n in near - set(LANDMARKS) for b in resistors_at(circuit, n)}
    return plate in near or (plate in behind and len(near) == 1)
