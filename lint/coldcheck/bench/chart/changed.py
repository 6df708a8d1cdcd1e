"""The circuit with some of its parts at other values."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND, Branch
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Circuit


def with_parts(circuit: Circuit, parts: Iterable[Branch]) -> Circuit:
    """A circuit in which these branches stand in for those of the same name and the same nets.

    Windings and heaters are also known to their transformers and tubes; they cannot be changed
    this way. Raises KeyError for a branch the circuit does not have, ValueError for one of those.
    """
    changed = {branch.name: branch for branch in parts}
    for branch in changed.values():
        if circuit.branches[branch.name].kind in (PartKind.WINDING, PartKind.HEATER):
            raise ValueError(f"{branch.name} is a {branch.kind.value}")
    branches = {**circuit.branches, **changed}
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(circuit.graph.nodes)
    for u, v, key, data in circuit.graph.edges(keys=True, data=True):
        name = data["branch"].name
        graph.add_edge(u, v, key=key, **{**data, "branch": branches[name]})
    return replace(circuit, graph=graph, branches=branches)


TIE = "(tie to gnd)"
TIE_OHM = 1e9


def tied(circuit: Circuit, net: str) -> Circuit:
    """The circuit with a gigohm from a floating net to gnd.

    What then stands between two points of its island is what stands there untied; against gnd
    it says nothing. Raises KeyError for a net the circuit does not have.
    """
    if net not in circuit.graph:
        raise KeyError(net)
    span = circuit.span(net)
    tie = Branch(TIE, PartKind.RESISTOR, net, GROUND, TIE, span, quantity(TIE_OHM, "ohm"))
    graph = circuit.graph.copy()
    graph.add_edge(tie.a, tie.b, key=TIE, branch=tie)
    return replace(circuit, graph=graph, branches={**circuit.branches, TIE: tie})


def electrolytics_times(circuit: Circuit, factor: float) -> Circuit:
    """The circuit with every polarised capacitor at so many times its value.

    One that states a tolerance is moved by that instead, in the same direction.
    """
    moved = []
    for branch in circuit.branches.values():
        if (
            branch.kind is PartKind.CAPACITOR
            and branch.plus is not None
            and branch.value is not None
        ):
            stated = branch.part.tolerance if branch.part else None
            share = factor if stated is None else 1 + (stated if factor > 1 else -stated)
            moved.append(replace(branch, value=branch.value * share))
    return with_parts(circuit, moved)
