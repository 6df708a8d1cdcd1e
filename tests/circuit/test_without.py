"""The circuit without some of its parts."""

from __future__ import annotations

from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import parse_drawing

TEXT = """transformer T1
    winding a 6.3 V ct 1 A
T1.a.ct -- gnd
A --[R1 1k]-- B --[R2 2k]-- gnd
A --[C1 1u 100 V]-- A
"""


def test_parts_and_single_branches_go_by_name_and_the_rest_stays():
    circuit = build_circuit(parse_drawing(TEXT))
    half = next(b.name for b in circuit.branches.values() if b.owner == "T1.a")
    less = circuit.without({"R1", half})
    assert set(circuit.branches) - set(less.branches) == {"R1", half}
    assert {key for *_, key in less.graph.edges(keys=True)} == set(less.branches)
    assert set(less.graph) == set(circuit.graph)
    assert [b.name for b in less.at("B")] == ["R2"]
    assert "R1" in circuit.branches


def test_an_owner_takes_all_its_branches_with_it():
    circuit = build_circuit(parse_drawing(TEXT))
    assert {b.owner for b in circuit.without({"T1.a"}).branches.values()} == {"R1", "R2", "C1"}
