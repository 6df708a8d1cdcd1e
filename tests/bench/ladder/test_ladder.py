"""The figures of the ladder are those of the states, and its windows those of the review."""

from __future__ import annotations

from functools import cache
from math import isinf
from pathlib import Path

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.ladder.ladder import ladder
from coldcheck.drawing import read_drawing
from coldcheck.settings.apply import circuit_of
from coldcheck.solve import solve_states

SAMPLES = Path(__file__).parents[3] / "samples"
NAMES = ("harbour-light", "breakwater", "low-tide", "coal-wharf")
PAIR = SAMPLES / "mistakes" / "heater.cathode-stress"


@cache
def solved(path):
    circuit = circuit_of(read_drawing(path))
    return Case(circuit, solve_states(circuit))


def sample(name):
    return solved(SAMPLES / f"{name}.tube")


@pytest.mark.parametrize("name", NAMES)
def test_every_rung_stands_where_its_nets_do(name) -> None:
    case = sample(name)
    for column in ladder(case).columns:
        waves = case.solutions[column.state].waves
        by_name = {shown_name(case.circuit, net): wave for net, wave in waves.items()}
        told = [n for rung in column.rungs for n in rung.names]
        assert len(told) == len(set(told))
        for rung in column.rungs:
            for net in rung.names:
                wave = by_name[net]
                assert (rung.dc, rung.low, rung.high) == pytest.approx(
                    (wave.dc, wave.low, wave.high), abs=0.051
                )
        assert [r.dc for r in column.rungs] == sorted((r.dc for r in column.rungs), reverse=True)


@pytest.mark.parametrize("name", NAMES)
def test_no_electrode_that_stands_on_a_level_is_left_out(name) -> None:
    case = sample(name)
    found = ladder(case)
    for column in found.columns:
        told = {n for rung in column.rungs for n in rung.names} | set(found.left_out)
        for section in case.circuit.sections():
            for electrode, net in section.electrodes.items():
                if len(case.circuit.at(net)) > 1 and net in case.solutions[column.state].waves:
                    assert shown_name(case.circuit, net) in told, (section.name, electrode)


@pytest.mark.parametrize("name", NAMES)
def test_what_all_boxes_have_in_common_is_the_window(name) -> None:
    """Over every state with all tubes in; the thick ends are the two that close it."""
    case = sample(name)
    steady = [s.state.name for s in case.solved() if not s.state.pulled]
    found = ladder(case, steady)
    boxes = [x.window for c in found.columns for x in c.links if x.window is not None]
    assert found.windows
    for whole in found.windows:
        own = [b for b in boxes if b.line == whole.winding]
        least = max((b.least for b in own if b.least is not None), default=float("-inf"))
        most = min((b.most for b in own if b.most is not None), default=float("inf"))
        assert least == pytest.approx(whole.room.least)
        assert most == pytest.approx(whole.room.most)
        assert sum(b.sets_least for b in own) == (not isinf(least))
        assert sum(b.sets_most for b in own) == (not isinf(most))


def test_the_states_that_tell_most() -> None:
    """Cold, warm, high line; what closes the window is among them; a tube that is no rectifier."""
    found = ladder(sample("harbour-light"))
    assert [c.state for c in found.columns] == ["cold", "warm", "high line", "pulled V2"]
    (window,) = found.windows
    assert {window.room.low.state, window.room.high.state} <= {c.state for c in found.columns}


def test_a_cathode_that_left_the_window() -> None:
    """201 V of cathode over a winding on gnd: outside when warm, inside while cold."""
    wrong = {c.state: c for c in ladder(solved(PAIR / "wrong.tube")).columns}
    assert [x.section for x in wrong["warm"].links if x.window.outside] == ["V1A"]
    assert not any(x.window.outside for x in wrong["cold"].links)
    for column in ladder(solved(PAIR / "right.tube")).columns:
        assert not any(x.window.outside for x in column.links if x.window is not None)


def test_a_pulled_tube_has_no_link() -> None:
    (column,) = ladder(sample("harbour-light"), ["pulled V2"]).columns
    assert [x.section for x in column.links] == ["V1A", "V1B", "V3"]


def test_the_live_ends_of_a_winding_are_named_and_not_drawn() -> None:
    found = ladder(sample("harbour-light"))
    assert {"T1.ht.1", "T1.ht.2"} <= set(found.left_out)
    rungs = {n for c in found.columns for r in c.rungs for n in r.names}
    assert not rungs & set(found.left_out)
    assert "T1.warm.1" in rungs
