"""Choke input on either side of the critical load; the rest of the filters is in the tables."""

import math

import pytest
from tests.published.bench import solved
from tests.published.filters import choke_current, rectifier


def test_critical_choke_of_10_henry_at_50_hertz():
    """RL/942 at 50 Hz, so 9.42 kohm for 10 H; derived (2f term only, so 5 % of leeway)."""
    assert 6 * math.pi * 50 * 10 == pytest.approx(9420, rel=0.001)


@pytest.mark.parametrize(("load", "flows"), [(8500, True), (10500, False)])
def test_current_flows_all_the_time_only_below_the_critical_load(load, flows):
    """The same from both sides: 9.42 kohm is the largest load of a 10 H choke at 50 Hz."""
    amps = choke_current(load, 10, 50)
    assert (amps.low > 1e-3 * amps.dc) is flows


def test_output_climbs_above_the_critical_load():
    """From 0.9 E towards 1.414 E (found: an encyclopedia article on ripple)."""
    text = rectifier(50, 445.0, 2.0) + "RES --[L1 10 H 1 ohm]-- B1 --+[C1 100 uF]-- gnd\n"
    loads = (5e3, 3e4, 3e5, 1e7)
    volts = [solved(text + f"B1 --[R1 {x} ohm]-- gnd\n").wave("B1").dc / 445 for x in loads]
    assert volts[0] == pytest.approx(0.9, abs=0.01)
    assert volts == sorted(volts)
    assert 1.25 < volts[-1] < 1.415
