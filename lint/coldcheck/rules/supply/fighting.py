"""Bench sources that are shorted, or joined in a loop that does not add up."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.roads import passes_freely, road, roads, switch_positions
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

EVEN_V = 1e-3
"""What a loop of ideal sources may leave over: rounding, and nothing else."""


@rule(
    "supply.sources-opposed",
    title="Sources that are shorted or work against one another",
    level="notice",
    states="the drawing alone; every switch as drawn and thrown",
    needs="DC sources in the drawing",
    criterion=(
        "Wires, closed contacts, fuses or diodes alone lead from a source's plus to its minus, or "
        "wires and the copper of a mains transformer's winding do; or around a loop of sources "
        "and wires their voltages, with their signs, leave more than 1 mV."
    ),
    why=(
        "Between two unlike voltages joined by wire there is no answer but the current the wire "
        "melts at. A battery vents, a bench supply limits and shows something else than was "
        "meant, and no voltage of the drawing can be worked out."
    ),
    source=Citation("arithmetic", "Kirchhoff's voltage law"),
    limits=(
        "A source with a resistance written is ideal here all the same, as for the solver. A "
        "source with both ends on one point is reported as drawing.shorted-part. One switch is "
        "thrown at a time."
    ),
)
def sources_opposed(case: Case) -> Iterator[Outcome]:
    """Go round the loops of sources in every position of the switches."""
    circuit, told = case.circuit, set[frozenset[str]]()
    for thrown in switch_positions(circuit):
        for names, left, through in (*_shorts(circuit, thrown), *_loops(circuit, thrown)):
            if frozenset(names) not in told:
                told.add(frozenset(names))
                yield _opposed(case, names, left, through, tuple(sorted(thrown)))


def _sources(circuit: Circuit) -> list[Branch]:
    return [b for b in circuit.branches.values() if b.kind is PartKind.SOURCE and b.a != b.b]


def _shorts(
    circuit: Circuit, thrown: frozenset[str]
) -> Iterator[tuple[tuple[str, ...], float, tuple[str, ...]]]:
    """Single sources with a road from plus to minus, by diodes or by a mains winding's copper."""
    graph, wound = roads(circuit, thrown), roads(circuit, thrown, diodes=False)
    for branch in (b for w in circuit.windings() for b in w.branches):
        wound.add_edge(branch.a, branch.b, through=branch.owner)
        wound.add_edge(branch.b, branch.a, through=branch.owner)
    for source in _sources(circuit):
        way = road(graph, source.a, source.b) or road(wound, source.a, source.b)
        if way is not None:
            yield (source.name,), si(source.value, "volt") or 0.0, way


def _loops(
    circuit: Circuit, thrown: frozenset[str]
) -> Iterator[tuple[tuple[str, ...], float, tuple[str, ...]]]:
    """Loops of two or more sources that do not add up."""
    at = _wires(circuit, thrown)
    tree: nx.Graph[str] = nx.Graph()
    for source in _sources(circuit):
        a, b = at[source.a], at[source.b]
        if a == b:
            continue
        tree.add_nodes_from((a, b))
        if not nx.has_path(tree, a, b):
            tree.add_edge(a, b, source=source)
            continue
        walk = nx.shortest_path(tree, b, a)
        steps = [(x, tree.edges[x, y]["source"]) for x, y in pairwise(walk)]
        emfs = [_emf(source), *(_emf(s) for _, s in steps)]
        if any(e is None for e in emfs):
            continue
        rise = sum(-(_emf(s) or 0.0) if at[s.a] == x else _emf(s) or 0.0 for x, s in steps)
        left = abs(rise - (_emf(source) or 0.0))
        if left > EVEN_V:
            yield (*(s.name for _, s in steps), source.name), left, ()


def _emf(source: Branch) -> float | None:
    return si(source.value, "volt")


def _wires(circuit: Circuit, thrown: frozenset[str]) -> Mapping[str, str]:
    """Net -> the net that stands for all that wire and closed contacts join to it."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if passes_freely(b, thrown))
    return {net: min(group) for group in nx.connected_components(graph) for net in group}


def _opposed(
    case: Case,
    names: tuple[str, ...],
    left: float,
    through: tuple[str, ...],
    thrown: tuple[str, ...],
) -> Finding:
    when = f" with {thrown_text(thrown)}" if thrown else ""
    one = len(names) == 1
    text = (
        f"{names[0]} is shorted through {listed(through) or 'plain wire'}{when}"
        if one
        else f"{listed(names)} are joined into a loop by wire, and {volts(left)} is left over{when}"
    )
    return sources_opposed.finding(
        case,
        (*names, *through),
        text,
        f"Take away what joins both ends of {names[0]}"
        if one
        else f"Keep one of {listed(names)} at that point, or see which way round each is drawn",
        state=thrown_text(thrown) if thrown else "drawing",
        evidence={"left_over": figure(left, "V")},
        certainty="certain",
    )


RULES = (sources_opposed,)
