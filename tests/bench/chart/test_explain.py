"""One point explained."""

import numpy as np
import pytest
from tests.bench.drawings import BIAS, LIVE

from coldcheck.bench.chart.explain import explain
from coldcheck.bench.instruments.instruments import (
    ANALOGUE_METER,
    AVERAGE_METER,
    DC_METER,
    TRUE_RMS_METER,
)


@pytest.fixture(scope="module")
def reservoir(harbour):
    return explain(harbour, "V3.f2")


def test_names_and_way(reservoir):
    assert set(reservoir.names) == {"RES", "T1.fil.2"}
    assert reservoir.through == ("L1", "R1", "R8", "R9")
    assert reservoir.clip_there
    assert reservoir.clips[1].kind == "short"


def test_meters_read_the_wave(reservoir):
    """Against the samples themselves."""
    samples = reservoir.wave.samples
    by = {s.instrument: s for s in reservoir.shown}
    assert by[TRUE_RMS_METER].unloaded == pytest.approx(np.std(samples))
    average = np.pi / np.sqrt(8) * np.mean(np.abs(samples - np.mean(samples)))
    assert by[AVERAGE_METER].unloaded == pytest.approx(average)
    assert by[AVERAGE_METER].unloaded < by[TRUE_RMS_METER].unloaded


def test_between_two_points_the_difference_is_read(harbour):
    found = explain(harbour, "RES", "B1")
    wave = harbour.expected.solution.between("RES", "B1")
    assert found.wave.dc == pytest.approx(wave.dc)
    assert found.ohms.nominal == pytest.approx(250)
    assert not found.clip_there
    assert found.highest_to_gnd > 280
    assert found.channels[0].dc.tip_volts == pytest.approx(found.highest_to_gnd)
    assert found.scopes[0].dc.tip_volts < 25
    assert found.volts.dc.off < harbour.expected.voltages("RES").dc.off


def test_a_point_without_a_voltage(bench):
    found = explain(bench("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\nX1 --[R2 1k]-- X2\n"), "X1")
    assert found.wave is None
    assert found.volts is None
    assert "floating" in found.reason
    assert found.shown == ()
    assert found.scopes == ()
    assert found.clips[1].kind == "floating"


def test_the_mains(harbour, galley):
    assert explain(harbour, "line", "neutral").mains
    assert not explain(harbour, "RES").mains
    assert explain(galley, "RES").mains
    assert not explain(galley, "RES").clip_there


def test_an_unknown_point(harbour):
    with pytest.raises(KeyError):
        explain(harbour, "B9")


PEAK = 120 * np.sqrt(2) * 1.1
"""Of the mains at their upper end."""


@pytest.mark.parametrize(
    ("point", "as_drawn", "turned"), [("chassis", 0, PEAK), ("line", PEAK, 0), ("gnd", 0, PEAK)]
)
def test_against_earth_in_both_positions_of_the_plug(bench, point, as_drawn, turned):
    """From gnd the metal stands at nothing; with the plug turned at all of the mains."""
    found = explain(bench(LIVE), point)
    assert found.live
    assert found.earth.as_drawn == pytest.approx(as_drawn, rel=0.01, abs=0.1)
    assert found.earth.turned == pytest.approx(max(turned, PEAK), rel=0.01)  # gnd itself does
    assert found.earth.worst == pytest.approx(PEAK, rel=0.01)


def test_the_neutral_of_a_set_with_a_transformer_may_be_the_line(harbour):
    """0 V from gnd as drawn; the ranges and ratings count the other way round."""
    found = explain(harbour, "neutral")
    assert not found.live
    assert found.earth.as_drawn == pytest.approx(0, abs=0.1)
    assert found.earth.turned == pytest.approx(PEAK, rel=0.01)
    assert all(s.peak == pytest.approx(PEAK, rel=0.01) for s in found.shown)


@pytest.mark.parametrize("points", [("line",), ("chassis",), ("B1",), ("B1", "A"), ("gnd",)])
def test_no_scope_set_up_on_the_mains(bench, points):
    found = explain(bench(LIVE), *points)
    assert (found.scopes, found.channels, found.clip_there) == ((), (), False)


def test_nor_on_the_mains_of_a_set_with_a_transformer(harbour):
    for points in (("line",), ("FUSED", "B1"), ("line", "neutral")):
        found = explain(harbour, *points)
        assert (found.scopes, found.channels, found.clip_there) == ((), (), False)


def test_ranges_hold_what_stands_before_the_tubes_draw(bench):
    """A plate at some 90 V is at all of the 250 V while the cathode is cold, and above 250."""
    text = "tube V1 12AX7\nB1 --+[E1 260 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
    text += "V1A.grid --[R2 1M]-- gnd\nV1A.cathode --[R3 470 ohm]-- gnd\n"
    found = explain(bench(text), "V1A.plate")
    (needle,) = (s for s in found.shown if s.instrument is ANALOGUE_METER)
    assert needle.unloaded < 200
    assert needle.peak == pytest.approx(260, rel=1e-3)
    assert needle.range == 1000.0
    assert found.highest_to_gnd == pytest.approx(260, rel=1e-3)


def test_a_needle_that_takes_the_bias_away_is_not_put_on_a_grid(bench):
    """1 Mohm on 34.4 V behind 230 k takes a fifth of the bias; 10 Mohm a fiftieth."""
    text = BIAS.replace("NEG --[E2 50 V]+-- gnd", "NEG --[E2 64 V]+-- gnd")
    found = explain(bench(text), "V3.grid")
    (needle,) = (s for s in found.shown if s.instrument is ANALOGUE_METER)
    (digital,) = (s for s in found.shown if s.instrument is DC_METER)
    assert needle.loading > 0.15
    assert (needle.over, needle.range) == (("loading",), None)
    assert needle.harm[0].at[0] == "V3"  # with the parts that set its bias
    assert (digital.over, digital.harm) == ((), ())
