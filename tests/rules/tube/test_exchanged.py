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
        # A grid leak that is one.
        "IN --[C1 22 nF]-- V1A.cathode --[R5 1M]-- gnd\nV1A.grid --[R6 47k]-- gnd\n",
    ],
)
def test_not_exchanged(wires: str, review: Callable[[str], Review]) -> None:
    assert places(review(STAGE + wires)) == []
