"""DC paths: worked dividers, networkx and sympy as independent references, brute force."""

from itertools import combinations
from math import inf

import networkx as nx
import pytest
import sympy
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit import build_circuit
from coldcheck.circuit.model import Branch, Circuit
from coldcheck.circuit.paths import (
    DC_KINDS,
    Change,
    dc_graph,
    floating_islands,
    hangs_on,
    has_reference,
    islands,
    references,
    resistance,
)
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Drawing, Span
from coldcheck.drawing.units import quantity

HERE = Span("t", 1, 1, 2)


def drawn(text):
    drawing = parse_drawing(text)
    circuit = build_circuit(drawing)
    assert (drawing.problems, circuit.problems) == ((), ())
    return circuit


def network(edges, nodes=()):
    """A circuit of resistors only, from (net, net, ohms) triples; ``None`` ohms is unknown."""
    branches = {}
    graph = nx.MultiGraph()
    graph.add_nodes_from(["gnd", *nodes])
    for number, (a, b, ohms) in enumerate(edges, 1):
        value = None if ohms is None else quantity(float(ohms), "ohm")
        branch = Branch(f"R{number}", PartKind.RESISTOR, a, b, f"R{number}", HERE, value)
        branches[branch.name] = branch
        graph.add_edge(a, b, key=branch.name, branch=branch)
    points = {net: net for net in graph}
    names = {net: (net,) for net in graph}
    return Circuit(Drawing("t", (), ()), graph, points, names, branches, {}, {}, {}, None, {})


NETS = ("gnd", "A", "B", "C", "D", "E")
EDGES = st.lists(
    st.tuples(st.sampled_from(NETS), st.sampled_from(NETS), st.integers(1, 1000)),
    min_size=1,
    max_size=12,
)


def connected(circuit, a, b):
    return nx.has_path(circuit.graph, a, b)


@pytest.mark.parametrize(
    ("supply", "upper", "lower", "volts", "thevenin"),
    # Derived: a heater lift divider, its tap and its source resistance.
    [
        (300, "220k", "47k", 52.8, 38.7e3),
        (400, "270k", "33k", 43.6, 29.4e3),
        (350, "470k", "68k", 44.2, 59.4e3),
    ],
)
def test_the_divider_of_a_heater_lift(supply, upper, lower, volts, thevenin):
    circuit = drawn(f"B1 --[R1 {upper}]-- LIFT --[R2 {lower}]-- gnd")
    # Seen from the tap with the supply at 0 ohm: the two resistors in parallel.
    shorted = drawn(f"B1 --[R1 {upper}]-- LIFT --[R2 {lower}]-- gnd\nB1 -- gnd")
    assert resistance(shorted, "LIFT") == pytest.approx(thevenin, rel=2e-3)
    share = resistance(circuit, "LIFT") / resistance(circuit, "B1")
    assert supply * share == pytest.approx(volts, rel=2e-3)
    (path,) = references(circuit, "LIFT")
    assert path.ohms == resistance(circuit, "LIFT")


def test_the_artificial_centre_tap():
    # Derived: 2 x 100 ohm across 6.3 V draw 31.5 mA, so 200 ohm end to end; each end
    # of the line is 100 ohm from gnd, and the two together 50 ohm.
    circuit = drawn("H1 --[R1 100]-- gnd\nH2 --[R2 100]-- gnd")
    assert resistance(circuit, "H1", "H2") == pytest.approx(6.3 / 31.5e-3)
    assert resistance(drawn("H1 --[R1 100]-- gnd\nH1 --[R2 100]-- gnd"), "H1") == pytest.approx(50)


@given(EDGES, st.sampled_from(NETS), st.sampled_from(NETS))
def test_resistance_is_the_resistance_distance_of_the_graph(edges, a, b):
    circuit = network(edges, NETS)
    found = resistance(circuit, a, b)
    if not connected(circuit, a, b):
        assert found == inf
        return
    graph = nx.MultiGraph()
    graph.add_node(a)
    graph.add_weighted_edges_from((u, v, r) for u, v, r in edges if u != v)
    part = graph.subgraph(nx.node_connected_component(graph, a))
    expected = 0.0 if a == b else nx.resistance_distance(part, a, b, weight="weight")
    assert found == pytest.approx(expected, rel=1e-9)


@settings(max_examples=30)
@given(EDGES, st.sampled_from(NETS[1:]))
def test_resistance_is_the_exact_rational_solution(edges, a):
    circuit = network(edges, NETS)
    if not connected(circuit, a, "gnd"):
        return
    reached = sorted(nx.node_connected_component(circuit.graph, a) - {"gnd"})
    size = len(reached)
    laplacian = sympy.zeros(size, size)
    for u, v, ohms in edges:
        for here, there in ((u, v), (v, u)):
            if u != v and here in reached:
                laplacian[reached.index(here), reached.index(here)] += sympy.Rational(1, ohms)
                if there in reached:
                    laplacian[reached.index(here), reached.index(there)] -= sympy.Rational(1, ohms)
    drive = sympy.zeros(size, 1)
    drive[reached.index(a)] = 1
    volts = laplacian.LUsolve(drive)
    assert resistance(circuit, a) == pytest.approx(float(volts[reached.index(a)]), rel=1e-9)


def test_a_large_ladder_solves_sparse_and_tends_to_the_golden_ratio():
    # An endless ladder of 1 ohm rungs and rails seen after its first rail: (1 + sqrt 5) / 2 ohm
    # (derived).
    edges = []
    for n in range(700):
        edges += [(f"N{n}", f"N{n + 1}", 1), (f"N{n + 1}", "gnd", 1)]
    assert resistance(network(edges), "N0") == pytest.approx((1 + 5**0.5) / 2, rel=1e-12)


@given(EDGES, st.sampled_from(NETS[1:]))
def test_the_parts_a_net_hangs_on_are_those_whose_removal_cuts_it_off(edges, a):
    circuit = network(edges, NETS)
    found = {branch.name for branch in hangs_on(circuit, a)}
    cutting = set()
    if connected(circuit, a, "gnd"):
        for name in circuit.branches:
            if not has_reference(circuit, a, Change(opened=frozenset({name}))):
                cutting.add(name)
    assert found == cutting


@given(EDGES, st.sampled_from(NETS[1:]))
def test_references_are_all_the_simple_paths_shortest_first(edges, a):
    circuit = network(edges, NETS)
    found = references(circuit, a, limit=10_000)
    graph = nx.MultiGraph()
    graph.add_nodes_from(NETS)
    graph.add_edges_from((u, v, f"R{n}") for n, (u, v, _) in enumerate(edges, 1) if u != v)
    expected = {
        tuple(key for _, _, key in path) for path in nx.all_simple_edge_paths(graph, a, "gnd")
    }
    assert {tuple(b.name for b in path.branches) for path in found} == expected
    assert len(found) == len(expected)
    lengths = [len(path.branches) for path in found]
    assert lengths == sorted(lengths)
    for path in found:
        assert path.ohms == pytest.approx(sum(edges[int(b.name[1:]) - 1][2] for b in path.branches))
        assert (path.nets[0], path.nets[-1]) == (a, "gnd")


@given(EDGES)
def test_islands_are_the_sets_that_reach_each_other(edges):
    circuit = network(edges, NETS)
    found = islands(circuit)
    assert sorted(net for island in found for net in island) == sorted(circuit.graph)
    for a, b in combinations(NETS, 2):
        together = any({a, b} <= island for island in found)
        assert together == connected(circuit, a, b)
    assert set(floating_islands(circuit)) == {island for island in found if "gnd" not in island}


def test_a_path_reads_as_the_wire_is_followed():
    circuit = drawn("B2 --[R8 220k]-- LIFT --[R9 47k]-- gnd\nB2 --[L1 8 H]-- B1")
    (path,) = references(circuit, "B1")
    assert path.text == "B1 --L1-- B2 --R8 220 kohm-- LIFT --R9 47 kohm-- gnd"
    assert path.steps == ("B1 --L1-- B2", "B2 --R8 220 kohm-- LIFT", "LIFT --R9 47 kohm-- gnd")
    assert path.ohms == pytest.approx(267e3)
    assert [b.name for b in hangs_on(circuit, "B1")] == ["L1", "R8", "R9"]


def test_gnd_is_its_own_reference():
    circuit = drawn("A --[R1 1k]-- gnd")
    (path,) = references(circuit, "gnd")
    assert (path.text, path.branches, path.ohms) == ("gnd", (), 0)
    assert hangs_on(circuit, "gnd") == ()


@pytest.mark.parametrize("limit", [1, 2, 3])
def test_no_more_paths_than_asked_for(limit):
    circuit = drawn("A --[R1 1k]-- gnd\nA --[R2 1k]-- gnd\nA --[R3 1k]-- B --[R4 1k]-- gnd")
    found = references(circuit, "A", limit=limit)
    assert [p.branches[0].name for p in found] == ["R1", "R2", "R3"][:limit]


def test_a_path_ends_at_the_first_target_it_meets():
    circuit = drawn("A --[R1 1k]-- chassis --[R2 10]-- gnd")
    assert [p.text for p in references(circuit, "A", targets=("gnd", "chassis"))] == [
        "A --R1 1 kohm-- chassis"
    ]
    assert has_reference(circuit, "A", targets=("earth", "chassis"))
    assert not has_reference(circuit, "A", targets=("earth",))


@pytest.mark.parametrize(
    ("wire", "conducts"),
    [
        ("A --[R1 1k]-- gnd", True),
        ("A --[L1 1 H]-- gnd", True),
        ("A --[F1 1 A]-- gnd", True),
        ("A --[RT1 thermistor 10 ohm]-- gnd", True),
        ("A --[PL1 lamp 6 V 0.1 A]-- gnd", True),
        ("A --[LS1 speaker 8 ohm]-- gnd", True),
        ("A --+[E1 9 V]-- gnd", True),
        ("A --[S1 switch]-- gnd", True),
        ("A --[S1 switch open]-- gnd", False),
        ("A --[C1 1u]-- gnd", False),
        ("A --[D1 1N4007]-> gnd", False),
        ("A <-[Z1 zener 5 V]-- gnd", False),
        ("A --[J1 jack]-- gnd", False),
        ("signal A 1 V", False),
        ("pot P1 10k\nP1.top -- A\nP1.wiper -- gnd", True),
        ("tube V1 6J5\nA --[V1 heater]-- gnd", True),
        ("transformer T1\n winding w 6.3 V\nT1.w.1 -- A\nT1.w.2 -- gnd", True),
        ("switch S1 spdt at 2\nS1.common -- A\nS1.1 -- gnd", False),
        ("switch S1 spdt at 2\nS1.common -- A\nS1.2 -- gnd", True),
        ("jack J1\nJ1.tip -- A\nJ1.switch -- gnd", True),
    ],
)
def test_what_conducts_dc(wire, conducts):
    circuit = drawn(wire)
    assert has_reference(circuit, "A") is conducts
    assert bool(references(circuit, "A")) is conducts
    assert any("A" in island for island in floating_islands(circuit)) is not conducts


def test_a_thrown_switch_is_inverted_in_both_positions():
    circuit = drawn(
        "switch S1 spdt at 1\nS1.common -- A\nS1.1 --[R1 1k]-- gnd\nS1.2 --[R2 2k]-- gnd"
    )
    thrown = Change(thrown=frozenset({"S1"}))
    assert resistance(circuit, "A") == pytest.approx(1000)
    assert resistance(circuit, "A", change=thrown) == pytest.approx(2000)
    assert [b.owner for b in hangs_on(circuit, "A", thrown)] == ["S1", "R2"]


def test_a_plug_lifts_the_jack_contact_and_a_thrown_switch_on_the_wire_opens():
    circuit = drawn("jack J1\nJ1.tip -- A\nJ1.switch -- gnd\nB --[S1 switch]-- gnd")
    change = Change(thrown=frozenset({"J1", "S1"}))
    assert (has_reference(circuit, "A"), has_reference(circuit, "B")) == (True, True)
    assert (has_reference(circuit, "A", change), has_reference(circuit, "B", change)) == (
        False,
        False,
    )


@pytest.mark.parametrize("tube", ["6J5", "0D3"])
def test_a_pulled_tube_takes_its_heater_and_its_link_along(tube):
    wires = {"6J5": "A --[V1 heater]-- gnd", "0D3": "A -- V1:3\nV1:7 -- gnd"}
    circuit = drawn(f"tube V1 {tube}\n{wires[tube]}")
    assert has_reference(circuit, "A")
    assert not has_reference(circuit, "A", Change(pulled=frozenset({"V1"})))


def test_an_opened_part_opens_all_its_branches():
    circuit = drawn("pot P1 10k\nP1.top -- A\nP1.bottom -- gnd\nP1.wiper -- W")
    assert resistance(circuit, "A") == pytest.approx(10e3)
    assert resistance(circuit, "W", change=Change(opened=frozenset({"P1"}))) == inf
    one = Change(opened=frozenset({"P1.top-wiper"}))
    assert (resistance(circuit, "A", change=one), resistance(circuit, "W", change=one)) == (
        inf,
        pytest.approx(5e3),
    )


@pytest.mark.parametrize(
    ("extra", "known"),
    [
        ("", True),
        ("A --[R9 ?]-- gnd", False),
        ("A --[R9 ?]-- X --[R8 1k]-- gnd", False),
        ("A --[R9 ?]-- X", True),
        ("A --[R9 ?]-- A", True),
        ("X --[R9 ?]-- gnd", True),
        ("A --[R8 1k]-- X --[R9 ?]-- Y --[R7 1k]-- X", True),
        ("A --[R9 ?]-- X --[C1 1u]-- gnd", True),
    ],
)
def test_an_unknown_value_matters_only_where_it_lies_on_a_path(extra, known):
    circuit = drawn(f"A --[R1 1k]-- B --[R2 1k]-- gnd\n{extra}")
    expected = pytest.approx(2000) if known else None
    assert resistance(circuit, "A") == expected


def test_an_unknown_value_on_a_path_is_shown_and_its_sum_unknown():
    (path,) = references(drawn("A --[R1 ?]-- gnd"), "A")
    assert (path.ohms, path.text) == (None, "A --R1 ?-- gnd")


def test_a_source_is_a_reference_but_no_resistance():
    circuit = drawn("B1 --+[E1 250 V]-- gnd\nB1 --[R1 1k]-- gnd")
    assert [p.branches[0].name for p in references(circuit, "B1")] == ["E1", "R1"]
    assert resistance(circuit, "B1") == pytest.approx(1000)


def test_closed_contacts_fuses_and_bare_coils_are_no_resistance():
    circuit = drawn(
        "A --[S1 switch]-- B --[F1 1 A]-- C --[L1 8 H]-- D --[R1 1k]-- gnd\n"
        "D --[L2 8 H 250 ohm]-- E\nA -- F"
    )
    assert resistance(circuit, "A") == pytest.approx(1000)
    assert resistance(circuit, "A", "D") == 0
    assert resistance(circuit, "E", "F") == pytest.approx(250)


def test_the_halves_of_a_winding_and_a_heater_across_it():
    # 160 ohm end to end is 80 ohm a half; 84 ohm of heater (12.6 V / 0.15 A) lies across both.
    circuit = drawn(
        "transformer T1\n winding w 6.3 V ct 6.3 V 160 ohm\n"
        "tube V1 12AX7 heater T1.w\nT1.w.ct -- gnd"
    )
    assert resistance(circuit, "V1.h1", "T1.w.ct") == pytest.approx(1 / (1 / 80 + 1 / 164))


def test_points_and_leads_may_be_given_for_nets_and_unknown_ones_raise():
    circuit = drawn("tube V1 6J5\nV1.cathode -- K --[R1 1k]-- gnd")
    assert resistance(circuit, "V1.cathode") == resistance(circuit, "K") == pytest.approx(1000)
    for question in (references, has_reference, hangs_on, resistance):
        with pytest.raises(KeyError, match="NOWHERE"):
            question(circuit, "NOWHERE")


def test_the_graph_of_chosen_kinds():
    circuit = drawn("A --[R1 1k]-- gnd\nA --[C1 1u]-- gnd\nA --[L1 1 H]-- gnd")
    assert dc_graph(circuit).number_of_edges() == 2
    assert dc_graph(circuit, kinds={PartKind.RESISTOR}).number_of_edges() == 1
    assert dc_graph(circuit, kinds=DC_KINDS | {PartKind.CAPACITOR}).number_of_edges() == 3
