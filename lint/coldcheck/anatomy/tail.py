"""Stages whose cathode stands on a bias resistor and a larger tail below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section


def feet(circuit: Circuit, section: Section) -> Iterator[str]:
    """Names of the points between a section's bias resistor and a larger tail to gnd."""
    cathode = section.cathode_nets[0]
    for bias in circuit.at(cathode) if cathode not in LANDMARKS else ():
        foot = bias.other(cathode)
        if foot in LANDMARKS or not circuit.names.get(foot):
            continue
        if any(b.other(foot) == GROUND and _larger(b, bias) for b in circuit.at(foot)):
            yield circuit.names[foot][0]


def leaks_past_a_tail(circuit: Circuit, section: Section) -> Iterator[tuple[Branch, str]]:
    """The resistors from a section's grid to gnd, each with the foot it belongs on.

    A leak on gnd leaves the grid there while the tail lifts the cathode: the stage is cut off.
    """
    grid = section.net("grid")
    for leak in circuit.at(grid) if grid not in (None, *LANDMARKS) else ():
        if leak.kind is PartKind.RESISTOR and leak.other(grid or "") == GROUND:
            yield from ((leak, foot) for foot in feet(circuit, section))


def _larger(one: Branch, other: Branch) -> bool:
    """Whether both are resistors with values, and the first is the larger."""
    values = [si(b.value, "ohm") for b in (one, other) if b.kind is PartKind.RESISTOR]
    known = [v for v in values if v is not None]
    return len(known) == 2 and known[0] > known[1]
