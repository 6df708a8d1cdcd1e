"""What gives a grid a direct voltage it should not have: a plate, or a supply."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import Solution

NEAR_GND_V = 20.0
"""A cathode that is no further from gnd has bias of its own, and is not lifted for a plate."""

LIFTS_OHMS = 10e3
"""A cathode resistor from here on is a load: that of a follower, or of a directly coupled stage."""


@dataclass(frozen=True, slots=True)
class Raised:
    """A plate or a supply by name, and the resistors from it to a grid, that at the plate first."""

    source: str
    path: tuple[Branch, ...]
    of_plate: bool


def raised(case: Case, solution: Solution, section: Section) -> Raised | None:
    """What raises the grid of a stage that is not made for it.

    ``None`` where the stage is made to be coupled directly (its cathode is lifted), and where no
    resistor stands between the grid and what would raise it.
    """
    cathode = solution.waves.get(section.cathode_nets[0])
    if cathode is None or cathode.dc > NEAR_GND_V or _on_a_load(case.circuit, section):
        return None
    ways = (*_from_plates(case.circuit, section), *_from_supplies(case.circuit, section))
    return next((r for net, r in ways if _high(solution, net)), None)


def _high(solution: Solution, net: str) -> bool:
    wave = solution.waves.get(net)
    return wave is not None and wave.dc > NEAR_GND_V


def _from_plates(circuit: Circuit, section: Section) -> Iterator[tuple[str, Raised]]:
    """Ways from plates to a grid that has a leak to gnd: a capacitor was to stand in each."""
    grid, graph = section.electrodes["grid"], _resistors(circuit)
    if grid not in graph or not _leaks(circuit, nx.node_connected_component(graph, grid)):
        return
    for other in circuit.sections():
        plate = other.net("plate")
        if plate is None or plate == grid or plate not in graph:
            continue
        if nx.has_path(graph, plate, grid):
            way = nx.shortest_path(graph, plate, grid)
            parts = tuple(graph.edges[a, b]["branch"] for a, b in pairwise(way))
            yield plate, Raised(f"{other.name}.plate", parts, of_plate=True)


def _leaks(circuit: Circuit, nets: Collection[str]) -> bool:
    """Whether a resistor or a pot leads one of these nets to gnd."""
    leaks = (PartKind.RESISTOR, PartKind.POT)
    return any(b.kind in leaks and b.other(n) == GROUND for n in nets for b in circuit.at(n))


def _from_supplies(circuit: Circuit, section: Section) -> Iterator[tuple[str, Raised]]:
    """Resistors that lead a grid, by itself or past its stopper, to what feeds plates."""
    grid, still = section.electrodes["grid"], still_nets(circuit)
    stoppers = [b for b in resistors_at(circuit, grid) if b.other(grid) not in still]
    past = [(b.other(grid), (b,)) for b in stoppers]
    for net, stopper in ((grid, ()), *past):
        for branch in resistors_at(circuit, net):
            far = branch.other(net)
            if far in still - {grid} and _feeds(circuit, far):
                yield far, Raised(far, (branch, *stopper), of_plate=False)


def _feeds(circuit: Circuit, net: str) -> bool:
    """Whether a plate gets its current from a net: that of a bias feeds none."""
    reached = set(reach(circuit, [net], LANDMARKS))
    return any(s.net("plate") in reached for s in circuit.sections())


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
