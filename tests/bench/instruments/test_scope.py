"""Oscilloscope settings and limits, against the worked examples."""

from dataclasses import replace

import numpy as np
import pytest

from coldcheck.bench.instruments.instruments import DC_METER, PROBES, SCOPE, Screen
from coldcheck.bench.instruments.scope import advise, coupling_corner, per_division, step_125, view
from coldcheck.solve.solution import Wave

SINE = np.sin(2 * np.pi * np.arange(256) / 256)
X1, X10, X100 = PROBES


def on(dc, pp):
    return Wave(dc + pp / 2 * SINE)


def test_meas_13_corner_of_ac_coupling():
    """Derived, H: 15.9 nF with 1 Mohm 10 Hz, with 10 Mohm 1 Hz."""
    assert coupling_corner(SCOPE.screen, X1.ohms) == pytest.approx(10, rel=0.002)
    assert coupling_corner(SCOPE.screen, X10.ohms) == pytest.approx(1, rel=0.002)


def test_meas_14_and_15_the_input_by_default():
    """Found, H: 300 V rms, and 400 V DC + peak AC on the older input; the lower of each kind."""
    assert (SCOPE.max_rms, SCOPE.max_volts, SCOPE.ohms) == (300, 400, 1e6)
    assert SCOPE.confidence == "found"


def test_meas_14_the_blocked_dc_counts():
    """Found, H: 310 V of DC behind AC coupling is above 300 V rms, whatever the ripple."""
    seen = view(SCOPE, X1, on(310, 2), "AC")
    assert "rms" in seen.over
    assert seen.input_volts == pytest.approx(311)
    assert seen.divisions < 8


def test_the_blocked_dc_stands_behind_an_attenuating_probe_in_full():
    """Derived: no direct current, so no drop in the probe's resistor."""
    seen = view(SCOPE, X10, on(310, 2), "AC")
    assert seen.input_volts == pytest.approx(310.1)
    assert "rms" in seen.over
    assert view(SCOPE, X10, on(310, 2), "DC").input_volts == pytest.approx(31.1)


@pytest.mark.parametrize(("divisions", "full"), [(8, 400), (10, 500)], ids=["eight", "ten"])
def test_meas_17_and_18_the_screen(divisions, full):
    """Derived, H: 300 V DC-coupled at 50 V a division is 6 divisions; the screen holds 400, 500."""
    scope = replace(SCOPE, screen=Screen(divisions, probes=PROBES))
    seen = view(scope, X10, on(300, 20), "DC")
    assert seen.per_division == 50
    assert 300 / seen.per_division == 6
    assert seen.per_division * divisions == full
    assert seen.fits


def test_meas_17_ripple_needs_ac_coupling():
    """Derived, H: 20 V peak to peak: 0.4 divisions on DC, 4 divisions at 5 V on AC."""
    advice = advise(SCOPE, on(290, 20))
    assert advice.dc.ripple_divisions == pytest.approx(0.4, rel=0.01)
    assert advice.ac_needed
    assert (advice.ac.per_division, advice.ac.divisions) == (5, pytest.approx(4, rel=0.01))


def test_meas_19_a_bare_input_on_450_volts():
    """Derived, H: beyond 300 and 400 V; x10 presents 45 V and stands 450 V within its 600 V."""
    wave = on(450, 4)
    bare = view(SCOPE, X1, wave, "DC")
    assert {"input", "rms"} <= set(bare.over)
    tenth = view(SCOPE, X10, Wave(np.full(4, 450.0)), "DC")
    assert tenth.input_volts == pytest.approx(45)
    assert tenth.tip_volts < X10.max_volts
    assert tenth.safe
    assert not tenth.fits  # 8 x 50 V: the trace wants x100
    assert advise(SCOPE, wave).dc.probe == X100


def test_a_probe_has_a_rating_of_its_own():
    seen = view(SCOPE, X10, on(700, 2), "DC")
    assert "probe" in seen.over
    assert "input" not in seen.over
    assert advise(SCOPE, on(700, 2)).dc.probe == X100


def test_small_ripple_is_worth_a_straight_probe():
    """4 mV peak to peak: a fifth of the least division of x10, but visible with x1."""
    advice = advise(SCOPE, on(100, 4e-3))
    assert advice.ac.probe == X1
    assert advice.ac.ripple_divisions >= 0.5


def test_nothing_is_called_safe_when_nothing_is():
    advice = advise(SCOPE, on(2000, 10))
    assert not advice.dc.safe
    assert not advice.ac.safe


def test_both_polarities_share_the_screen():
    """A sine about gnd: from the lowest to the highest instant."""
    seen = view(SCOPE, X10, on(0, 30), "DC")
    assert seen.per_division == 5
    assert seen.divisions == pytest.approx(6, rel=1e-3)


@pytest.mark.parametrize(
    ("volts", "step"), [(37.5, 50), (50, 50), (50.1, 100), (0.012, 0.02), (1, 1), (2.0001, 5)]
)
def test_steps(volts, step):
    assert step_125(volts) == pytest.approx(step)


def test_a_scope_has_only_so_many_steps():
    assert per_division(SCOPE.screen, X1, 1e-6) == pytest.approx(2e-3)
    assert per_division(SCOPE.screen, X1, 1e4) == pytest.approx(5)


def test_a_meter_has_no_screen():
    with pytest.raises(ValueError, match="no screen"):
        advise(DC_METER, on(1, 1))
