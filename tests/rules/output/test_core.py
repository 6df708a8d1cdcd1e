"""Direct current in output transformers, by Ohm's law on resistors in place of tubes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

CORE, CURRENT = "output.ungapped-core", "output.primary-over-current"


def halves(first: str, second: str, words: str = "") -> str:
    """A push-pull primary of 2 x 100 ohm from 220 V into two resistors."""
    return (
        f"output T2 8k ct : 8 ohm 200 ohm {words}\nB1 --+[E1 220 V]-- gnd\nT2.ct -- B1\n"
        f"T2.p1 --[R1 {first} 25 W]-- gnd\nT2.p2 --[R2 {second} 25 W]-- gnd\n"
        "T2.s1 --[LS1 speaker 8 ohm]-- T2.s2\nT2.s2 -- gnd\n"
    )


def single(words: str) -> str:
    return (
        f"output T2 5k : 8 ohm 200 ohm {words}\nB1 --+[E1 220 V]-- gnd\nT2.p1 -- B1\n"
        "T2.p2 --[R1 4k2 25 W]-- gnd\nT2.s1 --[LS1 speaker 8 ohm]-- T2.s2\nT2.s2 -- gnd\n"
    )


def found(looked: Review, rule: str) -> list:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return [f for f in looked.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("first", "second", "share"),
    [
        # 220 V over 2.1k and 2.3k less the 100 ohm of each half: I = 220 / (100 + R).
        ("4k3", "4k3", None),  # 50 mA and 50 mA
        ("4k3", "4k5", None),  # 50 and 47.8 mA: 2.2 of 97.8, 2.2 %
        ("4k3", "5k4", 1 / 9),  # 50 and 40 mA: 10 of 90
        ("2k1", "4k3", 1 / 3),  # 100 and 50 mA: 50 of 150
    ],
)
def test_what_is_left_over(
    first: str, second: str, share: float | None, review: Callable[[str], Review]
) -> None:
    told = found(review(halves(first, second)), CORE)
    assert [f.evidence["share"].value for f in told] == pytest.approx(
        [share] if share else [], rel=1e-3
    )


def test_left_over_counts_by_the_turns(review: Callable[[str], Review]) -> None:
    # Half the turns each: (50 mA - 40 mA) / 2 in the whole primary.
    (told,) = found(review(halves("4k3", "5k4")), CORE)
    assert (told.evidence["left_over"].value * 1000) == pytest.approx(5.0, rel=1e-3)


@pytest.mark.parametrize("dots", ["", "dot p2", "dot s2"])
def test_dots_change_nothing(dots: str, review: Callable[[str], Review]) -> None:
    assert not found(review(halves("4k3", "4k3", dots)), CORE)
    assert found(review(halves("2k1", "4k3", dots)), CORE)


@pytest.mark.parametrize(
    ("words", "core", "current", "said"),
    [
        # 220 V over 4.4 kohm: 50 mA.
        ("", False, False, True),
        ("ungapped", True, False, False),
        ("gapped", False, False, False),
        ("gapped 60 mA", False, False, False),
        ("gapped 40 mA", False, True, False),
        ("40 mA", False, True, False),
        ("ungapped 60 mA", True, False, False),
    ],
)
def test_what_the_drawing_says_of_the_core(
    words: str, core: bool, current: bool, said: bool, review: Callable[[str], Review]
) -> None:
    looked = review(single(words))
    assert (bool(found(looked, CORE)), bool(found(looked, CURRENT))) == (core, current)
    assert (CORE in {n.rule for n in looked.not_judged}) is said


def test_current_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    looked = sample(CURRENT, "wrong")
    told = only(looked, CURRENT)
    # A 6V6GT at 250 V with 270 ohm draws about 40 mA at its plate (data sheet: 45 mA at -12.5 V,
    # here 12.2 V of bias and less plate voltage).
    assert (told.level, told.at, (told.limit.value * 1000)) == ("notice", ("T2",), 30.0)
    assert (told.evidence["current"].value * 1000) == pytest.approx(40, rel=0.1)
    assert looked.solutions["warm"].readings["V1"].plate_ma == pytest.approx(
        (told.evidence["current"].value * 1000), rel=1e-3
    )


def test_core_pairs(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    told = only(sample(CORE, "wrong"), CORE)
    assert told.evidence["share"].value == pytest.approx(1, abs=0.01)
    assert told.certainty == "certain"
    lame = only(sample(f"{CORE}/unbalanced", "wrong"), CORE)
    readings = sample(f"{CORE}/unbalanced", "wrong").solutions["warm"].readings
    one, two = readings["V2"].plate_ma, readings["V3"].plate_ma
    assert lame.evidence["share"].value == pytest.approx((two - one) / (one + two), rel=1e-3)


def test_too_little_bias_explains_the_current(review: Callable[[str], Review]) -> None:
    looked = review(
        "output T2 5k : 8 ohm 250 ohm gapped 60 mA\ntube V1 6V6GT\nB1 --+[E1 250 V]-- gnd\n"
        "B1 -- T2.p1\nT2.p2 -- V1.plate\nB1 --[R1 1k 5 W]-- V1.screen\nV1.grid --[R2 470k]-- gnd\n"
        "V1.cathode --[R3 68 ohm 3 W]-- gnd\nT2.s1 --[LS1 speaker 8 ohm]-- T2.s2\nT2.s2 -- gnd\n"
    )
    assert not found(looked, CURRENT)
    (cause,) = found(looked, "tube.plate-dissipation")
    assert CURRENT in str(cause.evidence["explains"])


def interstage(head: str, more: str = "") -> str:
    """10 mA through a primary of 400 ohm, and a split secondary."""
    return (
        f"transformer T3 {head}\n winding pri 1 turn {more} 20 H 400 ohm\n"
        " winding sec 3 turns ct 3000 ohm\nB1 --+[E1 200 V]-- gnd\nT3.pri.1 -- B1\n"
        "T3.pri.2 --[R1 19.6k 5 W]-- gnd\nT3.sec.ct -- gnd\nT3.sec.1 --[R2 100k]-- gnd\n"
        "T3.sec.2 --[R3 100k]-- gnd\n"
    )


def test_an_interstage_core_without_a_gap(review: Callable[[str], Review]) -> None:
    """200 V over 20 kohm: 10 mA, all of it left over."""
    (told,) = found(review(interstage("ungapped")), CORE)
    assert told.evidence["left_over"].value == pytest.approx(0.01)
    assert told.evidence["share"].value == pytest.approx(1.0)
    assert "10 mA in pri" in told.message
    assert found(review(interstage("gapped")), CORE) == []


def test_a_feed_through_a_capacitor_leaves_nothing_over(review: Callable[[str], Review]) -> None:
    text = interstage("ungapped").replace("T3.pri.1 -- B1", "T3.pri.1 --[C1 1 uF 400 V film]-- B1")
    assert found(review(text), CORE) == []


def test_the_gap_has_to_be_said_where_direct_current_flows(review: Callable[[str], Review]) -> None:
    looked = review(interstage(""))
    assert found(looked, CORE) == []
    assert [n.at for n in looked.not_judged if n.rule == CORE] == [("T3",)]
    assert not [n for n in review(interstage("", "10 mA")).not_judged if n.rule == CORE]


def test_coils_without_iron_have_no_core(review: Callable[[str], Review]) -> None:
    looked = review(interstage("").replace("20 H", "1 mH"))
    assert not [n for n in looked.not_judged if n.rule == CORE]
