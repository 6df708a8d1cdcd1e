"""A vibrator is a source across the winding that it chops, as high as its battery.

Outside check: the turns ratio; a reservoir without a load is charged to the peak of its half.
"""

from __future__ import annotations

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states

PACK = """BAT --+[E1 6 V]-- gnd
BAT -- T1.pri.ct
transformer T1
    primary pri 6 V ct 6 V 0.01 ohm
    winding ht 230 V ct 230 V
vibrator VB1 6 V 115 Hz
VB1.c1 -- T1.pri.1
VB1.c2 -- T1.pri.2
VB1.reed -- gnd
T1.ht.1 --[D1 1N4007]-> RES <-[D2 1N4007]-- T1.ht.2
T1.ht.ct -- gnd
RES --+[C1 16 uF 500 V]-- gnd
RES --[R1 1M]-- gnd
T1.ht.1 --[C2 6.8n 2000 V]-- T1.ht.2
"""


def circuit(text: str):
    built = build_circuit(parse_drawing(text))
    assert not built.problems, built.problems
    return built


def test_the_reservoir_is_charged_to_the_battery_times_the_turns() -> None:
    warm = solve_states(circuit(PACK))["warm"]
    assert warm.converged
    assert warm.waves["RES"].dc == pytest.approx(6 * 230 / 6, rel=0.02)
    assert warm.waves["T1.ht.1"].high == pytest.approx(230, rel=0.02)


def test_its_ends_swing_about_the_battery() -> None:
    """Each end of the primary between gnd, when its contact is closed, and twice the battery."""
    made = circuit(PACK)
    wave = solve_states(made)["warm"].waves[made.points["T1.pri.1"]]
    assert (wave.low, wave.dc, wave.high) == pytest.approx((0, 6, 12), abs=0.15)


def test_its_frequency_is_that_of_the_ripple() -> None:
    """A reservoir's ripple goes as one over the frequency, a rule of thumb of every handbook."""
    slow, fast = (
        solve_states(circuit(PACK.replace("115 Hz", hertz).replace("1M", "10k")))["warm"]
        for hertz in ("60 Hz", "120 Hz")
    )
    ratio = slow.waves["RES"].ac_rms / fast.waves["RES"].ac_rms
    assert ratio == pytest.approx(2, rel=0.1)


def test_a_synchronous_one_rectifies_itself() -> None:
    text = PACK.replace("115 Hz", "115 Hz synchronous").split("T1.ht.1 --[D1")[0]
    text += "VB1.s1 -- T1.ht.1\nVB1.s2 -- T1.ht.2\nT1.ht.ct -- RES\n"
    text += "RES --+[C1 16 uF 500 V]-- gnd\nRES --[R1 1M]-- gnd\n"
    found = solve_states(circuit(text))["warm"]
    assert found.waves["RES"].dc == pytest.approx(230, rel=0.02)


def test_an_ohmmeter_sees_no_contact() -> None:
    meter = Ohmmeter(circuit("vibrator VB1 6 V\nVB1.c1 -- A\nVB1.reed -- gnd\nA --[R1 1k]-- gnd\n"))
    assert meter.read("A").nominal == pytest.approx(1e3)
