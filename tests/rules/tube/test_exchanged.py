"""Grid and cathode taken for one another, and stages that only look like it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.grid-and-cathode-exchanged"
STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 0.1 V 1 kHz
B1 --[R1 100k 0.5 W]-- V1A.plate
B1 --[R2 100k 0.5 W]-- V1B.plate
V1B.cathode --[R3 1k5]-- gnd
V1B.grid --[R4 470k]-- gnd
"""


def places(review: Review) -> list[tuple[str, ...]]:
    return [f.at for f in review.findings if f.rule == RULE]


@pytest.mark.parametrize(
    "wires",
    [
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n",
        "IN --[R7 1k]-- V1A.cathode\nIN --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n"
        "V1A.grid --+[C2 22 uF 25 V]-- gnd\n",
        "V1B.plate --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n",
        # The bias resistor of a long tail, or at a feedback point.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\n"
        "V1A.grid --[R6 1k5]-- TAIL --[R7 10k]-- gnd\n",
        # A cathode on the same resistor is a neighbour that is wired right.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n"
        "tube V2 6C4\nV2.cathode -- V1A.grid\nB1 --[R9 100k]-- V2.plate\nV2.grid --[R8 1M]-- gnd\n",
    ],
)
def test_exchanged(wires: str, review: Callable[[str], Review]) -> None:
    assert places(review(STAGE + wires)) == [("V1A", "R6")]


@pytest.mark.parametrize(
    "wires",
    [
        # As it should be.
        "IN --[C1 22 nF]-- V1A.grid --[R5 1M]-- gnd\nV1A.cathode --[R6 1k5]-- gnd\n",
        # Driven at the cathode on purpose: a cathode resistor, the grid on gnd.
        "IN --[C1 22 uF]-- V1A.cathode --[R5 1k5]-- gnd\nV1A.grid -- gnd\n",
        "IN --[C1 22 uF]-- V1A.cathode --[R5 1k5]-- gnd\nV1A.grid --[R6 1k]-- gnd\n",
        # A coil at the cathode.
        "IN --[C1 1 nF]-- V1A.cathode --[L1 1 mH 5 ohm]-- gnd\nV1A.grid --[R6 1k]-- gnd\n",
        # The upper triode of a stack: its grid hangs on a plate, through a stopper.
        "V1B.plate --[R8 680 ohm]-- V1A.cathode --[C1 1 uF]-- OUT --[R5 1M]-- gnd\n"
        "V1B.plate --[R6 470 ohm]-- V1A.grid\n",
        # A plate on the grid's resistor: a load, whatever its value.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n"
        "tube V2 6C4\nV2.plate -- V1A.grid\nV2.cathode --[R8 1k]-- gnd\nV2.grid -- gnd\n",
        # A grid on a bias supply.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\n"
        "V1A.grid --[R6 1k5]-- NEG\ngnd --+[E2 2 V]-- NEG\n",
        # A cathode resistor behind a stopper.
        "IN --[C1 22 uF]-- X --[R7 100 ohm]-- V1A.cathode\nX --[R5 1k5]-- gnd\n"
        "V1A.grid --[R6 1k]-- gnd\n",
        # A pair whose second grid sets the balance, its cathode behind a trimmer.
        "IN --[C1 22 nF]-- V1B.grid\nV1A.cathode -- P1.top\nV1B.cathode -- P1.bottom\n"
        "pot P1 500 ohm at 50 %\nP1.wiper --[R8 33k 2 W]-- NEG\ngnd --+[E2 100 V]-- NEG\n"
        "V1A.grid --[R6 1k]-- SET --[R7 10k]-- gnd\n",
        # A grid leak that is one.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 47k]-- gnd\n",
    ],
)
def test_not_exchanged(wires: str, review: Callable[[str], Review]) -> None:
    assert places(review(STAGE + wires)) == []


@pytest.mark.parametrize(("electrode", "found"), [("suppressor", True), ("screen", False)])
def test_what_else_of_the_tube_is_on_the_grid(
    electrode: str, found: bool, review: Callable[[str], Review]
) -> None:
    """A suppressor goes where the cathode should be."""
    text = """tube V1 EF86
B1 --+[E1 250 V]-- gnd
signal IN 0.1 V 1 kHz
B1 --[R1 100k 0.5 W]-- V1.plate
IN --[C1 22 nF]-- V1.cathode --[R5 1M]-- gnd
V1.grid --[R6 1k5]-- gnd
"""
    assert places(review(text + f"V1.{electrode} -- V1.grid\n")) == [("V1", "R6")] * found


def test_a_plate_brings_a_signal_as_well(review: Callable[[str], Review]) -> None:
    """No signal source is drawn, and nothing is on gnd but resistors."""
    wires = "V1B.plate --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 1k5]-- gnd\n"
    text = STAGE.replace("signal IN 0.1 V 1 kHz\n", "")
    assert places(review(text + wires)) == [("V1A", "R6")]


@pytest.mark.parametrize(("load", "found"), [("R1 220k 0.5 W", True), ("L1 50 H 2000 ohm", False)])
def test_a_bypass_on_a_plate_that_a_resistor_feeds(
    load: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = f"""tube V1 EF86
B1 --+[E1 250 V]-- gnd
B1 --[{load}]-- V1.plate --[C1 100 nF 400 V]-- gnd
B1 --[R4 470k]-- V1.screen --[C2 22 nF 400 V]-- OUT --[R7 1M]-- gnd
V1.suppressor -- V1.cathode --[R2 1k5]-- gnd
V1.grid --[R3 1M]-- gnd
"""
    rules = [f.rule for f in review(text).findings]
    assert ("tube.plate-and-screen-exchanged" in rules) is found
