"""What fuses do, by the gates of IEC 60127-2 as they are remembered, on both sides of each."""

from __future__ import annotations

import pytest

from coldcheck.bench.faults.fuses import Blown, Speed, opens_within, speed_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing


@pytest.mark.parametrize(
    ("speed", "times", "seconds"),
    [
        (Speed.FAST, 2.05, None), (Speed.FAST, 2.15, 1800), (Speed.FAST, 2.7, 1800),
        (Speed.FAST, 2.8, 2), (Speed.FAST, 3.9, 2), (Speed.FAST, 4.1, 0.3),
        (Speed.FAST, 9.9, 0.3), (Speed.FAST, 10.1, 0.02),
        (Speed.SLOW, 2.05, None), (Speed.SLOW, 2.15, 1800), (Speed.SLOW, 2.8, 80),
        (Speed.SLOW, 4.1, 5), (Speed.SLOW, 10.1, 0.3),
        (Speed.UNSAID, 10.1, 0.3),
    ],
)  # fmt: skip
def test_the_gates(speed, times, seconds):
    assert opens_within(speed, times) == seconds


@pytest.mark.parametrize(("times", "holds"), [(1.45, True), (1.55, False)])
def test_one_and_a_half_times_is_held_for_an_hour(times, holds):
    assert Blown("F1", times).holds is holds


def test_the_lower_end_of_the_mains_says_whether_it_opens():
    fuse = Blown("F1", 2.3, 1.9, Speed.SLOW)
    assert not fuse.opens
    assert fuse.seconds is None
    assert Blown("F1", 2.3, 2.2, Speed.SLOW).opens


@pytest.mark.parametrize(
    ("word", "speed"),
    [("slow", Speed.SLOW), ("anti-surge", Speed.SLOW), ("time-delay", Speed.SLOW),
     ("fast", Speed.FAST), ("", Speed.UNSAID)],
)  # fmt: skip
def test_the_word_on_the_drawing(word, speed):
    text = f"B --+[E1 10 V]-- gnd\nB --[F1 fuse 1 A {word}]-- C\nC --[R1 100 ohm 5 W]-- gnd\n"
    assert speed_of(build_circuit(parse_drawing(text, "f.tube")).branches["F1"]) is speed
