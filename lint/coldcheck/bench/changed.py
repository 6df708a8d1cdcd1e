"""The circuit with some of its parts at other values."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Branch, Circuit


def with_parts(circuit: Circuit, parts: Iterable[Branch]) -> Circuit:
    """A circuit in which these branches stand in for those of the same name and the same nets.

    Windings and heaters are also known to their transformers and tubes; they cannot be changed
    this way. Raises KeyError for a branch the circuit does not have, ValueError for one of those.
    """
    changed = {branch.name: branch for branch in parts}
    for branch in changed.values():
        if circuit.branches[branch.name].kind in ("winding", "heater"):
            raise ValueError(f"{branch.name} is a {branch.kind}")
    branches = {**circuit.branches, **changed}
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(circuit.graph.nodes)
    for u, v, key, data in circuit.graph.edges(keys=True, data=True):
        name = data["branch"].name
        graph.add_edge(u, v, key=key, **{**data, "branch": branches[name]})
    return replace(circuit, graph=graph, branches=branches)


def electrolytics_times(circuit: Circuit, factor: float) -> Circuit:
    """The circuit with every polarised capacitor at so many times its value.

    One that states a tolerance is moved by that instead, in the same direction.
    """
    moved = []
    for branch in circuit.branches.values():
        if branch.kind == "capacitor" and branch.plus is not None and branch.value is not None:
            stated = branch.part.tolerance if branch.part else None
            share = factor if stated is None else 1 + (stated if factor > 1 else -stated)
            moved.append(replace(branch, value=branch.value * share))
    return with_parts(circuit, moved)
