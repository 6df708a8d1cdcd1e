"""The current through somebody, against the network of IEC 60990 put together part by part."""

from __future__ import annotations

import numpy as np
import pytest

from coldcheck.bench.faults.touch import Touch, from_mains, touch_current
from coldcheck.solve.solution import Wave

ANGLES = 2 * np.pi * np.arange(64) / 64


def by_parts(volts, hertz):
    """1500 ohm with 0.22 uF across it, 500 ohm in series; 10 kohm and 22 nF; over 500 ohm."""
    w = 2j * np.pi * hertz
    skin = 1 / (1 / 1500 + w * 0.22e-6)
    first = volts * 500 / (500 + skin)
    second = first * (1 / (w * 22e-9)) / (10e3 + 1 / (w * 22e-9))
    return abs(second) / 500


@pytest.mark.parametrize("hertz", [50.0, 60.0, 1000.0])
def test_a_sine(hertz):
    found = touch_current("A", Wave(10 * 2**0.5 * np.sin(ANGLES)), hertz)
    assert found.ac == pytest.approx(by_parts(10, hertz), rel=1e-9)
    assert found.dc == pytest.approx(0, abs=1e-12)


def test_direct_current_goes_through_two_kilohm():
    assert touch_current("A", Wave(np.full(64, 60.0)), 50.0).dc == pytest.approx(0.03)


def test_harmonics_are_minded_less_and_added_by_their_squares():
    wave = Wave(2**0.5 * (10 * np.sin(ANGLES) + 5 * np.sin(10 * ANGLES)))
    wanted = np.hypot(by_parts(10, 60), by_parts(5, 600))
    assert touch_current("A", wave, 60.0).ac == pytest.approx(wanted, rel=1e-9)


def test_through_a_resistance_from_the_mains():
    found = from_mains("chassis", 132.0, 220e3)
    assert found.ac == pytest.approx(132 / 222e3)
    assert found.felt
    assert not found.harmful


@pytest.mark.parametrize(
    ("dc", "ac", "felt", "harmful"),
    [
        (1.9e-3, 0, False, False), (2.1e-3, 0, True, False), (-2.1e-3, 0, True, False),
        (0, 0.49e-3, False, False), (0, 0.51e-3, True, False),
        (24e-3, 0, True, False), (-26e-3, 0, True, True),
        (0, 4.9e-3, True, False), (0, 5.1e-3, True, True),
    ],
)  # fmt: skip
def test_the_limits_of_both_classes(dc, ac, felt, harmful):
    """IEC 62368-1, ES1 and ES2 (memory)."""
    found = Touch("A", dc, ac)
    assert (found.felt, found.harmful) == (felt, harmful)
