"""Outputs taken from the supply."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.no-plate-load"
HEAD = """tube V1 12AU7
B1 --+[E1 120 V]-- gnd
IN --[R1 1M]-- gnd
IN -- V1A.grid
V1B.grid --[R4 330k]-- gnd
V1B.cathode --[R5 1k5]-- gnd
B1 --[R6 47k]-- V1B.plate
"""
BIAS = "V1A.cathode --[R2 1k5]-- gnd\nV1A.cathode --+[C1 25 uF 25 V]-- gnd\n"
COUPLED = "V1A.plate --[C2 22 nF 400 V]-- V1B.grid\n"


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        (BIAS + COUPLED + "B1 -- V1A.plate\n", True),
        (BIAS + COUPLED + "B1 --[R3 47k]-- V1A.plate\n", False),
        ("V1A.cathode -- gnd\n" + COUPLED + "B1 -- V1A.plate\n", True),
        (BIAS + COUPLED + "B1 --[L1 50 H 300 ohm]-- V1A.plate\n", False),
        # Through a grid stopper, and to a point named as an output.
        (BIAS + "B1 -- V1A.plate\nB1 --[C2 22 nF 400 V]-- X --[R8 10k]-- V1B.grid\n", True),
        (BIAS + "B1 -- V1A.plate\nB1 --[C2 22 nF 400 V]-- OUT\nOUT --[R8 220k]-- gnd\n", True),
        # A follower, its output at the cathode, whatever else hangs on the supply.
        ("B1 -- V1A.plate\nV1A.cathode --[R2 22k]-- gnd\nV1A.cathode --[C2 1 uF 400 V]-- OUT\n"
         "OUT --[R8 220k]-- gnd\n", False),
        ("B1 -- V1A.plate\nV1A.cathode --[R2 22k]-- gnd\nV1A.cathode --[C9 1 uF 400 V]-- OUT\n"
         "OUT --[R8 220k]-- gnd\nB1 --[C2 22 nF 400 V]-- V1B.grid\n", False),
        # One half of a long-tailed pair: the cathode is the other half's too.
        ("B1 -- V1A.plate\nV1A.cathode -- V1B.cathode\n", False),
        # No output drawn: perhaps unfinished, but no output from the supply.
        (BIAS + "B1 -- V1A.plate\n", False),
        # A capacitor that only filters.
        (BIAS + "B1 -- V1A.plate\nB1 --[C2 100 nF 400 V]-- gnd\n", False),
    ],
)  # fmt: skip
def test_where_the_output_is_taken(
    wires: str, found: bool, review: Callable[[str], Review]
) -> None:
    looked = review(HEAD + wires)
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    findings = [f for f in looked.findings if f.rule == RULE]
    assert [(f.at, f.level) for f in findings] == ([(("V1A", "C2"), "notice")] if found else [])


def test_a_stopper_in_place_of_the_load_is_told_as_the_slip_it_is(
    review: Callable[[str], Review],
) -> None:
    looked = review(HEAD + BIAS + COUPLED + "B1 --[R3 100 ohm]-- V1A.plate\n")
    (cause,) = [f for f in looked.findings if f.rule == "resistor.unlikely-value"]
    assert cause.at[0] == "R3"
    assert f"{RULE} at V1A" in cause.evidence["explains"]


def test_a_point_without_a_capacitor_is_no_supply_point(review: Callable[[str], Review]) -> None:
    text = (HEAD + BIAS + COUPLED).replace("B1 --+[E1 120 V]-- gnd", "B1 --[R9 10k]-- S") + (
        "S --+[E1 120 V]-- gnd\nB1 -- V1A.plate\n"
    )
    looked = review(text)
    assert looked.readable
    assert [f for f in looked.findings if f.rule == RULE] == []


def test_the_gain_is_nothing_by_the_signal_solution(sample: Callable[..., Review]) -> None:
    """The claim of the rule, worked out another way: no volts come out where C2 is."""
    from coldcheck.anatomy.case import Case
    from coldcheck.drawing import parse_drawing
    from coldcheck.verdict.engine import review_drawing

    circuit = sample(RULE, "wrong").circuit
    assert circuit is not None
    text = "\n".join(circuit.drawing.lines) + "\nsignal IN 0.1 V 1 kHz\n"
    looked = review_drawing(parse_drawing(text, "t.tube"))
    assert looked.circuit is not None
    signal = Case(looked.circuit, looked.solutions).signal
    assert signal is not None
    # 22 uF are 7 ohm at 1 kHz, against a plate resistance of some 10 kohm and a mu of 17.
    assert abs(signal.sources["IN"].stage("V1A").plate) < 0.02


def test_the_load_suggested_is_twice_the_plate_resistance(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """12AU7: 7.7 kohm at 250 V, 8.5 V (found); twice that is 15.4, and 15 kohm is on the shelf."""
    found = only(sample(RULE, "wrong"), RULE)
    assert "15 kohm" in found.remedy
    assert found.evidence["supply_point"] == "B1"
