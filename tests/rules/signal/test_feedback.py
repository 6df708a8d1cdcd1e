"""The sign and size of the gain around a feedback loop."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.feedback_loops import return_ratio, ways_back

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.positive-feedback"
STAGES = """output T2 5k : 8 ohm  250 ohm  15 H  gapped 60 mA {dots}
tube V1 12AX7
tube V2 6V6GT
B1 --+[E1 250 V]-- gnd
B1 --[R3 100k 0.5 W]-- V1A.plate --[C4 100 nF 400 V]-- V2.grid --[R6 470k]-- gnd
signal IN 0.01 V 1 kHz
IN --[R1 1M]-- gnd
IN -- V1A.grid
V1A.cathode --[R4 1k5]-- FB --[R5 100 ohm]-- gnd
V1A.cathode --+[C1 47 uF 25 V]-- FB
V1B.grid -- gnd
V1B.cathode -- gnd
B1 -- T2.{supply}
T2.{plate} -- V2.plate
B1 --[R2 470 ohm 1 W]-- V2.screen
V2.cathode --[R7 330 ohm 3 W]-- gnd
V2.cathode --+[C2 100 uF 50 V]-- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
"""


def drawn(
    tail: str, dots: str = "", supply: str = "p1", plate: str = "p2", tied: str = "s2"
) -> str:
    text = STAGES.format(dots=dots, supply=supply, plate=plate)
    return f"{text}T2.{tied} -- gnd\n{tail}"


def loop(looked: Review) -> complex:
    assert looked.circuit is not None
    (back,) = ways_back(looked.circuit)
    found = return_ratio(looked.circuit, looked.solutions["warm"], back)
    assert found is not None
    return found


def speaker_gain(looked: Review) -> float:
    assert looked.worked is not None
    signal = looked.worked.signal()
    assert signal is not None
    return abs(signal.sources["IN"].output("LS1").gain.mid)


def told(looked: Review) -> bool:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return RULE in {f.rule for f in looked.findings}


def test_the_loop_gain_is_that_of_the_gains_with_and_without(
    review: Callable[[str], Review],
) -> None:
    # Feedback makes A of the open gain A0: A = A0 / (1 - T), so T = 1 - A0 / A, up to what the
    # part itself loads the two places: 93 ohm over 4.8 kohm, 2 %. The gains come from another
    # part of the program, driven at the input.
    opened = speaker_gain(review(drawn("")))
    for tail, tied in (("T2.s1 --[R8 4k7]-- FB", "s2"), ("T2.s2 --[R8 4k7]-- FB", "s1")):
        looked = review(drawn(tail, tied=tied))
        assert loop(looked).real == pytest.approx(1 - opened / speaker_gain(looked), abs=0.03)


def test_the_loop_gain_by_hand(review: Callable[[str], Review]) -> None:
    # The divider of 100 ohm and 4.7 kohm brings 1/48 of the speaker's volts to the cathode's
    # foot, which counts like the grid, turned over: T = A0 / 48 within a few percent.
    opened = speaker_gain(review(drawn("")))
    looked = review(drawn("T2.s1 --[R8 4k7]-- FB"))
    assert loop(looked).real == pytest.approx(opened / 48, rel=0.05)


@pytest.mark.parametrize(
    ("changes", "positive"),
    [
        # Grid up: V1 plate down, V2 plate (p2) up, p1 - p2 down, s1 down: at the cathode it adds.
        ({}, True),
        ({"dots": "dot s2"}, False),
        ({"dots": "dot p2"}, False),
        ({"dots": "dot p2 dot s2"}, True),
        ({"supply": "p2", "plate": "p1"}, False),
        ({"supply": "p2", "plate": "p1", "dots": "dot s2"}, True),
    ],
)
def test_the_sign_follows_the_dots_and_the_leads(
    changes: dict[str, str], positive: bool, review: Callable[[str], Review]
) -> None:
    looked = review(drawn("T2.s1 --[R8 4k7]-- FB", **changes))
    assert told(looked) is positive
    assert (loop(looked).real > 0) is positive


def test_parts_side_by_side_count_as_one(review: Callable[[str], Review]) -> None:
    # 2 x 9.4 kohm side by side are 4.7 kohm; a capacitor of 1 nF (160 kohm at 1 kHz) does little.
    one = loop(review(drawn("T2.s1 --[R8 4k7]-- FB")))
    two = loop(review(drawn("T2.s1 --[R8 9k4]-- FB\nT2.s1 --[R9 9k4]-- FB")))
    assert two == pytest.approx(one, rel=1e-6)
    looked = review(drawn("T2.s1 --[R8 4k7]-- FB\nT2.s1 --[C8 1n]-- FB"))
    assert loop(looked).real == pytest.approx(one.real, rel=0.01)


def test_a_part_that_closes_no_loop_is_left_alone(review: Callable[[str], Review]) -> None:
    looked = review(drawn("T2.s1 --[R8 4k7]-- METER --[R9 1k]-- gnd"))
    assert loop(looked).real == pytest.approx(0, abs=1e-6)
    assert not told(looked)


PLATES = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 0.01 V 1 kHz
IN --[R1 1M]-- gnd
IN -- V1A.grid
B1 --[R2 220k 0.5 W]-- V1A.plate --[C1 22 nF 400 V]-- V1B.grid --[R3 470k]-- gnd
B1 --[R4 220k 0.5 W]-- V1B.plate --[C2 100 nF 400 V]-- OUT --[R9 470k]-- gnd
V1A.cathode --[R5 1k5]-- gnd
V1B.cathode --[R6 1k5]-- gnd
V1B.cathode --+[C3 25 uF 25 V]-- gnd
"""


@pytest.mark.parametrize(("own", "found"), [("", 0), ("V1A.cathode --[R8 10k]-- gnd\n", 1)])
def test_the_only_resistor_of_a_cathode_is_its_load(
    own: str, found: int, review: Callable[[str], Review]
) -> None:
    """Two pass tubes that share a current have such resistors; all of it goes through them."""
    looked = review(
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 -- V1A.plate\nB1 --[R1 100k]-- V1A.grid\n"
        "V1A.grid --[R2 47k]-- gnd\nV1A.cathode --[R3 47 ohm]-- OUT --[R4 47k]-- gnd\n"
        f"OUT -- V1B.plate\nV1B.cathode --[R6 1k5]-- gnd\nV1B.grid --[R7 1M]-- gnd\n{own}"
    )
    assert len(list(ways_back(looked.circuit))) == found


def test_from_a_later_plate_to_an_earlier_cathode(review: Callable[[str], Review]) -> None:
    # Two reversals bring the plate of the second stage back in step with the first grid: at the
    # cathode that takes away.
    looked = review(PLATES + "OUT --[R8 100k]-- V1A.cathode\n")
    assert loop(looked).real < -0.2
    assert not told(looked)


def test_three_stages_back_to_the_cathode_add(review: Callable[[str], Review]) -> None:
    third = (
        "tube V2 6SN7GT\nB1 --[R10 47k 1 W]-- V2A.plate\nOUT -- V2A.grid\n"
        "V2A.cathode --[R11 1k5]-- gnd\nV2B.grid -- gnd\nV2B.cathode -- gnd\n"
        "V2A.plate --[C5 100 nF 400 V]-- BACK --[R8 220k]-- V1A.cathode\n"
    )
    looked = review(PLATES + third)
    (found,) = [f for f in looked.findings if f.rule == RULE]
    assert found.at == ("R8",)
    assert found.evidence["loop_gain_ratio"].value == pytest.approx(loop(looked).real)


def test_what_is_not_known_is_said(review: Callable[[str], Review]) -> None:
    looked = review(drawn("T2.s1 --[R8 ?]-- FB"))
    assert ("R8",) in [n.at for n in looked.not_judged if n.rule == RULE]


@pytest.mark.parametrize("pair", [RULE, f"{RULE}/plate-leads"])
def test_pairs(
    pair: str, sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(pair, "wrong"), RULE)
    pushed = "plate-leads" in pair  # the other has one tube
    plates = ("V2.plate", "V3.plate") if pushed else ()
    assert (found.level, found.state, found.at) == ("notice", "warm", ("R8", "T2", *plates))
    right = loop(sample(pair, "right"))
    assert right.real == pytest.approx(-found.evidence["loop_gain_ratio"].value, rel=0.01)


FOLLOWED = """tube V1 12AX7
tube V2 12AX7
B1 --+[E1 300 V]-- gnd
signal IN 0.01 V 1 kHz
IN --[C1 1 uF 400 V film]-- V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R3 1k8]-- gnd
B1 --[R4 100k 0.5 W]-- V1A.plate --[C2 1 uF 630 V film]-- G2 --[R2 1M]-- gnd
G2 -- {first}
V1B.cathode --[R7 1k8]-- gnd
B1 --[R8 100k 0.5 W]-- V1B.plate --[C3 1 uF 630 V film]-- G3 --[R9 1M]-- gnd
{second}
B1 -- V2A.plate
V2A.cathode --[R5 47k 0.5 W]-- gnd
V2A.cathode --[C4 10 uF 400 V film]-- OUT --[R10 220k]-- gnd
OUT --[R11 100k]-- V1A.cathode
"""


def test_a_follower_is_in_step_with_the_plate_it_follows(review: Callable[[str], Review]) -> None:
    """From the first plate the loop adds, from the second, one reversal on, it takes away.

    By hand: one stage, seen from its cathode, has a gain of (mu + 1) R / (R + rp + ...) of either
    sign alike; the way back is R3 beside the cathode's own 1/gm, over R11: some 0.6 k / 100 k.
    """
    one = review(FOLLOWED.format(first="V2A.grid", second="G3 -- V1B.grid"))
    (found,) = [f for f in one.findings if f.rule == RULE]
    assert found.at == ("R11",)
    assert loop(one).real == pytest.approx(55 * 0.6 / 100, rel=0.3)
    two = review(FOLLOWED.format(first="V1B.grid", second="G3 -- V2A.grid"))
    assert loop(two).real < -10 * loop(one).real
    assert not told(two)
