"""What meters show, against the worked examples on AC superposed on DC.

Each row says how sure its source is. The average-responding figure of the half wave is printed
as 0.764 in the meter's table; exactly it is 0.7794, so the table is 2 % low and the exact value is
what is held here.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from coldcheck.bench.instruments.instruments import (
    ANALOGUE_METER,
    AVERAGE,
    AVERAGE_METER,
    BENCH_AC_METER,
    DC_DIGITS,
    DC_METER,
    MEAN,
    SCOPE,
    TRUE_RMS,
    TRUE_RMS_METER,
    TUBE_VOLTMETER,
)
from coldcheck.bench.instruments.measure import (
    PICKED_UP,
    STRAY_VOLTS,
    Source,
    accuracy,
    divided,
    floor,
    responds,
    show,
)
from coldcheck.solve.solution import Wave

TURN = 2 * np.pi * np.arange(4096) / 4096
SINE = np.sqrt(2) * np.sin(TURN)
SHAPES = {
    "full wave": np.abs(SINE),
    "triangle": 1.732 * (2 / np.pi) * np.arcsin(np.sin(TURN)),
    "half wave": 2 * np.maximum(np.sin(TURN), 0),
    "square": np.sign(np.pi - TURN - 1e-9),
    "sawtooth": TURN / (2 * np.pi),
    "sine": SINE,
}
SHOWN = [
    # shape, response, volts, tolerance, confidence
    ("full wave", MEAN, 0.900, 0.001, "found H"),
    ("full wave", TRUE_RMS, 0.435, 0.002, "found H"),
    ("full wave", AVERAGE, 0.421, 0.002, "found H"),
    ("triangle", TRUE_RMS, 1.000, 0.001, "found H"),
    ("triangle", AVERAGE, 0.960, 0.003, "found H"),
    ("half wave", MEAN, 0.636, 0.002, "found M"),
    ("half wave", TRUE_RMS, 0.771, 0.001, "found M"),
    ("half wave", AVERAGE, 0.7794, 0.001, "derived H"),
    ("square", TRUE_RMS, 1.000, 0.001, "found H"),
    ("square", AVERAGE, 1.110, 0.001, "found H"),
    ("sawtooth", TRUE_RMS, 0.2887, 0.001, "derived H"),
    ("sawtooth", AVERAGE, 0.2777, 0.001, "derived H"),
    ("sine", AVERAGE, 1.000, 0.001, "derived H"),
]


@pytest.mark.parametrize(
    ("shape", "response", "volts", "tolerance"),
    [row[:4] for row in SHOWN],
    ids=[f"{row[0]} {row[1]} ({row[4]})" for row in SHOWN],
)
def test_responses(shape, response, volts, tolerance):
    assert responds(response, Wave(SHAPES[shape])) == pytest.approx(volts, rel=tolerance)


def test_meas_11_a_dc_range_shows_the_dc_alone():
    """Derived, H: DC with symmetrical AC on it."""
    assert show(DC_METER, Wave(300 + 10 * SINE)).shown == pytest.approx(300)


@pytest.mark.parametrize("dc", [0.0, 300.0, -150.0])
def test_meas_12_an_ac_range_shows_the_ac_but_stands_the_dc(dc):
    """Memory, H: the blocking capacitor takes the DC; the rating of the input counts both."""
    wave = Wave(dc + 10 * SINE)
    for meter in (AVERAGE_METER, TRUE_RMS_METER):
        shown = show(meter, wave)
        assert shown.shown == pytest.approx(10, rel=1e-3)
        assert shown.peak == pytest.approx(abs(dc) + 14.14, rel=1e-3)
        assert shown.rms == pytest.approx(np.hypot(dc, 10), rel=1e-3)


def test_meas_21_loading_of_a_high_divider():
    """Derived, H: 1 M over 1 M on 100 V is a source of 500 k: 47.6 V on 10 M, 4.8 % low."""
    shown = show(DC_METER, Wave(np.full(8, 50.0)), Source(500e3, 500e3))
    assert shown.shown == pytest.approx(47.6, abs=0.05)
    assert shown.loading == pytest.approx(0.048, abs=0.001)
    assert shown.loading_known


@pytest.mark.parametrize(
    ("volts", "span", "ohms"), [(1.5, 2.5, 50e3), (48.0, 50.0, 1e6), (280.0, 1000.0, 20e6)]
)
def test_an_analogue_meter_loads_by_its_range(volts, span, ohms):
    """20 000 ohm for each volt of the range (common practice)."""
    shown = show(ANALOGUE_METER, Wave(np.full(4, volts)), Source(100e3, 100e3))
    assert (shown.range, shown.ohms) == (span, ohms)
    assert shown.shown == pytest.approx(volts * ohms / (ohms + 100e3))
    assert shown.high - shown.shown == pytest.approx(0.03 * span)


def test_ac_is_loaded_by_the_impedance():
    """1 Mohm on a purely capacitive source of the same size: 1 / sqrt 2."""
    shown = show(BENCH_AC_METER, Wave(5 * SINE), Source(0.0, -1e6j))
    assert shown.shown == pytest.approx(5 / np.sqrt(2), rel=1e-6)
    assert divided(1e6, None) == 1.0


def test_what_is_not_known_is_not_taken_off():
    shown = show(DC_METER, Wave(np.full(4, 50.0)), Source(None, None))
    assert (shown.shown, shown.loading_known) == (50.0, False)


@pytest.mark.parametrize(
    ("meter", "dc", "ac", "over"),
    [
        (DC_METER, 900, 0, ()),
        (DC_METER, 990, 10, ("peak",)),
        (TRUE_RMS_METER, 500, 10, ()),
        (TRUE_RMS_METER, 599, 100, ("rms",)),
        (BENCH_AC_METER, 290, 10, ()),
        (BENCH_AC_METER, 395, 10, ("peak", "rms")),
        (ANALOGUE_METER, 1100, 0, ("peak", "rms", "range")),
    ],
)
def test_limits_count_the_dc(meter, dc, ac, over):
    assert show(meter, Wave(dc + ac * SINE)).over == over


def test_accuracy_is_of_the_reading_and_of_the_range():
    # 1 % of the reading and three of 6000 steps of the range: 600 V, 60 V, 0.6 V
    assert accuracy(DC_METER, 200.0) == pytest.approx(2.0 + 0.3)
    assert accuracy(DC_METER, 12.0) == pytest.approx(0.12 + 0.03)
    assert accuracy(DC_METER, 0.046) == pytest.approx(0.00046 + 0.0003)
    assert accuracy(ANALOGUE_METER, 30.0) == pytest.approx(1.5)


def test_the_range_holds_the_peak_and_lets_a_thousandth_of_the_ac_through():
    # 46 mV with 100 V rms of AC: the range of 600 V, in steps of 0.1 V; 60 dB leave 0.1 V
    assert accuracy(DC_METER, 0.046, 141.0, 100.0) == pytest.approx(0.00046 + 0.3 + 0.1)
    assert DC_METER.resolution(0.046) == pytest.approx(1e-4)
    assert DC_METER.resolution(0.61) == pytest.approx(1e-3)
    assert DC_METER.resolution(5000.0) == pytest.approx(1000 / 6000)


def test_a_step_is_that_of_the_smallest_range_that_holds_the_reading():
    for below, above in pairwise(DC_DIGITS.ranges):
        assert DC_METER.resolution(below) == pytest.approx(below / 6000)
        assert DC_METER.resolution(below * 1.001) == pytest.approx(above / 6000)


def test_the_floor_grows_with_what_is_behind_the_tips():
    assert floor(MEAN, 0.0) == STRAY_VOLTS
    assert floor(MEAN, 1e6) == pytest.approx(0.04, rel=1e-3)
    assert floor(TRUE_RMS, 0.0) == PICKED_UP
    # a picofarad at 50 Hz is 3.18 Gohm: 230 V drive 72 nA through it
    assert floor(TRUE_RMS, 1e6) == pytest.approx(230 * 2 * np.pi * 50 * 1e-12 * 1e6, rel=0.05)


def test_a_tube_voltmeter_loads_alike_on_every_range():
    # 11 Mohm behind 1 Mohm, on whatever range: 11/12 of 4 V; 3 % of the range of 5 V
    shown = show(TUBE_VOLTMETER, Wave(np.full(8, 4.0)), Source(1e6, 1e6))
    assert shown.shown == pytest.approx(4 * 11 / 12)
    assert shown.high - shown.shown == pytest.approx(0.15)
    assert shown.range == 5.0


def test_a_scope_shows_no_number():
    with pytest.raises(ValueError, match="trace"):
        show(SCOPE, Wave(SINE))


NEEDLE_AC = replace(ANALOGUE_METER, name="needle, AC", response=AVERAGE)


@pytest.mark.parametrize("meter", [ANALOGUE_METER, NEEDLE_AC])
@pytest.mark.parametrize(
    ("dc", "ac", "span"),
    [
        (0.0, 83.0, 250.0),  # 117 V peak: no 2.5 V range for a mean of nothing
        (0.0, 267.0, 1000.0),  # 378 V peak
        (-8.0, 2.0, 50.0),  # 10.8 V peak
        (45.0, 1.0, 50.0),
        (0.0, 1.0, 2.5),
    ],
)
def test_a_range_holds_dc_and_peak_together(meter, dc, ac, span):
    shown = show(meter, Wave(dc + ac * SINE))
    assert shown.range == span
    assert shown.ohms == pytest.approx(20e3 * span)
    assert (shown.high - shown.low) / 2 == pytest.approx(0.03 * span)
    assert shown.safe


def test_a_range_holds_what_else_may_stand_there():
    shown = show(ANALOGUE_METER, Wave(np.full(4, 40.0)), stands=(Wave(np.full(4, -300.0)),))
    assert (shown.range, shown.peak) == (1000.0, 300.0)
    assert shown.unloaded == 40.0


@pytest.mark.parametrize(
    ("meter", "volts", "over"),
    [
        (ANALOGUE_METER, 1100.0, ("peak", "rms", "range")),
        (replace(ANALOGUE_METER, max_volts=5e3, max_rms=5e3), 1100.0, ("range",)),
        (replace(ANALOGUE_METER, max_volts=600.0), 700.0, ("peak",)),
    ],
)
def test_no_range_is_named_where_none_is_safe(meter, volts, over):
    shown = show(meter, Wave(np.full(4, volts)))
    assert (shown.range, shown.over, shown.safe) == (None, over, False)
