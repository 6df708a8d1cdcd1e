"""Tubes in parallel: each wants a stopper of its own."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import metal, net_text
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes import Sourced
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.signal.coupling import cathode_still
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.judge.finding import Finding, Outcome

STOPPER_OHM = Threshold(
    "least grid stopper of tubes in parallel",
    100.0,
    "ohm",
    Citation("practice", "100 ohm to 1 kohm"),
)
JOINED_OHM = Threshold("resistance within which plates work as one", 220.0, "ohm", PRACTICE)
"""Plates with at most this between them work as one; small resistors there are stoppers too."""

JOINED_GRIDS = Threshold(
    "resistance between the grids of tubes that work as one", 22e3, "ohm",
    Citation("practice", "two stoppers; leaks and mixing resistors are larger"),
)  # fmt: skip

HARD_SIEMENS = Threshold(
    "transconductance from which tubes in parallel need stoppers", 4e-3, "S", PRACTICE
)
ONE_BULB_SIEMENS = 9e-3
"""The same of sections in one bulb, whose leads are short: 12AT7 drive reverb tanks so everywhere
(common practice)."""

HARD_WATTS = Threshold(
    "plate dissipation from which tubes in parallel need stoppers", 5.0, "W", PRACTICE
)


@rule(
    "signal.parallel-without-stoppers",
    title="Tubes in parallel without grid stoppers",
    level="notice",
    states="the drawing alone",
    needs="the wiring of plates and grids",
    criterion="Two or more sections of one type have their plates together and less than 100 ohm "
    "between their grids. Advice for small tubes: below 5 W, and below 4 mA/V, or 9 mA/V "
    "where all are in one bulb.",
    why="The leads between two grids and two plates are a tuned circuit of some hundred megahertz, "
    "and the two tubes an oscillator on it, back to back. It shows as a hot plate, a hoarse tone "
    "or a bias that cannot be set.",
    source=Citation("practice", "100 ohm to 1 kohm at each grid, at the socket"),
    limits="Whether it oscillates depends on the wiring, which a drawing does not show. One "
    "stopper before the joined grids is not enough; one in all leads but one is taken as enough.",
    thresholds=(HARD_SIEMENS, HARD_WATTS, JOINED_OHM, STOPPER_OHM),
)
def parallel_without_stoppers(case: Case) -> Iterator[Outcome]:
    """Group the sections that work as one."""
    graph = metal(case.circuit).copy()
    graph.remove_nodes_from([GROUND])
    parallel: nx.Graph[str] = nx.Graph()
    sections = {s.name: (t, s) for t, s in working(case.circuit) if "plate" in s.electrodes}
    on_plate: dict[str, list[str]] = {}
    for name, (_, section) in sections.items():
        on_plate.setdefault(section.electrodes["plate"], []).append(name)
    for name, (tube, one) in sections.items():
        for net in _around(graph, one.electrodes["plate"], JOINED_OHM.value):
            for other in on_plate.get(net, ()):
                fellow, section = sections[other]
                if (
                    other != name
                    and tube.type.name == fellow.type.name
                    and _driven_alike(graph, one, section)
                ):
                    parallel.add_edge(name, other)
    for group in nx.connected_components(parallel):
        yield _finding(case, [sections[n] for n in sections if n in group])


def _driven_alike(graph: nx.Graph[str], one: Section, other: Section) -> bool:
    """Whether the grids of two sections are joined more closely than stoppers would join them."""
    grid, far = one.net("grid"), other.net("grid")
    if grid is None or far is None or GROUND in (grid, far) or grid == one.net("plate"):
        return False
    return far in _around(graph, grid, STOPPER_OHM.value * 0.999)


def _around(graph: nx.Graph[str], net: str, most: float) -> set[str]:
    """The nets within so many ohms, gnd not crossed."""
    if net not in graph:
        return {net} - {GROUND}
    return set(nx.single_source_dijkstra_path_length(graph, net, cutoff=most))


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
        level=None if _hard(group) else "advice",
        evidence={"in_parallel": figure(len(group), "")},
        limit=STOPPER_OHM.figure,
        certainty="possible",
    )


def _shared_resistor(circuit: Circuit, sections: list[Section]) -> tuple[str, float] | None:
    """The one cathode resistor of all of them, with its ohms: the stronger tube takes the more."""
    nets = {n for s in sections for n in s.cathode_nets}
    if len(nets) != 1 or GROUND in nets:
        return None
    found = [b for b in circuit.at(nets.pop()) if b.kind is PartKind.RESISTOR]
    ohm = si(found[0].value, "ohm") if len(found) == 1 else None
    return (found[0].name, ohm) if ohm else None


def _hard(group: list[tuple[Tube, Section]]) -> bool:
    """Whether they take off easily: power tubes, and steep ones, in one bulb the steepest."""
    tube, section = group[0]
    power = tube.type.rating("plate-dissipation", section.type.name)
    slopes = (p.get("transconductance") for p in tube.type.points_of(section.type.name))
    least = HARD_SIEMENS.value if len({t.name for t, _ in group}) > 1 else ONE_BULB_SIEMENS
    steep = any(isinstance(s, Sourced) and s.value >= least for s in slopes)
    return steep or (power is not None and power.value >= HARD_WATTS.value)


@rule(
    "signal.parallel-plate-on-supply",
    title="One of two parallel tubes with its plate on the supply",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of plates, grids and cathodes",
    criterion="Two sections of one type have one cathode point, or cathodes that lead to gnd "
    f"alone, and {JOINED_GRIDS.value / 1e3:g} kohm or less between their grids; the plate of one "
    "is at the end of a winding or resistor, and that of the other on the supply this leads to.",
    why="With its plate on the supply a tube draws its current and hands nothing on: half of the "
    "stage's transconductance is lost. Both ends of a winding are at the same volts, so no meter "
    "shows it.",
    source=PRACTICE,
    limits="A follower beside an amplifying stage has a cathode that leads on, and is left alone.",
    thresholds=(JOINED_GRIDS,),
)
def parallel_plate_on_supply(case: Case) -> Iterator[Outcome]:
    """Compare the plates of sections that are driven as one."""
    circuit, still = case.circuit, still_nets(case.circuit)
    graph = metal(circuit).copy()
    graph.remove_nodes_from([n for n in still if n in graph])
    for (tube, one), (fellow, other) in permutations(working(circuit), 2):
        if tube.type.name != fellow.type.name or not _as_one(circuit, graph, one, other):
            continue
        plate, load = one.net("plate") or "", other.net("plate") or ""
        if plate in still and load not in still and _fed_by(circuit, load, plate):
            yield _on_supply(case, one, other)


def _as_one(circuit: Circuit, graph: nx.Graph[str], one: Section, other: Section) -> bool:
    """Whether two sections have one signal at their grids, and cathodes that hand none on."""
    grid, far = one.net("grid"), other.net("grid")
    if grid not in graph or far not in graph or grid is None:
        return False
    joined = far in _around(graph, grid, JOINED_GRIDS.value)
    same = one.cathode_nets == other.cathode_nets
    return joined and (same or all(cathode_still(circuit, s) for s in (one, other)))


def _fed_by(circuit: Circuit, load: str, supply: str) -> bool:
    """Whether one winding or resistor leads from a plate to a supply point, or half a winding."""
    ways = [b for b in circuit.at(load) if b.traits.coil or b.kind is PartKind.RESISTOR]
    near = {b.other(load) for b in ways}
    halves = {b.other(n) for n in near for b in circuit.at(n) if b.traits.coil}
    return supply in near | halves


def _on_supply(case: Case, one: Section, other: Section) -> Finding:
    supply = net_text(case.circuit, one.electrodes["plate"])
    return parallel_plate_on_supply.finding(
        case,
        (f"{one.name}.plate", other.name),
        f"{one.name} is driven as {other.name} is, and its plate is on {supply}, the supply end "
        f"of what loads {other.name}: it hands nothing on",
        f"Take {one.name}.plate to where {other.name}.plate is",
        evidence={"plate": supply},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (parallel_without_stoppers, parallel_plate_on_supply)
