"""An answer about a circuit is worked out once for each circuit and each question."""

from dataclasses import replace

import networkx as nx
import pytest

from coldcheck.anatomy.neighbourhood import metal, ohms_between
from coldcheck.circuit import build_circuit
from coldcheck.circuit.once import once
from coldcheck.drawing import parse_drawing

DRAWING = """drawing "two resistors"
B1 --[R1 100k]-- A --[R2 47k]-- gnd
"""


def circuit():
    return build_circuit(parse_drawing(DRAWING, "two.tube"))


def test_each_question_to_each_circuit_is_worked_out_once() -> None:
    worked = []

    @once
    def parts(about, net, *, most=9):
        """Words."""
        worked.append((net, most))
        return [b.name for b in about.at(net)][:most]

    one, other = circuit(), circuit()
    assert parts(one, "A") == ["R1", "R2"]
    assert parts(one, "A") is parts(one, "A")
    assert parts(one, "A", most=1) == ["R1"]
    assert parts(one, "gnd") == ["R2"]
    assert worked == [("A", 9), ("A", 1), ("gnd", 9)]
    parts(other, "A")
    assert len(worked) == 4
    assert (parts.__name__, parts.__doc__) == ("parts", "Words.")


def test_a_circuit_made_of_another_answers_for_itself() -> None:
    whole = circuit()
    assert ohms_between(whole, "A") == 47e3
    assert [b.name for b in whole.at("A")] == ["R1", "R2"]
    left = {n: b for n, b in whole.branches.items() if n != "R2"}
    without = replace(whole, branches=left)
    assert ohms_between(without, "A") == float("inf")
    assert ohms_between(whole, "A") == 47e3
    assert replace(whole) == whole


def test_nobody_changes_the_graph_that_all_share() -> None:
    graph = metal(circuit())
    with pytest.raises(nx.NetworkXError, match=r"[Ff]rozen"):
        graph.remove_node("A")
    mine = graph.copy()
    mine.remove_node("A")
    assert "A" in graph
