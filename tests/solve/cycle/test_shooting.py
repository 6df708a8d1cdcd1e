"""Marching and shooting against the other way to the same periodic answer, and their parts."""

import numpy as np
import pytest

from coldcheck.solve.cycle.assembly import Assembly, Parts
from coldcheck.solve.cycle.marching import March
from coldcheck.solve.cycle.shooting import by_shooting
from coldcheck.solve.setting import Setting
from coldcheck.solve.states import states_of

INSTANTS = 32

HALF_WAVE = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 200 V 200 mA 300 ohm
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 -- gnd
RES --+[C1 20 uF]-- gnd
RES --[L1 8 H 250 ohm]-- B1
B1 --+[C2 20 uF]-- gnd
tube V1 12AX7
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C3 25 uF]-- gnd
V1A.grid --[R3 1M]-- gnd
tube V2 EL84
output OT1 5k : 8 ohm 250 ohm
B1 -- OT1.p1
OT1.p2 -- V2.plate
OT1.s2 -- gnd
OT1.s1 --[LS1 speaker 8 ohm]-- OT1.s2
B1 --[R4 100 ohm]-- V2.screen
V2.cathode --[R5 130 ohm]-- gnd
V2.cathode --+[C5 25 uF]-- gnd
V1A.plate --[C4 22 nF]-- V2.grid
V2.grid --[R6 470k]-- gnd
"""
"""A half-wave supply: the winding's DC is carried by a mean mmf of the core."""

BENCH = """
RES --+[E1 250 V]-- gnd
RES --[R1 47k]-- V1A.plate
tube V1 12AU7
V1A.cathode --[R2 1k]-- gnd
V1A.cathode --+[C2 25 uF]-- gnd
V1A.grid --[R3 1M]-- gnd
"""


@pytest.fixture(scope="module")
def cycle_of(circuit_of):
    def build(text):
        circuit = circuit_of(text)
        return Assembly(Parts(circuit), INSTANTS).cycle(Setting(states_of(circuit)[0]))

    return build


@pytest.mark.parametrize("text", [HALF_WAVE, BENCH])
def test_shooting_arrives_at_the_answer_of_mean_values_and_corrections(cycle_of, text):
    cycle = cycle_of(text)
    nets = len(cycle.network.nets)
    expected, got = cycle.solve(), by_shooting(cycle)
    assert got.residual <= 1e-9 * (1 + got.largest)
    assert got.unknowns[:nets] == pytest.approx(expected.unknowns[:nets], rel=1e-5, abs=1e-4)


def test_from_a_known_answer_the_first_cycles_repeat(cycle_of):
    cycle = cycle_of(HALF_WAVE)
    answer = cycle.solve()
    assert by_shooting(cycle, answer.unknowns).steps <= 4


def test_the_slope_of_a_cycle_is_the_difference_of_two(cycle_of):
    march = March(cycle_of(HALF_WAVE))
    state, points = march.beginning(None)
    for _ in range(3):
        lap = march.lap(state, points, alike=False)
        state, points = lap.after, lap.points
    lap = march.lap(state, points, alike=False)
    for k in range(march.size):
        nudge = 1e-4 * march.scale[k] * np.eye(march.size)[k]
        more, less = (march.lap(state + s * nudge, points, alike=False) for s in (1, -1))
        slope = (more.after - less.after) / (2e-4 * march.scale[k])
        ratio = march.scale[k] / march.scale
        assert slope * ratio == pytest.approx(lap.slope[:, k] * ratio, rel=1e-3, abs=1e-4)


def test_a_jump_follows_stray_capacitances_to_an_answer(cycle_of):
    march = March(cycle_of(HALF_WAVE))
    _, points = march.beginning(None)
    open_volts = march.at.T @ march.open[:, INSTANTS // 4]
    straight, jumped = march._newton(open_volts, points[0], 0.0), march._jump(open_volts, points[0])
    assert jumped.volts == pytest.approx(straight.volts, rel=1e-6, abs=1e-6)
