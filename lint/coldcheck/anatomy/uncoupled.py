"""A grid that gets the direct voltage of a plate before it, where a capacitor was to stand."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import Solution

NEAR_GND_V = 20.0
"""A cathode that is no further from gnd has bias of its own, and is not lifted for a plate."""

LIFTS_OHMS = 10e3
"""A cathode resistor from here on is a load: that of a follower, or of a directly coupled stage."""


def uncoupled(
    case: Case, solution: Solution, section: Section
) -> tuple[str, tuple[Branch, ...]] | None:
    """A plate by name, and the resistors from it to a grid that returns to gnd.

    ``None`` where the stage is made to be coupled directly: its cathode is lifted, or its grid has
    no leak of its own to gnd; and where no resistor stands between plate and grid.
    """
    circuit, grid = case.circuit, section.electrodes["grid"]
    cathode = solution.waves.get(section.cathode_nets[0])
    lifted = cathode is None or cathode.dc > NEAR_GND_V or _on_a_load(circuit, section)
    if lifted or GROUND not in {b.other(grid) for b in resistors_at(circuit, grid)}:
        return None
    graph = _resistors(circuit)
    for other in circuit.sections():
        plate = other.net("plate")
        at = None if plate is None else solution.waves.get(plate)
        if plate in (None, grid) or other.name == section.name or plate not in graph:
            continue
        if at is None or at.dc < NEAR_GND_V or grid not in graph:
            continue
        if nx.has_path(graph, plate, grid):
            way = nx.shortest_path(graph, plate, grid)
            parts = [graph.edges[a, b]["branch"] for a, b in pairwise(way)]
            return f"{other.name}.plate", tuple(parts)
    return None


def _on_a_load(circuit: Circuit, section: Section) -> bool:
    """Whether a cathode stands on more than a bias resistor."""
    at = resistors_at(circuit, section.cathode_nets[0])
    return any(b.value is not None and b.value.m_as("ohm") >= LIFTS_OHMS for b in at)


def _resistors(circuit: Circuit) -> nx.Graph[str]:
    """The nets that resistors and pots join, without those that hold still."""
    graph: nx.Graph[str] = nx.Graph()
    still = still_nets(circuit) | set(LANDMARKS)
    for branch in circuit.branches.values():
        if branch.kind in (PartKind.RESISTOR, PartKind.POT) and not {branch.a, branch.b} & still:
            graph.add_edge(branch.a, branch.b, branch=branch)
    return graph
