"""The limits the faulty states are judged by, from both sides and as they stand."""

from __future__ import annotations

import pytest

from coldcheck.bench.faults.fuses import Blown
from coldcheck.bench.faults.judging import Judge, _beyond_touch
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_state

DC = "B1 --+[E1 {} V]-- gnd\nB1 --[R1 10k]-- gnd\n"
AC = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 0.001 ohm
    winding a {} V 1 A 0.001 ohm
T1.a.2 -- gnd
T1.a.1 -- OUT --[R1 {} ohm 100 W]-- gnd
"""


def solved(text):
    drawing = parse_drawing(text, "t.tube")
    circuit = build_circuit(drawing)
    assert not (*drawing.problems, *circuit.problems)
    return circuit, solve_state(circuit, "warm")


@pytest.mark.parametrize(("times", "opens"), [(2.05, False), (2.15, True)])
def test_a_fuse_opens_from_2_1_times_its_rating(times, opens):
    """IEC 60127 (memory)."""
    assert Blown("F1", times).opens is opens


@pytest.mark.parametrize(("volts", "beyond"), [(58, False), (62, True)])
def test_60_v_dc_may_be_touched(volts, beyond):
    circuit, solution = solved(DC.format(volts))
    assert (_beyond_touch(solution, circuit.points["B1"]) > 1) is beyond


@pytest.mark.parametrize(("volts", "beyond"), [(29, False), (31, True)])
def test_30_v_rms_may_be_touched(volts, beyond):
    """42.4 V peak: 29 V rms is 41.0, 31 V rms is 43.8."""
    circuit, solution = solved(AC.format(volts, 1000))
    assert (_beyond_touch(solution, circuit.points["OUT"]) > 1) is beyond


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [(20.0, 6.8, False), (20.0, 6.5, True), (6.4, 5.6, False), (6.4, 5.2, True)],
)
def test_a_winding_is_overloaded_from_half_as_much_again(before, after, told):
    """10 V into 6.8 and 6.5 ohm: 1.47 and 1.54 A of 1 A. From 1.56 A on, 1.2 times that: 1.88 A."""
    circuit, good = solved(AC.format(10, before))
    _, faulty = solved(AC.format(10, after))
    found = list(Judge(circuit, good, {}, 0.0)._windings(faulty))
    assert [f.rule for f in found] == ["fault.winding-overload"] * told
