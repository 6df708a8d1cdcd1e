"""Resistors on the positions of a switch: regular steps, and one value a decade off."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "resistor.range-decade-off"
THREES = ("7M", "2M", "700k", "200k", "70k", "30k")
"""From the top: 10 M, 3 M, 1 M, 300k, 100k and 30k to gnd, which is 1, 3, 10."""
FIVES = ("5M", "3M", "1M", "500k", "300k", "100k", "100k")
"""10 M, 5 M, 2 M, 1 M, 500k, 200k, 100k."""
HALVES = ("500k", "250k", "125k", "125k")
E12 = ("6M8", "2M2", "680k", "220k", "100k")
"""10 M, 3.2 M, 1 M, 320k and 100k: steps of 3.125 and 3.2."""
TONE = ("1M", "220k", "150k", "10k", "68k")


def told(looked: Review) -> list[Finding]:
    assert looked.readable
    return [f for f in looked.findings if f.rule == RULE]


def changed(values: Sequence[str], k: int, value: str) -> tuple[str, ...]:
    return (*values[:k], value, *values[k + 1 :])


def string(values: Sequence[str], end: str = "gnd") -> str:
    points = [f"T{k}" for k in range(1, len(values) + 1)]
    parts = "".join(
        f"{a} --[R{k} {value}]-- {b}\n"
        for k, (value, (a, b)) in enumerate(zip(values, pairwise([*points, end]), strict=True), 1)
    )
    taps = "".join(f"S1.{k} -- {p}\n" for k, p in enumerate(points, 1))
    switch = f"switch S1 sp{len(values)}t at 1\nT1 --+[E1 1 V]-- gnd\n"
    return f"{switch}{parts}{taps}S1.common --[R9 1M]-- gnd\n"


def chosen(values: Sequence[str]) -> str:
    taps = "".join(f"S1.{k} --[R{k} {value}]-- N\n" for k, value in enumerate(values, 1))
    return (
        f"switch S1 sp{len(values)}t at 1\nB --+[E1 1 V]-- gnd\nB -- S1.common\n{taps}"
        "N --[R9 1k]-- gnd\n"
    )


@pytest.mark.parametrize(
    ("text", "at"),
    [
        (string(THREES), None),
        (string(changed(THREES, 3, "20k")), "R4"),
        (string(changed(THREES, 0, "70M")), "R1"),
        (string(changed(THREES, 0, "700k")), "R1"),
        (string(changed(THREES, 5, "300k")), "R6"),
        (string(FIVES), None),
        (string(changed(FIVES, 3, "5M")), "R4"),
        (string(HALVES), None),
        (string(changed(HALVES, 1, "25k")), "R2"),
        (string(E12), None),
        (string(changed(E12, 2, "68k")), "R3"),
        # No decade mends it, and steps of no kind.
        (string(changed(THREES, 3, "300k")), None),
        (string(TONE), None),
        # Three taps may be regular by chance; an end on no gnd; one value that is not known.
        (string(("700k", "20k", "100k")), None),
        (string(changed(THREES, 3, "20k"), "X") + "X --[R8 1k]-- gnd\nX --[C1 1 uF]-- gnd\n", None),
        (string(changed(changed(THREES, 3, "20k"), 0, "?")), None),
        # One of each its own: up or down, five at least.
        (chosen(("10k", "30k", "100k", "300k", "1M")), None),
        (chosen(("10k", "30k", "10k", "300k", "1M")), "R3"),
        (chosen(("1M", "330k", "100k", "3k3", "10k")), "R4"),
        (chosen(("10k", "20k", "50k", "1M", "200k")), "R4"),
        (chosen(("10k", "30k", "10k", "300k")), None),
        (chosen(("10k", "33k", "4k7", "120k", "1k")), None),
        (chosen(("10k", "30k", "10k", "300k", "1M")) + "S1.3 --[C1 1 nF]-- gnd\n", None),
    ],
)
def test_one_value_a_decade_off(text: str, at: str | None, review: Callable[[str], Review]) -> None:
    assert [(f.at, f.level) for f in told(review(text))] == ([((at, "S1"), "notice")] if at else [])


@pytest.mark.parametrize(
    ("text", "at"),
    [
        # Three taps: 1 M, 100k, 10k, and 1 M, 910k, 10k with the upper two exchanged.
        (string(("900k", "90k", "10k")), None),
        (string(("90k", "900k", "10k")), ("R2", "R1")),
        (string(("900k", "10k", "90k")), ("R3", "R2")),
        # One of three a decade off is left: any may be meant where so few are to be regular.
        (string(("900k", "9k", "10k")), None),
        # Two taps: 1 M over 91k is 11 times; exchanged 1.1. A pad of 6 dB, and of 1 dB.
        (string(("910k", "91k")), None),
        (string(("91k", "910k")), ("R2", "R1")),
        (string(("100k", "100k")), None),
        (string(("12k", "100k")), None),
        (string(("7k", "100k")), None),
        # Longer ones: 3 M and 2 M for 2 M and 700k; and each its own.
        (string(("7M", "700k", "2M", "200k", "70k", "30k")), ("R3", "R2")),
        (string(("7M", "700k", "2M", "200k", "30k", "70k")), None),
        (chosen(("10k", "100k", "30k", "300k", "1M")), ("R2", "R3")),
    ],
)
def test_two_exchanged(
    text: str, at: tuple[str, str] | None, review: Callable[[str], Review]
) -> None:
    expected = [((*at, "S1"), "notice")] if at else []
    assert [(f.at, f.level) for f in told(review(text))] == expected


def test_two_in_series_between_taps(review: Callable[[str], Review]) -> None:
    """The 7 M at the top made of two of 3.5 M: the value that is off is found all the same."""
    two = "T1 --[R8 3M5]-- --[R7 3M5]-- T2\n"
    sound = string(THREES).replace("T1 --[R1 7M]-- T2\n", two)
    wrong = string(changed(THREES, 3, "20k")).replace("T1 --[R1 7M]-- T2\n", two)
    assert told(review(sound)) == []
    assert [f.at for f in told(review(wrong))] == [("R4", "S1")]
    assert told(review(wrong.replace("-- --[R7", "-- M --[R7") + "M --[R6X 1M]-- gnd\n")) == []


def test_what_is_told_of_two_exchanged(review: Callable[[str], Review]) -> None:
    """10k, 910k and 1 M to gnd: 91 and 1.1 times; 10k, 100k and 1 M the other way round."""
    (f,) = told(review(string(("90k", "900k", "10k"))))
    assert "R2 (900 kohm) and R1 (90 kohm) look exchanged" in f.message
    assert "91 and 1.1 times as drawn, and of 10 the other way round" in f.message
    assert f.remedy == "Exchange R2 and R1"
    assert f.certainty == "likely"


def test_what_is_told(review: Callable[[str], Review]) -> None:
    """20k for 200k: 100, 120 and 820k below the taps: 1.2 times, where 3 is regular, or 3.33.

    Of equal steps, 9.82 M over 30k to the fifth root, 3.18; 820 / 120 is 6.83, twice that and more.
    """
    (f,) = told(review(string(changed(THREES, 3, "20k"))))
    assert f.evidence["written"].value == 20e3
    assert 0.06 < f.evidence["off_by"].value == pytest.approx(0.9395, abs=1e-3)
    assert "200 kohm" in f.message
    assert "3 and 3.33" in f.message
    assert f.limit.value == 0.06
