"""A block is its four diodes, and its DC is the crest less two of their drops."""

from __future__ import annotations

import math

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver

HEAD = (
    "mains 230 V 50 Hz\ntransformer T1\n primary p 230 V\n winding s 24 V 1 A 0.5 ohm\n"
    "O --+[C1 10000 uF 63 V]-- gnd\nO --[R1 100 ohm 20 W]-- gnd\n"
)
BLOCK = HEAD + (
    "bridge BR1 200 V 4 A\nT1.s.1 -- BR1.ac1\nBR1.ac2 -- T1.s.2\nBR1.plus -- O\nBR1.minus -- gnd\n"
)
FOUR = HEAD + (
    "T1.s.1 --[D1 200 V]-> O\nT1.s.2 --[D2 200 V]-> O\ngnd --[D3 200 V]-> T1.s.1\n"
    "gnd --[D4 200 V]-> T1.s.2\n"
)


def test_it_is_its_four_diodes() -> None:
    block, four = (solve_states(build_circuit(parse_drawing(t)))["warm"] for t in (BLOCK, FOUR))
    assert block.wave("O").dc == pytest.approx(four.wave("O").dc, rel=1e-9)


def test_the_crest_less_two_drops() -> None:
    """sqrt(2) E - 2 x 0.8 V, less half the ripple (Q = I t, discharge of 10 ms at 50 Hz)."""
    warm = solve_states(build_circuit(parse_drawing(BLOCK)))["warm"]
    sag = 0.32 * 0.01 / 0.01 / 2
    unloaded = math.sqrt(2) * 24 - 1.6 - sag
    assert 0.93 * unloaded < warm.wave("O").dc < unloaded


def test_one_of_its_diodes_may_short() -> None:
    circuit = build_circuit(parse_drawing(BLOCK))
    shorted = FaultSolver(circuit).solve(Fault(SHORT, "BR1.ac1-plus"))
    assert shorted.wave("O").dc < 24
