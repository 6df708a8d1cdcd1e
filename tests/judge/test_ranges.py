"""Certainty: the range of a predicted figure against its limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import centred, tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.judge import ranges
from coldcheck.judge.numbers import sockets_last
from coldcheck.solve import solve_state, solve_states


@pytest.mark.parametrize(
    ("excess", "off", "word"),
    [
        (1.30, 0.20, "certain"),  # from 1.04 on: all of the range is beyond
        (1.25, 0.20, "certain"),
        (1.24, 0.20, "likely"),  # from 0.99 on
        (1.01, 0.20, "likely"),
        (0.95, 0.20, "possible"),  # up to 1.14: only the edge
        (1.05, 0.02, "certain"),  # a tight divider is sure sooner
    ],
)
def test_the_whole_range_the_figure_or_only_the_edge(excess: float, off: float, word: str) -> None:
    assert ranges.certainty(excess, off) == word


def solved(text: str):
    circuit = build_circuit(parse_drawing(text, "x.tube"))
    return circuit, solve_state(circuit)


def test_the_range_across_a_part_is_the_divider_s_own() -> None:
    # 100 V over two equal resistors of 10 %: each end moves by 5 % of the half, and the source by
    # 1 %; together sqrt(2 x 0.05^2 + 0.01^2) of it.
    circuit, solution = solved("B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k]-- A --[R2 10k]-- gnd\n")
    off = ranges.across(solution, circuit.branches["R2"], 50.0)
    assert off == pytest.approx((2 * 0.05**2 + 0.01**2) ** 0.5, rel=0.01)


def test_a_line_state_does_not_count_the_mains_twice() -> None:
    text = (
        "mains 120 V 60 Hz tolerance 10 %\ntransformer T1\n  primary pri 120 V 5 ohm\n"
        "  winding ht 100 V 50 ohm\nT1.ht.2 -- gnd\n"
        "T1.ht.1 --[D1 1N4007]-> B1 --+[C1 47 uF 250 V]-- gnd\nB1 --[R1 10k 5 W]-- gnd\n"
    )
    states = solve_states(build_circuit(parse_drawing(text, "x.tube")))
    nominal, high = (
        ranges.between(states[n], "B1", "gnd", states[n].wave("B1").dc)
        for n in ("warm", "high line")
    )
    assert nominal > 0.10 > 0.06 > high


def test_without_a_spread_the_usual_fifth_is_taken() -> None:
    _, solution = solved("B1 --+[E1 100 V]-- gnd\nB1 --[R1 ?]-- A --[R2 10k]-- gnd\n")
    assert ranges.between(solution, "A", "gnd", 50.0) == ranges.UNKNOWN.value


# -- possible: only the edge of the range is beyond ------------------------------------------------

BENCH = "B1 --+[E1 492 V]-- gnd\nB1 --[R1 100k 5 W]-- gnd\nB1 --[C1 10 uF {} V]-- gnd\n"


@pytest.mark.parametrize(
    ("rated", "said"),
    [
        (490, ("notice", "likely")),  # 492 V is beyond, 1 % less is not
        (495, ("advice", "possible")),  # 1 % of a bench supply: up to 496.9 V
        (500, None),
    ],
)
def test_a_working_voltage_at_the_edge_of_a_supply(review, rated, said) -> None:
    looked = review(BENCH.format(rated))
    found = [f for f in looked.findings if f.rule == "capacitor.over-voltage"]
    if said is None:
        assert found == []
        return
    (one,) = found
    assert (one.level, one.certainty) == said
    if said[1] == "possible":
        assert one.evidence["reach"].value == pytest.approx(492 * 1.01, rel=1e-3)
        assert "the usual spread reaches 497 V" in one.message
        assert one.excess < 1
        assert looked.verdict() == "let through"


@pytest.mark.parametrize(
    ("rule", "line", "limit"),
    [
        # 497 V from a bench supply of 1 %: up to 502 V. A 1 W carbon film body stands 500 V.
        ("resistor.over-voltage", "B1 --[R2 1M 1 W]-- gnd", 500),
        # a diode that blocks all of it, rated by its maker absolutely
        ("supply.inverse-voltage", "gnd --[D1 1N4005 500 V]-> B1", 500),
        ("capacitor.over-voltage", "B1 --[C1 10 uF 500 V]-- gnd", 500),
    ],
)
def test_limits_that_nothing_may_exceed_are_possible_at_the_edge(review, rule, line, limit) -> None:
    looked = review(f"B1 --+[E1 497 V]-- gnd\nB1 --[R1 220k 7 W]-- gnd\n{line}\n")
    (one,) = [f for f in looked.findings if f.rule == rule]
    assert (one.level, one.certainty) == ("advice", "possible")
    assert one.limit.value == limit
    assert one.evidence["reach"].value == pytest.approx(497 * 1.01, rel=1e-3)


def test_a_possible_edge_does_not_hide_what_a_pulled_tube_brings(review) -> None:
    looked = review(BENCH.format(495))
    case = Case(looked.circuit, looked.solutions)
    edge = next(f for f in looked.findings if f.rule == "capacitor.over-voltage")
    case = replace(case, solutions={**case.solutions, "pulled V1": _pulled(case.warm)})
    out = replace(edge, state="pulled V1", certainty="likely", level="notice", excess=1.2)
    assert [f.certainty for f in sockets_last(case, [edge, out])] == ["possible", "likely"]
    sure = replace(edge, certainty="likely")
    assert [f.state for f in sockets_last(case, [sure, out])] == [edge.state]


def _pulled(solution):
    state = replace(solution.state, name="pulled V1", kind="pulled", pulled=frozenset({"V1"}))
    return replace(solution, state=state)


def test_the_edge_leaves_the_mains_to_high_line() -> None:
    # Without the mains the range of a supply is that of its parts: 3 % for the winding and a
    # little for what it drops; with them 10 % more. 200 V at nominal, 7 % below the limit.
    text = (
        "mains 120 V 60 Hz tolerance 10 %\ntransformer T1\n  primary pri 120 V 5 ohm\n"
        "  winding ht 150 V 50 ohm\nT1.ht.2 -- gnd\n"
        "T1.ht.1 --[D1 1N4007]-> B1 --+[C1 47 uF 250 V]-- gnd\nB1 --[R1 47k 5 W]-- gnd\n"
    )
    warm = solve_states(build_circuit(parse_drawing(text, "x.tube")))["warm"]
    value = warm.wave("B1").dc
    assert ranges.between(warm, "B1", "gnd", value) > 0.10
    assert ranges.reach(warm, ("B1", "gnd"), value, 1.07 * value) is None
    near = ranges.reach(warm, ("B1", "gnd"), value, 1.02 * value)
    assert near == pytest.approx(1.03 * value, rel=0.01)
    assert ranges.reach(warm, ("B1", "gnd"), value, 1.02 * value, edge=False) is None
    assert ranges.reach(warm, ("B1", "gnd"), value, 0.9 * value) == value


def test_no_edge_without_a_worked_out_range_or_with_a_tube_out() -> None:
    circuit, solution = solved("B1 --+[E1 100 V]-- gnd\nB1 --[R1 ?]-- A --[R2 10k]-- gnd\n")
    assert circuit
    assert solution.spread() is None
    assert ranges.reach(solution, ("B1", "gnd"), 100.0, 100.5) is None
    _, known = solved("B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- gnd\n")
    assert ranges.reach(known, ("B1", "gnd"), 100.0, 100.5) == pytest.approx(101, rel=1e-3)
    pulled = replace(known, state=replace(known.state, kind="pulled"))
    assert ranges.reach(pulled, ("B1", "gnd"), 100.0, 100.5) is None


def test_rating_systems() -> None:
    kind = tube_type("12AX7")
    assert kind.rating_system == "design-centre"
    assert centred(kind)
    for system in ("absolute", "CCS (absolute)", "design-max", "design-max (maker)"):
        assert not centred(replace(kind, rating_system=system))
    assert centred(replace(kind, rating_system=""))
