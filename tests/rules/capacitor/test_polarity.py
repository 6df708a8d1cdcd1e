"""Electrolytics the wrong way round: a whole supply, on AC, and with tubes out of their sockets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "capacitor.reversed"
HEAD = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 1 ohm
    winding out {volts} V 0.01 ohm
T1.out.2 -- gnd
"""


@pytest.mark.parametrize(("volts", "level"), [(60, "warning"), (15, "notice")])
def test_a_supply_that_is_turned_is_one_finding(
    volts: int, level: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(
        HEAD.format(volts=volts) + "RES --[D1 1N4007]-> T1.out.1\nRES --+[C1 100 uF 100 V]-- gnd\n"
        "RES --[R1 1k 5 W]-- B2 --+[C2 100 uF 100 V]-- gnd\nB2 --[R2 10k]-- gnd\n"
    )
    found = only(looked, RULE)
    assert (found.at, found.level) == (("D1", "C1", "C2"), level)
    least = looked.solutions[found.state].wave("RES").dc
    assert found.evidence["reverse_dc"].value == pytest.approx(-least)
    assert found.message.startswith("D1 points against every electrolytic behind (C1 and C2)")
    assert found.remedy.startswith("Turn D1 round")


def test_two_supplies_that_are_turned_are_told_by_their_diodes(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    supply = (
        "R{0} --[D{0} 1N4007]-> T1.out.1\nR{0} --+[C{0}1 100 uF 100 V]-- gnd\n"
        "R{0} --[R{0}1 1k 5 W]-- B{0} --+[C{0}2 100 uF 100 V]-- gnd\nB{0} --[R{0}2 10k]-- gnd\n"
    )
    looked = review(HEAD.format(volts=60) + supply.format(1) + supply.format(2))
    assert only(looked, RULE).at == ("D1", "C11", "C12", "D2", "C21", "C22")


def test_one_that_is_turned_beside_one_that_is_right(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(
        HEAD.format(volts=60) + "RES --[D1 1N4007]-> T1.out.1\nRES --+[C1 100 uF 100 V]-- gnd\n"
        "RES --[R1 1k 5 W]-- B2 --[C2 100 uF 100 V]+-- gnd\nB2 --[R2 10k]-- gnd\n"
    )
    found = only(looked, RULE)
    assert (found.at, found.remedy) == (("C1",), "Turn C1 round")


@pytest.mark.parametrize(("volts", "peak"), [(3.36, None), (3.71, 5.25)])
def test_five_volts_of_ac(
    volts: float,
    peak: float | None,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    text = HEAD.format(volts=volts) + "T1.out.1 --+[C1 10 uF 50 V]-- gnd\n"
    found = only(review(text), RULE, count=int(peak is not None))
    if peak is not None:
        assert found.evidence["reverse_peak"].value == pytest.approx(peak, rel=0.01)
        assert found.message.startswith("C1 is on AC: its + swings to 5.2")


def test_tubes_out_of_their_sockets_do_not_count_beside_the_rest(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Reversed on a plate: 250 V below before the tube draws, and with it out as well."""
    text = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate --[C1 10 uF 350 V]+-- gnd
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""
    found = only(review(text), RULE)
    assert found.state == "cold"
    assert not [s for s in (found.state, *found.also_in) if s.startswith("pulled")]


def test_reversed_only_with_a_tube_out_is_no_reason_to_turn_it(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """With V1 in, its + is 50 V above; without it, at gnd, below a cathode at 1.9 V."""
    found = only(sample(f"{RULE}/tube-out", "wrong"), RULE)
    assert (found.at, found.level, found.state) == (("C1",), "advice", "pulled V1")
    assert found.evidence["reverse_dc"].value == pytest.approx(1.86, abs=0.05)
    assert found.remedy == (
        "Do not switch on with V1 out of its socket, or use a bipolar part for C1"
    )
    assert not [f for f in sample(f"{RULE}/tube-out", "right").findings if f.rule == RULE]


def test_far_reversed_with_a_tube_out_is_a_notice(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A cathode at 30 V or so against one at 60 V whose tube is out."""
    text = """tube V1 6C4
tube V2 6C4
B1 --+[E1 250 V]-- gnd
B1 -- V1.plate
B1 -- V2.plate
B1 --[R1 100k]-- V1.grid --[R2 47k]-- gnd
B1 --[R3 100k]-- V2.grid --[R4 22k]-- gnd
V1.cathode --[R5 10k]-- gnd
V2.cathode --[R6 10k]-- gnd
V1.cathode --+[C1 10 uF 160 V]-- V2.cathode
"""
    found = only(review(text), RULE)
    assert (found.level, found.state) == ("notice", "pulled V1")
    assert found.evidence["reverse_dc"].value > 25


def test_what_floats_in_standby_is_not_turned_round(review: Callable[[str], Review]) -> None:
    """Behind the open switch the tube's plate is all that is on C1; closed, its + is at 250 V."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nN1 --+[E2 {volts} V]-- gnd\n"
        "B1 --[S1 switch standby]-- B2 --+[C1 47 uF 400 V]-- gnd\n"
        "B2 --[R1 100k 1 W]-- V1A.plate\nV1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
        "gnd --[R4 10k 1 W]-- N1\nB2 --[R5 100k 1 W]-- gnd\nB2 --[R6 1M 1 W]-- NEG\n"
        "gnd --+[E3 {negative} V]-- NEG\n"
    )
    for negative, told in ((10, 0), (30, 1)):
        # 100k of 1.1 Mohm: 0.9 V is left alone, 2.7 V is told, and never to be turned round
        looked = review(text.format(volts=10, negative=negative))
        found = [f for f in looked.findings if f.rule == "capacitor.reversed"]
        assert len(found) == told
        assert all(f.state == "standby S1" and "Leave C1 as drawn" in f.remedy for f in found)
