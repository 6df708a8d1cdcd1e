"""Resistors without effect: feeds, stoppers and lifts that lost their k, and those that did not."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "resistor.without-effect"
FEED = """mains 120 V 60 Hz
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --+[C1 {first} 450 V]-- gnd
B1 --[R1 {feed} 1 W]-- B2
B2 --+[C2 22 uF 450 V]-- gnd
V1A.grid --[R2 1M]-- gnd
V1A.cathode --[R3 1k5]-- gnd
B2 --[R4 100k 0.5 W]-- V1A.plate
"""
STOPPER = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
DRV --[R1 470k]-- gnd
DRV --[R2 {stopper}]-- V1.grid
V1.cathode --[R3 270 ohm 5 W]-- gnd
B1 -- V1.screen
B1 -- V1.plate
"""
LIFT = """transformer T1
    winding warm  6.3 V ct  1 A
tube V1 12AX7  heater T1.warm
B1 --+[E1 250 V]-- gnd
B1 --[R1 150k 1 W]-- LIFT --[R2 {lower}]-- gnd
LIFT -- T1.warm.ct
V1A.grid --[R3 1M]-- gnd
V1A.cathode --[R4 1k5]-- gnd
B1 --[R5 100k 0.5 W]-- V1A.plate
"""


def found(review: Review) -> list[Finding]:
    return [f for f in review.findings if f.rule == RULE]


@pytest.mark.parametrize(
    ("feed", "first", "level"),
    [
        ("10", "22 uF", "notice"),
        # 22 uF at 120 Hz has 60.3 ohm; up to that a feed is a slip, up to twice it a doubt.
        ("60", "22 uF", "notice"),
        ("61", "22 uF", "advice"),
        ("99", "22 uF", "advice"),
        ("122", "22 uF", None),
        ("10k", "22 uF", None),
        # Twice 2.65 ohm (500 uF): 10 ohm is above; the smaller of the two counts.
        ("10", "500 uF", "notice"),
        # From 100 ohm on it is a choice, though 10 uF have 133 ohm.
        ("95", "10 uF", "notice"),
        ("105", "10 uF", None),
        # Below 1 uF it is no filter but a bypass.
        ("10", "0.47 uF", None),
    ],
)
def test_feeds(feed: str, first: str, level: str | None, review: Callable[[str], Review]) -> None:
    findings = found(review(FEED.format(feed=feed, first=first)))
    assert [(f.level, f.at) for f in findings] == ([(level, ("R1",))] if level else [])


def test_the_numbers_of_a_feed(review: Callable[[str], Review]) -> None:
    (one,) = found(review(FEED.format(feed="10", first="22 uF")))
    assert one.limit.value == pytest.approx(2 / (2 * pi * 120 * 22e-6))
    assert one.evidence["ripple"].value == 120
    assert "10 kohm would suit" in one.remedy


@pytest.mark.parametrize(
    ("tie", "told"),
    [("", True), ("T1.warm.1 --[R8 22 ohm]-- gnd\n", False), ("T1.warm.1 -- gnd\n", False)],
)
def test_a_line_that_is_tied_is_not_meant_to_be_lifted(
    tie: str, told: bool, review: Callable[[str], Review]
) -> None:
    assert [f.at for f in found(review(LIFT.format(lower="22") + tie))] == [
        ("R2", "T1.warm")
    ] * told


def test_without_mains_there_is_no_ripple_to_filter(review: Callable[[str], Review]) -> None:
    text = FEED.format(feed="10", first="22 uF").partition("\n")[2]
    assert found(review(text)) == []


@pytest.mark.parametrize(
    ("stopper", "says"),
    [("1.5", "1.5 kohm would suit"), ("0.1", "Use 470 ohm"), ("47", ""), ("1k5", "")],
)
def test_stoppers(stopper: str, says: str, review: Callable[[str], Review]) -> None:
    findings = found(review(STOPPER.format(stopper=stopper)))
    assert [(f.level, f.at) for f in findings] == [("notice", ("R2", "V1"))] * bool(says)
    assert all(says in f.remedy for f in findings)


@pytest.mark.parametrize(
    ("lower", "lifted"),
    # 250 V x 22 / 150022 = 36.7 mV; 680 ohm make 1.13 V, which is something.
    [("22", 0.0367), ("680", None), ("22k", None)],
)
def test_lifts(lower: str, lifted: float | None, review: Callable[[str], Review]) -> None:
    findings = found(review(LIFT.format(lower=lower)))
    assert [f.at for f in findings] == [("R2", "T1.warm")] * (lifted is not None)
    for one in findings:
        assert one.evidence["lift"].value == pytest.approx(lifted, rel=0.01)
        # 250 V x 22 / 172 = 32 V.
        assert "22 kohm would make 32 V" in one.remedy


@pytest.mark.parametrize(("feed", "count"), [("L1 2.5 mH 40 ohm", 0), ("R9 22k", 1)])
def test_a_stopper_at_a_coil_is_for_radio_frequency(
    feed: str, count: int, review: Callable[[str], Review]
) -> None:
    """22 ohm in the grid lead of a transmitting tube stop a parasitic (common practice)."""
    text = (
        "tube V1 6L6GC\nB1 --+[E1 300 V]-- gnd\nB1 -- V1.screen\nB1 --[R1 1k 5 W]-- V1.plate\n"
        f"V1.cathode --[R2 270 ohm 5 W]-- gnd\nG --[R3 22 ohm]-- V1.grid\nG --[{feed}]-- gnd\n"
    )
    assert len([f for f in review(text).findings if f.rule == RULE]) == count
