"""Stages that oscillate, and whose volts nobody can foretell."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.running import keeps_going, running
from coldcheck.bench.diagnosis.judged import JudgeReadings
from coldcheck.bench.diagnosis.readings import DC, Reading
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import solve_state

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


def judged(of: Circuit, point: str, value: float, kind: str = DC) -> str:
    reading = Reading(point, of.points[point], kind, value)
    return JudgeReadings(of).one(reading).verdict


def test_a_stage_with_a_divider_of_capacitors() -> None:
    (stage,) = running(circuit(COLPITTS.format(leak="47k")))
    assert stage.section.name == "V1"
    assert stage.nets == {"V1.grid", "V1.plate", "V1.cathode"}
    assert (stage.grids, stage.leak and stage.leak.name) == ({"V1.grid"}, "R3")


@pytest.mark.parametrize(
    ("leak", "milliamperes"),
    [
        # data sheets of the 6BE6 and 6SA7: 0.5 mA through 20 kohm; of the 1R5: 0.25 mA through
        # 100 kohm (from memory)
        ("20k", 0.5),
        ("100k", 0.25),
    ],
)
def test_the_range_holds_what_sheets_have_of_converters(leak: str, milliamperes: float) -> None:
    (stage,) = running(circuit(CONVERTER.format(leak=leak)))
    assert stage.nets == stage.grids == {"V1.grid"}
    assert stage.volts is not None
    low, high = stage.volts
    assert low <= -milliamperes * float(leak[:-1]) <= high < 0


@pytest.mark.parametrize(
    ("leak", "known"), [("9.9k", False), ("10k", True), ("100k", True), ("101k", False)]
)
def test_the_leaks_that_practice_is_about(leak: str, known: bool) -> None:
    (stage,) = running(circuit(CONVERTER.format(leak=leak)))
    assert (stage.volts is not None) is known


@pytest.mark.parametrize("side", ["right", "wrong"])
def test_a_winding_turned_round_keeps_nothing_going(side: str) -> None:
    found = running(pair("signal.oscillator-in-phase/tickler", side))
    assert [s.section.name for s in found] == (["V1"] if side == "right" else [])


@pytest.mark.parametrize("side", ["right", "wrong"])
def test_a_tickler_too_small_keeps_nothing_going(side: str) -> None:
    of = pair("signal.oscillator-too-weak/coil", side)
    (stage,) = running(of)
    assert keeps_going(solve_state(of), stage) is (side == "right")
