"""Voltages with their ranges."""

from dataclasses import replace
from math import hypot

import pytest

from coldcheck.bench.chart.changed import electrolytics_times, tied, with_parts
from coldcheck.bench.chart.expected import Band, Expected
from coldcheck.drawing.units import quantity
from coldcheck.solve import solve_state

SUPPLY = """\
mains 120 V 60 Hz tolerance 10 %
transformer T1
    primary pri 120 V 2 ohm
    winding ht 200 V 20 ohm
    winding warm 6.3 V 0.1 ohm
T1.ht.1 --[D1 1N4007]-> B1
T1.ht.2 -- gnd
B1 --+[C1 47 uF 450 V]-- gnd
B1 --[R1 10k]-- gnd
T1.warm.1 --[R2 100 ohm]-- T1.warm.2
"""


@pytest.fixture(scope="module")
def supply():
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing

    return build_circuit(parse_drawing(SUPPLY, "supply.tube"))


@pytest.fixture(scope="module")
def expected(supply):
    return Expected(supply)


def test_dc_has_the_spread_of_the_solver(supply, expected):
    spread = solve_state(supply).spread()
    dc = expected.voltages("B1").dc
    assert dc.off == pytest.approx(spread.volts("B1"), rel=1e-6)
    assert dc.high - dc.value == pytest.approx(dc.value - dc.low)


def test_ripple_grows_with_the_mains_and_with_smaller_electrolytics(supply, expected):
    """Both ends of the mains and a fifth less capacitance, each solved by itself."""
    ripple = {
        name: solve_state(supply, name).wave("B1").ac_rms
        for name in ("low line", "warm", "high line")
    }
    line = (ripple["high line"] - ripple["low line"]) / 2 / ripple["warm"]
    smaller = solve_state(electrolytics_times(supply, 0.8)).wave("B1").ac_rms / ripple["warm"] - 1
    assert smaller == pytest.approx(0.25, abs=0.03)  # ripple goes as 1/C
    ac = expected.voltages("B1").ac
    assert ac.off / ac.value == pytest.approx(hypot(line, smaller, 0.1), rel=1e-3)


def test_a_bare_winding_has_only_the_mains_and_its_own_tolerance(expected):
    ac = expected.voltages("T1.ht.1").ac
    assert ac.off / ac.value == pytest.approx(hypot(0.10, 0.03), rel=0.03)


def test_high_line_is_itself_an_end(supply):
    """So the mains are no longer in its range."""
    high, warm = (Expected(supply, name).voltages("B1").dc for name in ("high line", "warm"))
    assert high.value == pytest.approx(1.1 * warm.value, rel=0.01)
    assert high.off < warm.off


def test_a_stated_tolerance_is_taken(circuit):
    drawn = circuit("B1 --+[C1 10 uF 450 V 50 %]-- gnd\nB1 --[C2 10 uF 450 V]-- gnd\n")
    smaller = electrolytics_times(drawn, 0.8)
    assert smaller.branches["C1"].value.m_as("farad") == pytest.approx(5e-6)
    assert smaller.branches["C2"].value.m_as("farad") == pytest.approx(10e-6)
    assert drawn.branches["C1"].value.m_as("farad") == pytest.approx(10e-6)


def test_across_a_floating_winding_there_is_a_voltage(expected):
    """6.3 V at 63 mA over 0.1 ohm, though neither end has one to gnd."""
    assert expected.voltages("T1.warm.1") is None
    assert "floating" in expected.reason("T1.warm.1")
    across = expected.between("T1.warm.1", "T1.warm.2")
    assert across.ac.value == pytest.approx(6.3, rel=0.02)
    assert across.dc.value == pytest.approx(0, abs=1e-3)
    assert expected.between("T1.warm.1", "B1") is None


def test_gnd_is_nothing(expected):
    v = expected.voltages("gnd")
    assert (v.dc.value, v.ac.value, v.peak) == (0, 0, 0)
    assert expected.reason("gnd") == ""


def test_a_state_that_is_not_solved_says_why(circuit):
    drawn = circuit("B1 --+[E1 100 V]-- gnd\nB1 --+[E2 200 V]-- gnd\n")
    found = Expected(drawn)
    assert found.voltages("B1") is None
    assert found.reason("B1") == found.solution.reason != ""


def test_an_unknown_state(supply):
    with pytest.raises(KeyError):
        Expected(supply, "standby S9")


def test_bands():
    assert Band.about(5.0, 1.0) == Band(5.0, 4.0, 6.0)
    assert Band.about(0.5, 1.0, 0.0) == Band(0.5, 0.0, 1.5)
    assert Band.about(5.0, None).off is None


def test_changing_parts(circuit):
    drawn = circuit("B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 1k]-- gnd\n")
    other = replace(drawn.branches["R2"], value=quantity(3e3, "ohm"))
    assert solve_state(with_parts(drawn, [other])).wave("M").dc == pytest.approx(75, rel=1e-3)
    assert solve_state(drawn).wave("M").dc == pytest.approx(50, rel=1e-3)
    with pytest.raises(KeyError):
        with_parts(drawn, [replace(other, name="R9")])
    with pytest.raises(KeyError):
        tied(drawn, "nowhere")
