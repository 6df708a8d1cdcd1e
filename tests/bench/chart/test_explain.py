"""One point explained."""

import numpy as np
import pytest

from coldcheck.bench.chart.explain import explain
from coldcheck.bench.instruments.instruments import AVERAGE_METER, TRUE_RMS_METER


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
