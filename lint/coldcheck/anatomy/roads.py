"""Roads without resistance: what joins two nets by wire, closed contacts, fuses and diodes."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.throws import throws_by_hand
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit


def switch_positions(circuit: Circuit) -> Iterator[frozenset[str]]:
    """As drawn, then with each switch thrown in turn."""
    yield frozenset()
    yield from (frozenset({throw}) for throw in throws_by_hand(circuit))


def passes_freely(branch: Branch, thrown: frozenset[str] = frozenset()) -> bool:
    """Whether a branch is as good as a wire: a fuse, or a contact that is closed."""
    if branch.traits.opens:
        return branch.closed_with(thrown)
    return branch.kind is PartKind.FUSE


def roads(
    circuit: Circuit, thrown: frozenset[str] = frozenset(), *, diodes: bool = True
) -> nx.DiGraph[str]:
    """Net -> net where current can go freely: wires both ways, and diodes forward.

    Rectifier tubes are left out: their drop limits.
    """
    found: nx.DiGraph[str] = nx.DiGraph()
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE and diodes:
            found.add_edge(branch.a, branch.b, through=branch.name)
        elif passes_freely(branch, thrown):
            found.add_edge(branch.a, branch.b, through=branch.name)
            found.add_edge(branch.b, branch.a, through=branch.name)
    return found


def road(graph: nx.Graph[str], start: str, end: str) -> tuple[str, ...] | None:
    """The parts on the shortest way; none of them where plain wire joins both; ``None``: no way."""
    if start == end:
        return ()
    if start not in graph or end not in graph or not nx.has_path(graph, start, end):
        return None
    nets = nx.shortest_path(graph, start, end)
    return tuple(graph.edges[a, b]["through"] for a, b in pairwise(nets))


def wired_to(circuit: Circuit, net: str) -> frozenset[str]:
    """The nets joined to one by wire, fuses and contacts closed as drawn or when thrown."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node(net)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.FUSE or branch.traits.opens:
            graph.add_edge(branch.a, branch.b)
    return frozenset(nx.node_connected_component(graph, net))
