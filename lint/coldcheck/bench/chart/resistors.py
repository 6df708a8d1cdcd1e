"""A network of plain resistances, asked for the resistance between any two of its nets.

Nets joined by 0 ohm are one node. For each island of nodes the reduced Laplacian is inverted once
(Kirchhoff); the resistance between two nodes is then a difference of its entries.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Edge = tuple[str, str, float]


class Resistors:
    """The network; edges are (net, net, ohms), with ``math.inf`` for what does not conduct.

    reference
        The net whose potential is 0; any other net of an island without it stands in for it.
    """

    def __init__(self, nets: Iterable[str], edges: Iterable[Edge], reference: str) -> None:
        kept = [edge for edge in edges if edge[2] != inf]
        self._node = _merged(nets, kept)
        self._reference = self._node.get(reference, reference)
        self._left = [
            (self._node[u], self._node[v], ohms)
            for u, v, ohms in kept
            if ohms > 0 and self._node[u] != self._node[v]
        ]
        graph: nx.Graph[str] = nx.Graph()
        graph.add_nodes_from(self._node.values())
        graph.add_edges_from((u, v) for u, v, _ in self._left)
        self._islands = [frozenset(island) for island in nx.connected_components(graph)]
        self._island = {n: k for k, island in enumerate(self._islands) for n in island}
        self._places: dict[int, dict[str, int]] = {}
        self._inverses: dict[int, Array] = {}

    def joined(self, a: str, b: str) -> bool:
        """Whether any conducting path leads from one net to the other."""
        return self._island[self._node[a]] == self._island[self._node[b]]

    def ohms(self, a: str, b: str) -> float:
        """Resistance between two nets, ohms; ``math.inf`` without a path. Raises KeyError."""
        here, there = self._node[a], self._node[b]
        if here == there:
            return 0.0
        if self._island[here] != self._island[there]:
            return inf
        return max(
            self._entry(here, here) + self._entry(there, there) - 2 * self._entry(here, there), 0.0
        )

    def transfer(self, net: str, at: str) -> float:
        """Volts at one net for one ampere into another one, ohms; 0 in different islands."""
        here, there = self._node[net], self._node[at]
        return self._entry(here, there) if self._island[here] == self._island[there] else 0.0

    def _entry(self, a: str, b: str) -> float:
        island = self._island[a]
        if island not in self._inverses:
            self._invert(island)
        places = self._places[island]
        if a not in places or b not in places:
            return 0.0
        return float(self._inverses[island][places[a], places[b]])

    def _invert(self, island: int) -> None:
        members = sorted(self._islands[island])
        held = self._reference if self._reference in members else members[0]
        places = {net: k for k, net in enumerate(n for n in members if n != held)}
        matrix = np.zeros((len(places), len(places)))
        for u, v, ohms in self._left:
            if self._island[u] == island:
                stamp(matrix, places, u, v, 1 / ohms)
        self._places[island] = places
        self._inverses[island] = np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def stamp(matrix: Array, places: Mapping[str, int], u: str, v: str, siemens: float) -> None:
    """Join two nets in a matrix of conductances (n, n); nets without a place are the reference."""
    i, j = places.get(u), places.get(v)
    if i is not None:
        matrix[i, i] += siemens
    if j is not None:
        matrix[j, j] += siemens
    if i is not None and j is not None:
        matrix[i, j] -= siemens
        matrix[j, i] -= siemens


def _merged(nets: Iterable[str], edges: Iterable[Edge]) -> dict[str, str]:
    """Net -> the net that stands for all that are joined to it by 0 ohm."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(nets)
    graph.add_edges_from((u, v) for u, v, ohms in edges if ohms == 0)
    groups = nx.connected_components(graph)
    return {net: first for group in groups for first in [min(group)] for net in group}
