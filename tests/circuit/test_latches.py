"""Bistable pairs: found by their wiring, and solved in a state that they keep."""

from __future__ import annotations

import pytest

from coldcheck.circuit.build import build_circuit
from coldcheck.circuit.latches import latches
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import solve_state
from coldcheck.verdict.engine import review_drawing

PAIR = """B --+[E1 230 V]-- gnd
tube V1 12AU7
B --[R1 47k 2 W]-- V1A.plate {one} V1B.grid --[R3 100k]-- gnd
B --[R4 47k 2 W]-- V1B.plate --[R5 220k]-- V1A.grid --[R6 100k]-- gnd
V1A.cathode -- V1B.cathode --[R7 10k 1 W]-- gnd
"""
CROSSED = PAIR.format(one="--[R2 220k]--")


def circuit(text):
    return build_circuit(parse_drawing(text))


@pytest.mark.parametrize(
    ("one", "found"),
    [
        ("--[R2 220k]--", True),
        ("--[R2 220k]-- X --[R8 10k]--", True),
        ("--[C2 100n 400 V]--", False),  # a capacitor holds nothing: it may be a Schmitt trigger
        ("--[R2 220k]-- gnd\nX --", False),
    ],
)
def test_two_plates_that_lead_to_each_others_grids_are_a_pair(one, found):
    pairs = [(a.name, b.name) for a, b in latches(circuit(PAIR.format(one=one)))]
    assert pairs == ([("V1A", "V1B")] if found else [])


def test_grids_on_a_divider_of_the_supply_are_none():
    """Both plates and both grids hang on B: over a supply point plates are only neighbours."""
    text = CROSSED.replace("V1A.plate --[R2 220k]--", "V1A.plate\nB --[R2 220k]--")
    text = text.replace("V1B.plate --[R5 220k]--", "V1B.plate\nB --[R5 220k]--")
    assert latches(circuit(text)) == ()


def test_it_is_solved_with_one_half_cut_off_by_kirchhoffs_law():
    """47k and 220k between the supply and a grid that conducts a volt above its cathode."""
    warm = solve_state(circuit(CROSSED))
    off, on = warm.readings["V1A"], warm.readings["V1B"]
    assert off.plate_ma < 0.01 < 1 < on.plate_ma
    cathode, grid = (warm.waves[n].dc for n in ("V1A.cathode", "V1B.grid"))
    assert cathode - 0.5 < grid < cathode + 2
    wanted = (230 / 47 + grid / 220) / (1 / 47 + 1 / 220)
    assert warm.waves["V1A.plate"].dc == pytest.approx(wanted, rel=0.002)


def test_the_state_is_said_and_a_grid_that_conducts_is_no_mistake():
    review = review_drawing(parse_drawing(CROSSED))
    said = [n.reason for n in review.not_judged if "hold each other" in n.reason]
    assert said == [
        "V1A and V1B hold each other in one of two states: worked out with V1B conducting and "
        "V1A cut off"
    ]
    rules = {f.rule for f in review.findings}
    assert not rules & {"grid.positive", "signal.oscillator-too-weak"}
