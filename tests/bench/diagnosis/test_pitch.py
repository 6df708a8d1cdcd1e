"""Hum and its frequency, and that of an oscillator, as readings."""

from __future__ import annotations

from math import log, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from tests.anatomy.oscillating import COLPITTS, circuit
from tests.bench.drawings import COUPLED

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.doubles import wanted
from coldcheck.bench.diagnosis.judged import HIGH, LOW, UNKNOWN, WITHIN, JudgeReadings
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.bench.diagnosis.pitch import Pitch, _counted, pitch_of
from coldcheck.bench.diagnosis.readings import AC, FREQUENCY, Reading
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.report.diagnosis.words import group_text
from coldcheck.solve.solution import Wave

ANGLES = 2 * pi * np.arange(64) / 64

BOTH = """\
drawing "Buoy: both halves"
mains 120 V 60 Hz tolerance 10 %
transformer T1
    primary pri 120 V 4 ohm
    winding ht 200 V ct 200 V 100 mA 300 ohm
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RES
T1.ht.2 --[D2 1N4007]-> RES
RES --+[C1 8 uF 450 V]-- gnd
RES --[R1 4k7 40 W]-- gnd
RES --[R2 100k 2 W]-- B1
B1 --+[C2 47 uF 450 V]-- gnd
B1 --[R3 1M]-- gnd
"""


@pytest.fixture(scope="module")
def both():
    return build_circuit(parse_drawing(BOTH, "buoy.tube"))


def read(circuit, text):
    found, slips = parse_readings(circuit, text)
    assert not slips
    return found


# -- what is written ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("RES Hz 120", FREQUENCY, 120.0), ("RES 120 Hz", FREQUENCY, 120.0),
        ("RES frequency 120 Hz", FREQUENCY, 120.0), ("RES kHz 1.5", FREQUENCY, 1500.0),
        ("RES 1.5 kHz", FREQUENCY, 1500.0), ("RES hum 1.2", AC, 1.2),
        ("RES hum 300 mV", AC, 0.3),
    ],
)  # fmt: skip
def test_how_they_are_written(both, text, kind, value):
    (found,) = read(both, text)
    assert (found.kind, found.value) == (kind, pytest.approx(value))


@pytest.mark.parametrize("text", ["RES Hz 3 V", "RES Hz -50", "RES Hz"])
def test_what_is_no_frequency(both, text):
    _, slips = parse_readings(both, text)
    assert "hertz" in slips[0].message


# -- what a counter locks on to -----------------------------------------------------------------


@pytest.mark.parametrize(("second", "clear"), [(0.45, True), (0.55, False)])
def test_a_second_part_may_be_half_as_large(second, clear):
    wave = Wave(10 * np.sin(2 * ANGLES) + 10 * second * np.sin(ANGLES))
    found = pitch_of(wave, 50.0)
    assert (found.hertz, found.clear) == (100.0, clear)


@pytest.mark.parametrize(("unequal", "clear"), [(0.45, True), (0.55, False)])
def test_unequal_halves_count_as_such_a_part(unequal, clear):
    wave = Wave(sqrt(2) * np.sin(2 * ANGLES))
    assert pitch_of(wave, 50.0, unequal).clear is clear
    assert pitch_of(Wave(sqrt(2) * np.sin(ANGLES)), 50.0, unequal).clear  # they are of that sort


@pytest.mark.parametrize(("volts", "clear"), [(0.19, False), (0.21, True)])
def test_a_counter_wants_a_fifth_of_a_volt(volts, clear):
    found = pitch_of(Wave(100 + volts * sqrt(2) * np.sin(ANGLES)), 50.0)
    assert found.clear is clear
    assert found.rms == pytest.approx(volts)


# -- judged -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hertz", "verdict"),
    [(118.7, LOW), (118.9, WITHIN), (120, WITHIN), (121.1, WITHIN), (121.3, HIGH), (60, LOW)],
)
def test_both_halves_hum_at_twice_the_mains(both, hertz, verdict):
    judged = JudgeReadings(both).one(Reading("RES", "RES", FREQUENCY, hertz))
    assert judged.expected == 120.0
    assert judged.verdict == verdict


def test_a_light_load_leaves_the_frequency_to_the_halves():
    """Next to nothing drawn: 3 % more on one half, and it alone charges, once a cycle."""
    light = BOTH.replace("R1 4k7 40 W", "R1 47k 4 W")
    of = build_circuit(parse_drawing(light, "buoy.tube"))
    judged = JudgeReadings(of).one(Reading("RES", "RES", FREQUENCY, 60.0))
    assert judged.verdict == UNKNOWN
    assert "two frequencies" in judged.reason


def test_too_little_to_count_is_said(both):
    judged = JudgeReadings(both).one(Reading("B1", "B1", FREQUENCY, 60.0))
    assert judged.verdict == UNKNOWN
    assert "too little for a counter" in judged.reason


def test_without_mains_there_is_nothing_to_count():
    circuit = build_circuit(parse_drawing("B --+[E1 9 V]-- gnd\nB --[R1 1k]-- gnd\n", "b.tube"))
    assert JudgeReadings(circuit).one(Reading("B", "B", FREQUENCY, 50.0)).verdict == UNKNOWN


@pytest.mark.parametrize("point", ["V1.grid", "TK"])
def test_an_oscillator_by_its_tank(point):
    """12 uH with 100 pF in series with 680 pF and 680 + 47 pF: 77.8 pF, 5.21 MHz."""
    tank = 1 / (1 / 100 + 1 / 680 + 1 / 727) * 1e-12
    hertz = 1 / (2 * pi * sqrt(12e-6 * tank))
    of = circuit(COLPITTS.format(leak="47k"))
    judged = JudgeReadings(of).one(Reading(point, of.points[point], FREQUENCY, hertz))
    assert judged.expected == pytest.approx(hertz, rel=0.01)
    assert judged.high / judged.expected == pytest.approx(1.25)
    assert judged.verdict == WITHIN


def test_a_frequency_of_an_oscillator_takes_no_part_in_the_diagnosis():
    of = circuit(COLPITTS.format(leak="47k"))
    evening = Evening(of)
    evening.take(read(of, "V1.grid 9 MHz\nREG dc 200"))
    assert [j.verdict for j in evening.account().judged] == [HIGH, WITHIN]
    assert [r.kind for r in evening.account().unused] == [FREQUENCY]


@pytest.mark.parametrize(
    ("pitch", "counted"),
    [
        (Pitch(100, clear=True, rms=1.0), (log(100), 0.02)),
        (Pitch(100, clear=False, rms=1.0), (log(100), log(2))),
        (Pitch(100, clear=False, rms=0.1), (log(0.1), log(10))),
    ],
)
def test_how_sure_a_count_is(pitch, counted):
    """A clear one, one of two, and none: what is picked up may be counted, not as readily."""
    assert _counted(pitch) == pytest.approx(counted)


# -- the diagnosis ------------------------------------------------------------------------------


def ranked(circuit, text):
    evening = Evening(circuit)
    evening.take(read(circuit, text))
    return evening.account()


def test_the_mains_frequency_tells_a_half_that_is_out(both):
    account = ranked(both, "RES Hz 60")
    first = [r.suspect.key for r in account.leading[0].members]
    assert {"D1 open", "D2 open"} <= set(first)
    assert not any(key.startswith(("C1", "R1")) for key in first)
    assert account.leading[0].share > 0.6
    assert account.explained


SAMPLES = Path(__file__).parents[3] / "samples"


@pytest.fixture(scope="module")
def harbour():
    """With tubes whose end leaves too little hum to count: they fit every frequency."""
    return build_circuit(read_drawing(str(SAMPLES / "harbour-light.tube")))


def test_a_sound_circuit_is_in_no_group_that_its_reading_refutes(harbour):
    """50 Hz in a set that hums at 120: whatever leaves the reading open is not a sound set."""
    account = ranked(harbour, "RES Hz 50")
    assert account.judged[0].verdict == LOW
    assert account.explained
    assert not account.leading[0].sound
    for leading in account.leading:
        assert len({r.refuted for r in leading.members}) == 1
    assert "nothing that these readings show" not in group_text(account.leading[0].members)


def test_what_leaves_a_reading_open_is_not_supported_by_it(harbour):
    first = ranked(harbour, "RES Hz 50").leading[0]
    assert [w.supports for w in first.weighed] == [False]
    half = ranked(harbour, "RES Hz 60").leading[0]
    assert [w.supports for w in half.weighed] == [True]


def test_a_frequency_that_is_right_leaves_the_sound_circuit_first(harbour):
    account = ranked(harbour, "RES Hz 120")
    assert account.leading[0].sound
    assert group_text(account.leading[0].members).startswith("nothing that these readings show")


def test_twice_it_speaks_against_a_half_that_is_out(both):
    evening = Evening(both)
    evening.take(read(both, "RES Hz 120"))
    diagnosis, left = evening.diagnosis()
    assert left == ()
    good, half = (next(r for r in diagnosis.ranked() if r.suspect.key == key)
                  for key in ("good", "D1 open"))  # fmt: skip
    assert good.misfit < 1
    # off by log 2 at a deviation of 0.02 and the meter's 0.03
    assert half.misfit == pytest.approx(log(2) ** 2 / (0.02**2 + 0.03**2), rel=0.02)


def test_it_goes_with_other_readings_and_two_faults(both):
    """Nothing breaks down where pairs are worked out with a channel of a counter among them."""
    account = ranked(both, "RES Hz 60\nRES dc 20\nB1 dc 1")
    assert account.leading


DRIVEN = f"{COUPLED}signal IN 0.4 V 1 kHz\nIN --[C9 100 nF 400 V]-- V1A.grid\n"


def test_what_is_worked_out_by_itself_may_be_read_where_two_faults_are_looked_for():
    """Pairs have no signal of their own: what is read of it says little of them, and no more."""
    of = build_circuit(parse_drawing(DRIVEN, "buoy.tube"))
    evening = Evening(of)
    lines = ("V1A.plate dc 120", "V1A.cathode dc 40", "B1 dc 250", "DRV dc 5")
    evening.take(read(of, "\n".join((*lines, "V1A.plate signal 0.5"))))
    diagnosis, _ = evening.diagnosis()
    assert wanted(diagnosis)
    assert len(evening.account().judged) == 5
