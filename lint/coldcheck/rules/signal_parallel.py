"""Tubes in parallel: each wants a stopper of its own."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes import Sourced
from coldcheck.rules.model import Rule, rule
from coldcheck.rules.places import listed, metal, net_text, ohms, si
from coldcheck.rules.tube import working

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.rules.model import Case, Finding, Outcome

STOPPER_OHM = 100.0
JOINED_OHM = 220.0
"""Plates with at most this between them work as one; small resistors there are stoppers too."""

HARD_SIEMENS = 4e-3
HARD_WATTS = 5.0


@rule(
    "signal.parallel-without-stoppers",
    title="Tubes in parallel without grid stoppers",
    level="notice",
    states="the drawing alone",
    needs="the wiring of plates and grids",
    criterion="Two or more sections of one type have their plates together and less than 100 ohm "
    "between their grids. Advice for small tubes: below 4 mA/V and 5 W.",
    why="The leads between two grids and two plates are a tuned circuit of some hundred megahertz, "
    "and the two tubes an oscillator on it, back to back. It shows as a hot plate, a hoarse tone "
    "or a bias that cannot be set.",
    source="common practice (memory): 100 ohm to 1 kohm at each grid, at the socket",
    limits="Whether it oscillates depends on the wiring, which a drawing does not show. One "
    "stopper before the joined grids is not enough; one in all leads but one is taken as enough.",
)
def parallel_without_stoppers(case: Case) -> Iterator[Outcome]:
    """Group the sections that work as one."""
    graph = metal(case.circuit)
    graph.remove_nodes_from([GROUND])
    parallel: nx.Graph[str] = nx.Graph()
    sections = {s.name: (t, s) for t, s in working(case.circuit)}
    for (tube, one), (fellow, other) in combinations(sections.values(), 2):
        if tube.type.name == fellow.type.name and _together(graph, one, other):
            parallel.add_edge(one.name, other.name)
    for group in nx.connected_components(parallel):
        yield _finding(case, [sections[n] for n in sections if n in group])


def _together(graph: nx.Graph[str], one: Section, other: Section) -> bool:
    """Whether plates are joined, and grids more closely than stoppers would join them."""
    grids, plates = (one.net("grid"), other.net("grid")), (one.net("plate"), other.net("plate"))
    if None in (*grids, *plates) or GROUND in (*grids, *plates) or grids[0] == plates[0]:
        return False
    return _near(graph, plates, JOINED_OHM) and _near(graph, grids, STOPPER_OHM * 0.999)


def _near(graph: nx.Graph[str], ends: tuple[str | None, str | None], most: float) -> bool:
    start, end = ends
    if start == end:
        return True
    if start is None or end is None or start not in graph or end not in graph:
        return False
    return end in nx.single_source_dijkstra_path_length(graph, start, cutoff=most)


def _finding(case: Case, group: list[tuple[Tube, Section]]) -> Finding:
    names = tuple(s.name for _, s in group)
    shared = _shared_resistor(case.circuit, [s for _, s in group])
    grid = net_text(case.circuit, group[0][1].electrodes["grid"])
    each = f" and each cathode {ohms(len(group) * shared[1])} of its own" if shared else ""
    return parallel_without_stoppers.finding(
        case,
        names,
        f"{listed(names)} work in parallel, and their grids are joined at {grid} without a "
        f"resistor in each{f'; {shared[0]} is the bias of all of them' if shared else ''}",
        f"Give each grid 100 ohm to 1 kohm of its own, at the socket{each}",
        level=None if _hard(group[0][0]) else "advice",
        evidence={"limit_ohm": STOPPER_OHM, "in_parallel": float(len(group))},
        certainty="possible",
    )


def _shared_resistor(circuit: Circuit, sections: list[Section]) -> tuple[str, float] | None:
    """The one cathode resistor of all of them, with its ohms: the stronger tube takes the more."""
    nets = {n for s in sections for n in s.cathode_nets}
    if len(nets) != 1 or GROUND in nets:
        return None
    found = [b for b in circuit.at(nets.pop()) if b.kind == "resistor"]
    ohm = si(found[0].value, "ohm") if len(found) == 1 else None
    return (found[0].name, ohm) if ohm else None


def _hard(tube: Tube) -> bool:
    """Whether the type is one that takes off easily: steep, or a power tube."""
    power = tube.type.rating("plate-dissipation")
    slopes = (p.get("transconductance") for p in tube.type.points)
    steep = any(isinstance(s, Sourced) and s.value >= HARD_SIEMENS for s in slopes)
    return steep or (power is not None and power.value >= HARD_WATTS)


RULES: tuple[Rule, ...] = (parallel_without_stoppers,)
