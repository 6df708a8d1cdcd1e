"""One walk over nets, against networkx's own components."""

from __future__ import annotations

import networkx as nx
import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.model import GROUND, Circuit
from coldcheck.circuit.spread import spread
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind

TEXT = """A --[R1 1k]-- B --[C1 1u 100 V]-- C --[R2 1k]-- gnd
B --[R3 1k]-- D --[R4 1k]-- E
gnd --[R5 1k]-- F
"""


def circuit() -> Circuit:
    found = build_circuit(parse_drawing(TEXT, "t.tube"))
    assert found.problems == ()
    return found


def named(nets: frozenset[str]) -> set[str]:
    return {
        n for net in nets for n in circuit().names.get(net, (net,)) if len(n) == 1 or n == GROUND
    }


@pytest.mark.parametrize("start", ["A", "C", "F"])
def test_the_component_of_what_conducts(start: str) -> None:
    net = circuit().net(start)
    graph = nx.Graph((b.a, b.b) for b in circuit().branches.values() if b.kind is PartKind.RESISTOR)
    found = spread(circuit(), [net], lambda b, _: b.kind is PartKind.RESISTOR)
    assert found == nx.node_connected_component(graph, net)


def test_a_net_may_end_the_way() -> None:
    found = spread(circuit(), [circuit().net("C")], lambda _, here: here != GROUND)
    assert named(found) == {"A", "B", "C", "D", "E", "gnd"}  # gnd is reached and not passed


def test_nothing_leads_on() -> None:
    start = {circuit().net("A"), circuit().net("E")}
    assert spread(circuit(), start, lambda _b, _here: False) == start
