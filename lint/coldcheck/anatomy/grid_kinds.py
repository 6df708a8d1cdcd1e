"""What a grid's circuit is: how its bias is made, and the resistance its current flows through."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import ohms_between, regulated, sources_shorted
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import GROUND, Branch
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Section, Tube

SENSE_OHMS = Threshold("cathode resistor that only measures current", 20.0, "ohm", PRACTICE)
"""A cathode resistor below this measures current; it makes no bias (common practice)."""

GRID_LEAK_OHMS = Threshold("least leak of a stage with grid-leak bias", 1e6, "ohm", PRACTICE)
SMALL_WATTS = Threshold("plate dissipation below which a tube is small", 5.0, "W", PRACTICE)
"""Grid-leak bias: a small tube, its cathode on gnd, and a leak from a megohm up."""

POWER_WATTS = Threshold(
    "plate dissipation from which a tube is an output tube",
    5.5,
    "W",
    Citation("type-sheet", "50C5; a 6SN7GTB has 5 W a section"),
)
"""Plate dissipation from which a tube is an output tube (50C5; a 6SN7GTB has 5 W a section)."""


def bias_kind(circuit: Circuit, section: Section) -> str:
    """``cathode``, ``fixed`` or ``grid-leak``: how the drawing makes the bias."""
    net = section.cathode_nets[0]
    below = ohms_between(around(circuit, net), net)
    if below is None or below > SENSE_OHMS.value:
        return "cathode"
    leak = grid_ohms(circuit, section)
    small = is_small(circuit.tubes[section.tube], section)
    if small and leak is not None and leak >= GRID_LEAK_OHMS.value:
        return "grid-leak"
    return "fixed"


def is_small(tube: Tube, section: Section) -> bool:
    """Whether the plate dissipation on file is that of a small tube."""
    power = tube.type.rating("plate-dissipation", section.type.name)
    return power is not None and power.value < SMALL_WATTS.value


def is_power_tube(tube: Tube, section: Section) -> bool:
    """Whether the plate dissipation on file is that of an output tube."""
    power = tube.type.rating("plate-dissipation", section.type.name)
    return power is not None and power.value >= POWER_WATTS.value


def grid_ohms(circuit: Circuit, section: Section) -> float | None:
    """What gas current has to flow through: the DC resistance from the grid to gnd, ohms.

    Grids of other tubes that share a part of the path send their current through it too: with
    R_i and R_j to gnd and R_ij between two grids they share (R_i + R_j - R_ij) / 2 (the
    resistance distance; Klein and Randic 1993, from memory), which is added for each of them.
    """
    net = section.electrodes["grid"]
    near = _gas_shorted(circuit, around(circuit, net))
    own = ohms_between(near, net)
    if own is None:
        return None
    return own + sum(_shared(near, net, own, far) for far in _fellow_grids(near, section))


def _gas_shorted(circuit: Circuit, near: Circuit) -> Circuit:
    """The surroundings of a net with what gas regulators hold joined to gnd."""
    held = sorted(regulated(circuit) & set(near.graph) - {GROUND})
    if not held:
        return near
    span = circuit.span(GROUND)
    gas = {f"{n} to gnd": Branch(f"{n} to gnd", PartKind.FUSE, n, GROUND, n, span) for n in held}
    graph = circuit.graph.subgraph({*near.graph, GROUND})
    return replace(near, graph=graph, branches={**near.branches, **gas})


@once
def around(circuit: Circuit, net: str) -> Circuit:
    """The part of the circuit that direct current from a net flows through on its way to gnd."""
    nets = frozenset(reach(circuit, [net], (GROUND,), (PartKind.SOURCE,)))
    # In the order of the drawing: sums in another order differ in their last digit.
    local = {n: b for n, b in circuit.branches.items() if {GROUND} != {b.a, b.b} <= nets}
    return sources_shorted(replace(circuit, graph=circuit.graph.subgraph(nets), branches=local))


def _fellow_grids(near: Circuit, section: Section) -> list[str]:
    """The nets of the grids of other sections of the same type nearby, one entry a grid."""
    kind, nets = near.tubes[section.tube].type.name, frozenset(near.graph)
    return [
        other.electrodes["grid"]
        for other in near.sections()
        if other.electrodes.get("grid") in nets
        and near.tubes[other.tube].type.name == kind
        and other.name != section.name
    ]


def _shared(circuit: Circuit, net: str, own: float, far: str) -> float:
    theirs, between = ohms_between(circuit, far), ohms_between(circuit, net, far)
    if theirs is None or between is None or inf in (own, theirs, between):
        return 0.0
    return max((own + theirs - between) / 2, 0.0)
