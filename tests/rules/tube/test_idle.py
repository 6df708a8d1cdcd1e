"""Push-pull tubes at idle, spare sections, and the bypass under an output tube."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

PAIR = """tube V1 EL84
tube V2 EL84
output T1 8k ct : 8 ohm  200 ohm
B1 --+[E1 300 V]-- gnd
gnd --+[E2 {bias} V]-- BIAS
BIAS --[R1 150k]-- V1.grid
BIAS --[R3 150k]-- V2.grid
V1.cathode --[R7 {cathode}]-- gnd
V2.cathode --[R8 {cathode}]-- gnd
B1 --[R5 1k 2 W]-- V1.screen
B1 --[R6 1k 2 W]-- V2.screen
T1.ct -- B1
T1.p1 -- V1.plate
T1.p2 -- V2.plate
T1.s1 --[LS1 speaker 8 ohm]-- T1.s2
T1.s2 -- gnd
"""
HOT = "tube.idles-hot-in-class-ab"


def found(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


def test_seven_tenths_of_twelve_watts(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample(HOT, "wrong"), HOT)
    assert (one.level, one.at, one.state) == ("advice", ("V1", "V2"), "warm")
    assert one.limit.value == pytest.approx(0.7 * 12)  # EL84: 12 W (found)
    assert 8.4 < one.evidence["plate_dissipation"].value < 12


@pytest.mark.parametrize(
    ("bias", "cathode", "hot"),
    [
        ("11.2", "10 ohm", True),
        ("13", "10 ohm", False),
        ("0.001", "270 ohm 3 W", False),  # cathode bias is judged by the rating alone
    ],
)
def test_only_with_fixed_bias(
    bias: str, cathode: str, hot: bool, review: Callable[[str], Review]
) -> None:
    looked = review(PAIR.format(bias=bias, cathode=cathode))
    assert bool(found(looked, HOT)) is hot


def test_above_the_rating_it_is_told_with_that(review: Callable[[str], Review]) -> None:
    looked = review(PAIR.format(bias="9", cathode="10 ohm"))
    assert found(looked, HOT) == []
    causes = found(looked, "tube.plate-dissipation")
    assert any(HOT in str(f.evidence.get("explains", "")) for f in causes)


STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
V1A.grid --[R2 1M]-- gnd
V1A.cathode --[R3 1k5]-- gnd
"""


@pytest.mark.parametrize(
    ("more", "floating"),
    [
        ("", 2),
        ("V1B.grid -- gnd\n", 1),
        ("V1B.grid -- gnd\nV1B.cathode -- gnd\n", None),
        ("V1B.grid -- gnd\nV1B.cathode -- gnd\nV1B.plate -- gnd\n", None),
    ],
)
def test_the_spare_half(more: str, floating: int | None, review: Callable[[str], Review]) -> None:
    findings = found(review(STAGE + more), "tube.unused-section")
    assert [f.evidence["floating"].value for f in findings] == (
        [] if floating is None else [floating]
    )
    assert {(f.level, f.at) for f in findings} <= {("advice", ("V1B",))}


def test_a_tube_of_which_nothing_is_used_is_left_alone(review: Callable[[str], Review]) -> None:
    assert found(review("tube V1 12AX7\nB1 --+[E1 9 V]-- gnd\n"), "tube.unused-section") == []


OUTPUT = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
V1.grid --[R1 330k]-- G
G --+[E2 {grid} V]-- gnd
V1.cathode --[R2 {ohms} 5 W]-- gnd
V1.cathode --+[C1 25 uF {rated} V]-- gnd
B1 --[R3 470 ohm 2 W]-- V1.screen
B1 --[L1 10 H 100 ohm]-- V1.plate
"""


@pytest.mark.parametrize(
    ("ohms", "grid", "rated", "limit"),
    [
        ("270", "0.001", 25, 50.0),  # 12.5 V: twice that is 25, but an output stage wants 50
        ("270", "0.001", 50, None),
        ("820", "25", 63, "twice"),
    ],
)
def test_the_bypass_under_an_output_tube(
    ohms: str, grid: str, rated: int, limit: float | str | None, review: Callable[[str], Review]
) -> None:
    looked = review(OUTPUT.format(ohms=ohms, grid=grid, rated=rated))
    findings = found(looked, "capacitor.cathode-bypass-underrated")
    if limit is None:
        assert findings == []
        return
    (one,) = findings
    expected = 2 * one.evidence["cathode"].value if limit == "twice" else limit
    assert one.limit.value == pytest.approx(expected)
    assert one.level == "advice"


@pytest.mark.parametrize(
    ("drawn", "level"), [("V1.grid --[Y1 7 MHz]-- gnd\n", "advice"), ("", "notice")]
)
def test_a_stage_that_oscillates_is_judged_at_rest_as_advice(
    drawn: str, level: str, review: Callable[[str], Review]
) -> None:
    """At rest the grid is next to its cathode: some 9 W of the 6J5's 2.5 W, and 36 mA of 20 mA."""
    text = (
        "tube V1 6J5\nB1 --+[E1 250 V 0.1 A]-- gnd\nV1.cathode -- gnd\nV1.grid --[R1 47k]-- gnd\n"
        "B1 --[L1 2.5 mH 50 ohm 100 mA]-- V1.plate --[C3 47p 500 V]-- NEXT --[R3 100k]-- gnd\n"
    )
    names = ("tube.plate-dissipation", "tube.cathode-current")
    found = [f for f in review(text + drawn).findings if f.rule in names]
    assert sorted((f.rule, f.level) for f in found) == sorted((n, level) for n in names)
