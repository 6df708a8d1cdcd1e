"""Certainty: the range of a predicted figure against its limit."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.rules import ranges
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
    assert ranges.between(solution, "A", "gnd", 50.0) == ranges.UNKNOWN
