"""Source resistances: by hand, and by putting the meter into the drawing and solving again."""

import pytest

from coldcheck.bench.chart.sources import Sources
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.bench.instruments.measure import Source, show
from coldcheck.solve import solve_state

DIVIDER = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1M]-- M --[R2 1M]-- gnd\n"
STAGE = """\
B1 --+[E1 300 V]-- gnd
tube V1 12AX7
B1 --[R1 220k]-- V1A.plate
V1A.cathode --[R2 2k2]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""


def test_a_divider_is_its_resistors_in_parallel(circuit):
    sources = Sources(solve_state(circuit(DIVIDER)))
    assert sources.ohms("M") == pytest.approx(500e3, rel=1e-4)
    assert sources.ohms("B1", "M") == pytest.approx(500e3, rel=1e-4)
    assert sources.ohms("gnd") == 0
    assert sources.reason == ""


@pytest.mark.parametrize(
    ("text", "net", "tolerance"), [(DIVIDER, "M", 1e-4), (STAGE, "V1A.plate", 2e-3)]
)
def test_loading_against_the_drawing_with_the_meter_in_it(circuit, text, net, tolerance):
    """The first is 47.6 V. A tube's plate bends a little between the two readings."""
    solution = solve_state(circuit(text))
    found = Source(Sources(solution).ohms(net), None)
    shown = show(DC_METER, solution.wave(net), found).shown
    loaded = solve_state(circuit(f"{text}{net} --[R99 10M]-- gnd\n")).wave(net).dc
    assert shown == pytest.approx(loaded, rel=tolerance)
    assert loaded < 0.99 * solution.wave(net).dc


def test_a_capacitor_lowers_the_impedance_at_mains_frequency(circuit):
    """470k across 1 uF at 60 Hz: 2653 ohm."""
    drawn = circuit(
        "mains 120 V 60 Hz\nB1 --+[E1 100 V]-- gnd\nB1 --[R1 470k]-- M --[C1 1 uF]-- gnd\n"
    )
    sources = Sources(solve_state(drawn))
    assert sources.ohms("M") == pytest.approx(470e3, rel=1e-3)
    assert abs(sources.impedance("M", "gnd", 60.0)) == pytest.approx(2652.6, rel=1e-3)


def test_what_is_not_known_has_no_resistance(circuit):
    drawn = circuit("B1 --+[E1 9 V]-- gnd\nB1 --[R1 ?]-- M --[R2 1k]-- gnd\n")
    sources = Sources(solve_state(drawn))
    assert sources.ohms("M") is None
    assert "R1" in sources.reason


def test_a_net_without_a_voltage_has_none(circuit):
    drawn = circuit("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\nX1 --[R2 1k]-- X2\n")
    assert Sources(solve_state(drawn)).ohms("X1") is None
