"""One-way curves: each is the inverse of w = v + r i, monotone, with the slopes it states."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.solve.cycle.diodes import Junction, Open, Thermionic, Threshold, Zener

CURVES = [
    Thermionic(1e-4),
    Thermionic(3.2e-3),
    Junction(),
    Threshold(150.0, 0.0),
    Threshold(1.9, 2.0),
    Zener(12.0, 6.0),
    Open(),
]
W = st.lists(st.floats(-3000, 3000), min_size=1, max_size=20).map(lambda x: np.array(x))
R = st.floats(1.0, 1e5)
EACH = pytest.mark.parametrize("curve", CURVES, ids=repr)


@EACH
@given(w=W, r=R)
def test_the_parts_of_w_add_up(curve, w, r):
    v, i, _, _ = curve.solve(w, r)
    assert v + r * i == pytest.approx(w, rel=1e-9, abs=1e-9)


@EACH
@given(w=W, r=R)
def test_slopes_lie_between_zero_and_one_and_add_up(curve, w, r):
    _, _, dv, di = curve.solve(w, r)
    assert np.all((dv >= 0) & (dv <= 1) & (di >= 0))
    assert dv + r * di == pytest.approx(np.ones_like(w), rel=1e-9)


@EACH
@given(w=W, r=R)
def test_both_parts_rise_with_w(curve, w, r):
    v, i, _, _ = curve.solve(np.sort(w), r)
    tiny = 1e-9 * (1 + np.abs(w).max())
    assert np.all(np.diff(v) >= -tiny)
    assert np.all(np.diff(i) * r >= -tiny)


@EACH
@given(w=st.floats(-500, 500), r=R)
def test_stated_slopes_are_those_of_the_curve(curve, w, r):
    kinks = [0.0, getattr(curve, "start", 0.0), -getattr(curve, "volts", 0.0)]
    if min(abs(w - k) for k in kinks) < 0.1:
        w += 0.5 if w >= 0 else -0.5
    if min(abs(w - k) for k in kinks) < 0.1:
        return
    h = 1e-5 * (1 + abs(w))
    v, i, dv, di = curve.solve(np.array([w - h, w, w + h]), r)
    assert (v[2] - v[0]) / (2 * h) == pytest.approx(dv[1], rel=2e-3, abs=1e-5)
    assert r * (i[2] - i[0]) / (2 * h) == pytest.approx(r * di[1], rel=2e-3, abs=1e-5)


@EACH
@given(w=st.floats(-1400, 0.0), r=R)
def test_nothing_flows_backwards_but_in_a_zener(curve, w, r):
    _, i, _, _ = curve.solve(np.array([w]), r)
    assert i[0] == 0 or (isinstance(curve, Zener) and w < -curve.volts)


def test_child_law():
    v, i, _, _ = Thermionic(1e-3).solve(np.array([25.0 + 100 * 0.125]), 100.0)
    assert (v[0], i[0]) == pytest.approx((25.0, 0.125))  # 1e-3 x 25^1.5


def test_silicon_drop_is_the_stated_one():
    """0.72 V at 20 mA, 0.93 V at 1 A: the typical curve of the module's note (memory)."""
    for amps, volts in ((0.02, 0.72), (1.0, 0.93)):
        v, i, _, _ = Junction().solve(np.array([volts + 200 * amps]), 200.0)
        assert i[0] == pytest.approx(amps, rel=1e-3)
        assert v[0] == pytest.approx(volts, abs=0.01)


def test_zener_works_both_ways():
    _, i, _, _ = Zener(12.0, 6.0).solve(np.array([-12.0 - 206 * 0.01, 1.0, -11.9]), 200.0)
    assert i[0] == pytest.approx(-0.01)
    assert i[1] > 1e-3
    assert i[2] == 0
