"""Where a tip that slips does most, in a plan."""

from tests.bench.conftest import circuit_of
from tests.bench.drawings import BIAS

from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.plan.model import DC, OHM, Check
from coldcheck.bench.plan.slipping import slipping


def told(text, *points, unit=DC, other="gnd"):
    circuit = circuit_of(text)
    checks = [Check(point, other, unit, 0.0, None, None) for point in points]
    return list(slipping(circuit, Bench(circuit).expected.solution, checks))


def test_the_worst_bridge_is_told_once():
    """From the grid to the screen, and from the screen to the grid: one bridge."""
    [said] = told(BIAS, "V3.grid", "V3.screen", "V3.plate")
    assert said.count("from V3.grid to V3:4 (screen): V3: ") == 1
    assert "from V3.screen" not in said
    assert "to gnd" not in said


def test_nothing_is_said_where_nothing_passes_a_limit():
    text = "B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k 1 W]-- M --[R2 1k 1 W]-- gnd\n"
    assert told(text, "M") == []


def test_only_what_is_read_with_power_on():
    assert told(BIAS, "V3.grid", unit=OHM) == []
    assert told(BIAS, "V3.grid", other="V3.cathode") == []
