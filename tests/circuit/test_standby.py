"""A standby switch drawn at rest is closed at work; one that shorts something is not."""

from __future__ import annotations

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of

SET = """B1 --+[E1 300 V]-- gnd
B1 --[R1 1k]-- B2 --[R2 10k]-- gnd
"""


@pytest.mark.parametrize(
    ("line", "closed"),
    [
        ("B1 --[S1 switch standby open]-- B3\nB3 --[R3 10k]-- gnd", True),
        ("B1 --[S1 switch standby closed]-- B3\nB3 --[R3 10k]-- gnd", True),
        ("B1 --[S1 switch open]-- B3\nB3 --[R3 10k]-- gnd", False),  # not said to be for standby
        ("B1 --[S1 switch standby open]-- B2", False),  # across R1: it shorts something
        ("B2 --[S1 switch standby open]-- gnd", False),
        ("CT --[S1 switch standby open]-- gnd\nCT --[R3 10k]-- C --[D1 1N4007]-> B3", True),
    ],
)
def test_a_standby_switch_in_a_line_is_closed_at_work(line: str, closed: bool) -> None:
    circuit = circuit_of(parse_drawing(SET + line))
    assert circuit.branches["S1"].closed is closed
    drawn = {b.name: b.closed for n in circuit.graph for b in circuit.at(n)}
    assert drawn["S1"] is closed


def test_its_state_is_the_one_it_was_drawn_in(review) -> None:
    looked = review(SET + "B1 --[S1 switch standby open]-- B3\nB3 --[R3 10k]-- gnd\n")
    volts = {s: looked.solutions[s].wave("B3").dc for s in ("warm", "standby S1")}
    assert volts["warm"] == pytest.approx(300, rel=1e-4)
    assert volts["standby S1"] == pytest.approx(0, abs=1e-3)
