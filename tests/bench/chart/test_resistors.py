"""Networks of resistors, against networkx's resistance distance."""

from math import inf

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.bench.chart.resistors import Resistors

NETS = "abcdef"
edges = st.lists(
    st.tuples(
        st.sampled_from(NETS), st.sampled_from(NETS), st.floats(min_value=0.1, max_value=1e6)
    ).filter(lambda e: e[0] != e[1]),
    min_size=1,
    max_size=14,
)


@settings(max_examples=60)
@given(edges)
def test_against_the_resistance_distance(listed):
    graph = nx.MultiGraph()
    graph.add_weighted_edges_from(listed, weight="ohms")
    network = Resistors(NETS, listed, "a")
    for island in nx.connected_components(graph):
        part = graph.subgraph(island).copy()
        for u in island:
            for v in island:
                wanted = nx.resistance_distance(part, u, v, weight="ohms", invert_weight=True)
                assert network.ohms(u, v) == pytest.approx(wanted, rel=1e-6, abs=1e-6)


@settings(max_examples=60)
@given(edges, st.integers(0, 13))
def test_never_less_when_a_part_grows(listed, which):
    """Rayleigh's law, which the ends of a reading rest on."""
    grown = which % len(listed)
    small = Resistors(NETS, listed, "a")
    larger = [(u, v, 1.3 * r if k == grown else r) for k, (u, v, r) in enumerate(listed)]
    large = Resistors(NETS, larger, "a")
    # A resistance comes out of the inverse of a matrix of conductances, whose condition is at most
    # some n^3 times the ratio of the largest conductance to the smallest: behind 875 kilohm, a
    # tenth of an ohm is rounding. For parts of like size that is still a part in 10^12.
    values = [r for _, _, r in listed + larger]
    rounding = len(NETS) ** 3 * max(values) / min(values) * np.finfo(float).eps
    for net in NETS[1:]:
        assert large.ohms(net, "a") >= small.ohms(net, "a") * (1 - rounding)


def test_what_grows_behind_a_far_larger_part_is_within_rounding():
    listed = [("a", "b", 875087.7), ("b", "c", 0.109375)]
    larger = [listed[0], ("b", "c", 1.3 * 0.109375)]
    small, large = (Resistors(NETS, x, "a").ohms("c", "a") for x in (listed, larger))
    assert small == pytest.approx(875087.7 + 0.109375, rel=1e-7)
    assert large == pytest.approx(875087.7 + 1.3 * 0.109375, rel=1e-7)


def test_shorts_and_opens():
    network = Resistors(
        "abcd", [("a", "b", 0.0), ("b", "c", 10.0), ("c", "a", 15.0), ("d", "a", inf)], "a"
    )
    assert network.ohms("a", "b") == 0.0
    assert network.ohms("c", "a") == pytest.approx(6.0)
    assert network.ohms("d", "a") == inf
    assert not network.joined("d", "a")
    assert network.joined("b", "c")


def test_transfer_is_that_of_a_divider():
    """One ampere into the top of 100 + 200 ohm: 300 V there, 200 V at the tap."""
    network = Resistors("gtx", [("t", "x", 100.0), ("x", "g", 200.0)], "g")
    assert network.transfer("t", "t") == pytest.approx(300)
    assert network.transfer("x", "t") == pytest.approx(200)
    assert network.transfer("t", "x") == pytest.approx(200)


def test_an_unknown_net():
    with pytest.raises(KeyError):
        Resistors("ab", [("a", "b", 1.0)], "a").ohms("a", "z")
