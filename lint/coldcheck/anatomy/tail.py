"""Stages whose cathode is lifted: by a tail below its bias resistor, or a pair's other half."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import own_text, resistors_at
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import negative_lines
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

LOAD_OHM = 5e3
"""A cathode resistor from here on is a load or a tail, and none that only makes a bias."""

STOPPER_OHM = 100e3
"""No current flows in a grid: behind as much it still stands where its wire leads."""


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
    """The resistors from a section's grid to gnd, each with the point it belongs on.

    A leak on gnd leaves the grid there while the tail lifts the cathode: the stage is cut off.
    That point is the foot of the bias resistor, or the grid of a pair's other half where a plate
    holds that one.
    """
    grid = section.net("grid")
    if grid is None or grid in LANDMARKS:
        return
    for leak in resistors_at(circuit, grid):
        if leak.other(grid) == GROUND:
            yield from ((leak, p) for p in (*feet(circuit, section), *_partners(circuit, section)))


def feet_off_the_line(circuit: Circuit, section: Section) -> Iterator[tuple[Branch, str]]:
    """A cathode's load on gnd, with the negative line it belongs on: the grid is biased from there.

    The line that the other side's load of that value is on, else the only one that holds the grid.
    """
    cathode, grid = section.cathode_nets[0], section.net("grid")
    loads = [b for b in resistors_at(circuit, cathode) if b.other(cathode) == GROUND]
    if grid is None or cathode in LANDMARKS or len(loads) != 1:
        return
    if (si(loads[0].value, "ohm") or 0.0) < LOAD_OHM:
        return
    held = set(reach(circuit, [grid], LANDMARKS)) - set(LANDMARKS)
    lines = [n for n in negative_lines(circuit) if n in held]
    fellows = {b.other(n) for s in circuit.sections() for n in s.cathode_nets
               for b in resistors_at(circuit, n) if b.value == loads[0].value}  # fmt: skip
    wanted = [n for n in lines if n in fellows] or (lines if len(lines) == 1 else [])
    yield from ((loads[0], own_text(circuit, net)) for net in wanted[:1])


def _partners(circuit: Circuit, section: Section) -> Iterator[str]:
    """The grids on the same tail, of a stage with another plate, that a plate holds up."""
    own = section.net("grid")
    for other, electrode in circuit.electrodes_at(section.cathode_nets[0]):
        grid = other.net("grid")
        paired = electrode == "cathode" and other.net("plate") != section.net("plate")
        if grid not in (None, own) and paired and _on_a_plate(circuit, grid or ""):
            yield f"{other.name}.grid"


def _on_a_plate(circuit: Circuit, grid: str) -> bool:
    """Whether a plate is on a grid, straight or behind its stopper."""
    stoppers = resistors_at(circuit, grid)
    near = {b.other(grid) for b in stoppers if (b.ohms or 0.0) <= STOPPER_OHM}
    return any(e == "plate" for n in {grid, *near} - set(LANDMARKS)
               for _, e in circuit.electrodes_at(n))  # fmt: skip


def _larger(one: Branch, other: Branch) -> bool:
    """Whether both are resistors with values, and the first is the larger."""
    values = [b.ohms for b in (one, other) if b.kind is PartKind.RESISTOR]
    known = [v for v in values if v is not None]
    return len(known) == 2 and known[0] > known[1]
