"""Which parts lie in a loop with a source of current, whatever the switches do."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import networkx as nx

from coldcheck.anatomy.jacks import jacks
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.circuit.model import Circuit

Node: TypeAlias = tuple[str, str]
"""(``net``, ``part`` and so on, its name): each part is a node between its nets, so that two in
parallel stay two."""

SOURCES = (PartKind.SOURCE, PartKind.SIGNAL)
MAINS: Node = ("mains", "")


def energised(circuit: Circuit, opened: Collection[str]) -> frozenset[str]:
    """The branches that some current could flow in with the contacts ``opened`` open.

    All other contacts count as closed in every position at once, and every other part and tube as
    a conductor. What comes from a transformer counts once one of its primaries is energised.
    """
    blocks = [frozenset(b) for b in nx.biconnected_components(_wiring(circuit, opened))]
    live = frozenset(_sources(circuit))
    while True:
        lit = frozenset[Node]().union(*(b for b in blocks if b & live))
        more = live | frozenset(_secondaries(circuit, lit))
        if more == live:
            return frozenset(name for kind, name in lit if kind == "part")
        live = more


def _wiring(circuit: Circuit, opened: Collection[str]) -> nx.Graph[Node]:
    wiring: nx.Graph[Node] = nx.Graph()
    for branch in circuit.branches.values():
        if branch.name not in opened:
            part = ("part", branch.name)
            wiring.add_edges_from((part, ("net", n)) for n in (branch.a, branch.b))
    for section in circuit.sections():
        nets = section.electrodes.values()
        wiring.add_edges_from((("section", section.name), ("net", n)) for n in nets)
    for jack in jacks(circuit):
        leads = (n for n in (jack.tip, jack.sleeve, jack.ring) if n is not None)
        wiring.add_edges_from((("jack", jack.name), ("net", n)) for n in leads)
    if circuit.mains:
        wiring.add_edges_from((MAINS, ("net", n)) for n in ("line", "neutral"))
        # The neutral is earthed on its way to the house.
        wiring.add_edge(("net", "neutral"), ("net", "earth"))
    return wiring


def _sources(circuit: Circuit) -> Iterator[Node]:
    """What gives current, or may: what is plugged in, windings but those of mains transformers."""
    own = {b.name for t in circuit.transformers.values() for w in t.windings for b in w.branches}
    yield MAINS
    yield from (("jack", jack.name) for jack in jacks(circuit))
    for branch in circuit.branches.values():
        winding = branch.kind is PartKind.WINDING and branch.name not in own
        if branch.kind in SOURCES or winding:
            yield "part", branch.name


def _secondaries(circuit: Circuit, lit: Collection[Node]) -> Iterator[Node]:
    for transformer in circuit.transformers.values():
        fed = (("part", b.name) in lit for w in transformer.primaries for b in w.branches)
        if not transformer.wired or any(fed):
            yield from (("part", b.name) for w in transformer.secondaries for b in w.branches)
