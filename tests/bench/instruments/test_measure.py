"""What meters show, against the worked examples on AC superposed on DC.

Each row says how sure its source is. The average-responding figure of the half wave is printed
as 0.764 in the meter's table; exactly it is 0.7794, so the table is 2 % low and the exact value is
what is held here.
"""

from dataclasses import replace

import numpy as np
import pytest

from coldcheck.bench.instruments.instruments import (
    ANALOGUE_METER,
    AVERAGE,
    AVERAGE_METER,
    BENCH_AC_METER,
    DC_METER,
    MEAN,
    SCOPE,
    TRUE_RMS,
    TRUE_RMS_METER,
)
from coldcheck.bench.instruments.measure import Source, accuracy, divided, responds, show
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
    assert accuracy(DC_METER, 200.0) == pytest.approx(2.0)
    assert accuracy(ANALOGUE_METER, 30.0) == pytest.approx(1.5)


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
