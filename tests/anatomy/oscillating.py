"""Stages that oscillate, for the tests of what is said of them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit

PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"

COLPITTS = """tube V1 6C4
REG --+[E1 200 V]-- gnd
V1.grid --[C3 100p 500 V]-- TK --[L1 12 uH]-- gnd
V1.grid --[R3 {leak}]-- gnd
V1.grid --[C4 680p 500 V]-- V1.cathode --[C5 680p 500 V]-- gnd
V1.cathode --[L2 2.5 mH 40 ohm 100 mA]-- gnd
REG --[R4 10k 1 W]-- V1.plate --[C6 10n 400 V]-- gnd
V1.cathode --[C7 47p 500 V]-- OUT --[R5 100k]-- gnd
"""

CONVERTER = """transformer L2
    winding tank 10/100 turns 90 uH 2 ohm
tube V1 6BE6
B1 --+[E1 100 V]-- gnd
L2.tank.1 -- gnd
L2.tank.10 -- V1.cathode
L2.tank.2 --[VC1 120p variable]-- gnd
L2.tank.2 --[C9 47p 500 V]-- V1.grid --[R6 {leak}]-- gnd
V1.grid3 --[R7 1M]-- gnd
B1 -- V1.screen
B1 --[R8 10k]-- V1.plate --[C2 1n 500 V]-- OUT --[R4 1M]-- gnd
"""


def circuit(text: str) -> Circuit:
    found = build_circuit(parse_drawing(text, "t.tube"))
    assert not found.problems
    return found


def pair(name: str, side: str = "right") -> Circuit:
    return circuit((PAIRS / name / f"{side}.tube").read_text("utf-8"))


BY_CRYSTAL = (
    "tube V1 6J5\nB1 --+[E1 250 V 0.1 A]-- gnd\nV1.cathode -- gnd\nV1.grid --[R1 47k]-- gnd\n"
    "B1 --[R2 22k 5 W]-- V1.plate --[C3 47p 500 V]-- NEXT --[R3 100k]-- gnd\n"
)
PIERCE = BY_CRYSTAL + "V1.plate --[C1 1n 500 V]-- X --[Y1 7.1 MHz]-- V1.grid\n"
MILLER = BY_CRYSTAL + "V1.grid --[Y1 crystal]-- gnd\n"
FILTERED = (
    "transformer L1 coupling 2 %\n    winding a 1 mH 10 ohm\n    winding b 1 mH 10 ohm\n"
    "tube V2 6J5\nV2.cathode -- gnd\nV2.grid --[R5 1M]-- gnd\nB1 -- L1.a.1\nL1.a.2 -- V2.plate\n"
    "L1.b.1 -- gnd\nL1.b.2 --[Y1 455 kHz]-- V1.grid\n" + BY_CRYSTAL
)
