"""Stages that oscillate, and whose volts nobody can foretell."""

from __future__ import annotations

import pytest
from tests.anatomy.oscillating import (
    COLPITTS,
    CONVERTER,
    FILTERED,
    MILLER,
    PIERCE,
    circuit,
    pair,
)

from coldcheck.anatomy.running import keeps_going, running
from coldcheck.bench.chart.expected import Expected
from coldcheck.solve.engine import solve_state


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


@pytest.mark.parametrize("drawn", [PIERCE, MILLER])
def test_a_crystal_at_the_grid_keeps_a_stage_going(drawn: str) -> None:
    of = circuit(drawn)
    (stage,) = running(of)
    assert (stage.section.name, stage.crystal and stage.crystal.name) == ("V1", "Y1")
    assert (stage.leak and stage.leak.name, "V1.plate" in stage.nets) == ("R1", True)
    assert keeps_going(solve_state(of), stage)
    said = Expected(of).reason("V1.grid")
    assert said.startswith(f"V1, with Y1{' at 7.1 MHz' if drawn is PIERCE else ''}, oscillates")


@pytest.mark.parametrize(
    "drawn",
    [
        FILTERED,
        MILLER + "signal IN 0.1 V 1 kHz\nIN --[C9 10n 100 V]-- V1.grid\n",
        MILLER.replace("V1.grid --[Y1 crystal]-- gnd", "B1 --[Y1 crystal]-- gnd"),
    ],
)
def test_a_crystal_in_a_filter_or_elsewhere_keeps_nothing_going(drawn: str) -> None:
    assert not running(circuit(drawn))
