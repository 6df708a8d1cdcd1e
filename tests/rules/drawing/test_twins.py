"""What a circuit has twice, and where only one of two parts lost a decade."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.rules.moving import PAIRS

from coldcheck.anatomy.case import Case
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.judge.finding import Finding
from coldcheck.rules.drawing.twins import twin_missing, twins_differ, twins_wired_apart

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.rule import Rule
    from coldcheck.verdict.review import Review

STEREO = (PAIRS / "drawing.twins-differ" / "right.tube").read_text("utf-8")
FOLLOWERS = (PAIRS / "drawing.twins-wired-apart" / "right.tube").read_text("utf-8")
CHANNELS = (PAIRS / "drawing.twin-missing" / "right.tube").read_text("utf-8")

PAIR = """tube V1 12AX7
tube V2 EL84
tube V3 EL84
output T2 8k ct : 8 ohm 300 ohm
B1 --+[E1 300 V]-- gnd
B1 -- T2.ct
signal IN 1 V 1 kHz
IN --[C1 100n 400 V]-- V1A.grid --[R1 1M]-- TAIL
gnd --[C2 100n 400 V]-- V1B.grid --[R2 1M]-- TAIL
V1A.cathode -- K -- V1B.cathode
K --[R3 1k]-- TAIL --[R4 22k]-- gnd
B1 --[R5 100k 1 W]-- V1A.plate --[C3 47n 630 V]-- GA --[R7 470k]-- gnd
B1 --[R6 100k 1 W]-- V1B.plate --[C4 47n 630 V]-- GB --[R8 470k]-- gnd
GA --[R9 2k2]-- V2.grid
GB --[R10 2k2]-- V3.grid
V2.plate -- T2.p1
V3.plate -- T2.p2
B1 --[R11 100 ohm 1 W]-- V2.screen
B1 --[R12 100 ohm 1 W]-- V3.screen
V2.cathode --[R13 270 ohm 3 W]-- gnd
V3.cathode --[R14 270 ohm 3 W]-- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
"""

MIXED = """tube V1 12AX7
tube V2 12AX7
B1 --+[E1 250 V]-- gnd
signal IA 20 mV 1 kHz
signal IB 20 mV 1 kHz
IA --[R1 68k]-- V1A.grid --[R2 1M]-- gnd
IB --[R11 68k]-- V1B.grid --[R12 1M]-- gnd
V1A.cathode --[R3 1k5]-- gnd
V1B.cathode --[R13 1k5]-- gnd
V1A.cathode --+[C1 25 uF 25 V]-- gnd
V1B.cathode --+[C11 25 uF 25 V]-- gnd
B1 --[R4 100k]-- V1A.plate --[C2 22n 400 V]-- MA --[R5 470k]-- MIX
B1 --[R14 100k]-- V1B.plate --[C12 22n 400 V]-- MB --[R15 470k]-- MIX
MIX -- V2A.grid
V2A.cathode --[R6 1k5]-- gnd
B1 --[R7 100k]-- V2A.plate --[C3 22n 400 V]-- OUT --[R8 1M]-- gnd
"""

CASCADE = """tube V1 12AX7
tube V2 12AX7
B1 --+[E1 250 V]-- gnd
signal IN 20 mV 1 kHz
IN --[C1 22n 400 V]-- V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C2 25 uF 25 V]-- gnd
B1 --[R3 100k]-- V1A.plate --[C3 22n 400 V]-- M1 --[R4 470k]-- V1B.grid --[R5 1M]-- gnd
V1B.cathode --[R6 1k5]-- gnd
V1B.cathode --+[C4 680n 25 V]-- gnd
B1 --[R7 100k]-- V1B.plate --[C5 22n 400 V]-- M2 --[R8 470k]-- V2A.grid --[R9 1M]-- gnd
V2A.cathode --[R10 1k5]-- gnd
V2A.cathode --+[C6 25 uF 25 V]-- gnd
B1 --[R11 100k]-- V2A.plate --[C7 22n 400 V]-- M3 --[R12 470k]-- OUT --[R13 1M]-- gnd
"""


def told(text: str, *edits: tuple[str, str], by: Rule = twins_differ) -> list[Finding]:
    """What a rule says of a drawing with some words changed, each of which is there once."""
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    case = Case(build_circuit(parse_drawing(text)), {})
    return [f for f in by.judge(case) if isinstance(f, Finding)]


def test_the_pair(sample: Callable[[str, str], Review]) -> None:
    """100 nF over 10 nF is ten; R1, R2, R3, R4 and C2 have twins of their own value."""
    (one,) = sample("drawing.twins-differ", "wrong").findings
    assert (one.rule, one.level, one.state) == ("drawing.twins-differ", "notice", "drawing")
    assert one.at == ("C1", "C11")
    assert one.evidence["ratio"].value == pytest.approx(10.0)
    assert "C1 is 100 nF and its twin on the other side, C11, 10 nF" in one.message
    assert "5 other pairs agree" in one.message
    assert not sample("drawing.twins-differ", "right").findings


@pytest.mark.parametrize(
    ("old", "new", "at"),
    [
        ("C3 47n", "C3 4.7n", {"C3", "C4"}),
        ("R8 470k", "R8 4.7M", {"R7", "R8"}),
        ("R9 2k2", "R9 22k", {"R9", "R10"}),
        ("R5 100k", "R5 10k", {"R5", "R6"}),
        ("R12 100 ohm", "R12 1k", {"R11", "R12"}),
        ("R14 270 ohm", "R14 27 ohm", {"R13", "R14"}),
    ],
)
def test_the_halves_of_a_push_pull_stage(old: str, new: str, at: set[str]) -> None:
    (one,) = told(PAIR, (old, new))
    assert set(one.at) == at


def test_sound_ones_are_quiet() -> None:
    for text in (STEREO, PAIR, MIXED, CASCADE):
        assert not told(text)
    assert not told(PAIR, ("R5 100k", "R5 82k"))  # the usual correction of a long-tailed pair


def test_the_unusual_value_is_named_first_where_its_place_tells() -> None:
    """A grid leak of 2.2 kohm is 1.3 decades below 47 kohm, the least there usually is."""
    (one,) = told(STEREO, ("R11 220k", "R11 2.2k"))
    assert one.at == ("R11", "R1")
    assert "2.2 kohm is unusual there" in one.message
    assert one.remedy.endswith("R11 is likely meant to be 220 kohm, as R1 is")
    (both,) = told(STEREO, ("C12 470n", "C12 47n"))
    assert both.at == ("C2", "C12")
    assert both.remedy.endswith("C2 and C12 are likely meant to be the same")


def test_a_small_cathode_resistor_of_an_output_tube_is_not_what_tells() -> None:
    """With bias of both kinds the larger of the two is as likely: it is not said which."""
    (one,) = told(PAIR, ("R7 470k]-- gnd", "R7 470k]-- BN"), ("R8 470k]-- gnd", "R8 470k]-- BN"),
                  ("B1 -- T2.ct", "B1 -- T2.ct\nBN --[E2 5 V]+-- gnd"),
                  ("R14 270 ohm", "R14 27 ohm"))  # fmt: skip
    assert one.at == ("R13", "R14")
    assert "unusual" not in one.message


def test_channels_that_are_mixed_differ_on_purpose() -> None:
    assert not told(MIXED, ("C11 25 uF", "C11 680n"))
    (apart,) = told(MIXED, ("C11 25 uF", "C11 680n"), ("R15 470k]-- MIX", "R15 470k]-- OUT_B"))
    assert set(apart.at) == {"C1", "C11"}


def test_stages_in_cascade_are_no_twins() -> None:
    assert not told(CASCADE, ("C5 22n", "C5 2.2n"))
    assert not told(CASCADE, ("R7 100k", "R7 1M"))


def test_parts_between_the_same_points_are_no_twins() -> None:
    text = STEREO.replace("B1 --+[E1 250 V]-- gnd", "B1 --+[E1 250 V]-- gnd\n"
                          "B1 --[C8 100n 400 V]-- gnd\nB1 --[C9 1 uF 400 V]-- gnd")  # fmt: skip
    assert not told(text)


def test_two_slips_are_no_twins_any_more() -> None:
    assert not told(STEREO, ("C11 100n", "C11 10n"), ("R14 470k", "R14 47k"))


def test_four_pairs_have_to_agree() -> None:
    """Three do not: R2 and R4 are 1.2 and 1.3 times their twins, on purpose or not."""
    off = [("R12 1k", "R12 1.2k"), ("R14 470k", "R14 360k")]
    assert told(STEREO, ("C11 100n", "C11 10n"), off[0])
    assert not told(STEREO, ("C11 100n", "C11 10n"), *off)


def test_a_value_that_is_not_known_is_no_difference() -> None:
    assert not told(STEREO, ("C11 100n", "C11 ?"))
    assert told(STEREO, ("R14 470k", "R14 ?"), ("C11 100n", "C11 10n"))


def test_a_jack_on_one_side_makes_no_difference() -> None:
    """The switch of a stereo jack is at its tip, and the right channel is on its ring."""
    text = STEREO + "jack J1\nJ1.sleeve -- gnd\nOUT_L -- J1.tip\nOUT_R -- J1.ring\n"
    (one,) = told(text, ("C12 470n", "C12 47n"))
    assert set(one.at) == {"C2", "C12"}


def test_a_lead_on_another_rail(sample: Callable[[str, str], Review]) -> None:
    """R1, R2, R4, R5 and C2 have twins wired as they are; R3 has one on another rail."""
    (one,) = sample("drawing.twins-wired-apart", "wrong").findings
    assert (one.rule, one.level, one.state) == ("drawing.twins-wired-apart", "notice", "drawing")
    assert one.at == ("R3", "R13", "B2", "B1")
    assert "R3 goes to B2, and its twin on the other side, R13, to B1" in one.message
    assert one.evidence["pairs"].value == 5
    assert "R3 is likely meant to go to B1 as R13 does, or R13 to B2 as R3 does" in one.remedy
    assert not sample("drawing.twins-wired-apart", "right").findings


def test_a_screen_on_another_rail() -> None:
    rail = ("B1 --[R12", "B1 --[R21 1k 1 W]-- B2 --+[C9 22 uF 450 V]-- gnd\nB2 --[R12")
    moved = ("B1 --[R5 100k", "B2 --[R5 100k"), ("B1 --[R6 100k", "B2 --[R6 100k")
    (one,) = told(PAIR, rail, *moved, by=twins_wired_apart)
    assert one.at == ("R11", "R12", "B1", "B2")


def test_a_lead_in_the_other_channel() -> None:
    """The right follower's leak ends at the left one's bias: KL, and not KR, which is its twin."""
    tails = ("V2A.cathode --[R4 27k", "V2A.cathode --[R6 1k]-- KL --[R4 27k"), (
        "V2B.cathode --[R14 27k", "V2B.cathode --[R16 1k]-- KR --[R14 27k"
    )  # fmt: skip
    coupled = ("V1A.plate -- V2A.grid", "V1A.plate --[C3 100n 400 V]-- V2A.grid --[R7 1M]-- KL"), (
        "V1B.plate -- V2B.grid", "V1B.plate --[C13 100n 400 V]-- V2B.grid --[R17 1M]-- KR"
    )  # fmt: skip
    assert not told(FOLLOWERS, *tails, *coupled, by=twins_wired_apart)
    crossed = coupled[1][0], coupled[1][1].replace("KR", "KL")
    (one,) = told(FOLLOWERS, *tails, coupled[0], crossed, by=twins_wired_apart)
    assert one.at == ("R7", "R17", "KL", "KL")
    assert one.remedy.endswith("R7 or R17 is likely meant to go to KR")


def test_two_leads_elsewhere_are_on_purpose() -> None:
    """Each channel has a rail of its own, or one has another circuit: both are quiet."""
    both = ("B2 --[R3", "B1 --[R3"), ("B2 --[R13", "B1 --[R13")
    assert not told(FOLLOWERS, *both, by=twins_wired_apart)
    two = ("B2 --[R13", "B1 --[R13"), ("OUT_R --[R15 470k 0.5 W]-- gnd", "OUT_R --[R15 470k]-- B1")
    assert not told(FOLLOWERS, *two, by=twins_wired_apart)
    for text in (STEREO, PAIR, MIXED, CASCADE, CHANNELS):
        assert not told(text, by=twins_wired_apart)


def test_three_pairs_are_too_few_to_tell_a_rail() -> None:
    off = [("R11 470k", "R11 390k"), ("R14 27k", "R14 33k")]
    moved = ("B2 --[R13", "B1 --[R13")
    assert told(FOLLOWERS, moved, off[0], by=twins_wired_apart)
    assert not told(FOLLOWERS, moved, *off[:2], by=twins_wired_apart)


def test_a_part_on_one_side_only(sample: Callable[[str, str], Review]) -> None:
    """R1 to R6, C2 and C3 have twins, eight; C1 has none."""
    (one,) = sample("drawing.twin-missing", "wrong").findings
    assert (one.rule, one.level, one.state) == ("drawing.twin-missing", "notice", "drawing")
    assert one.at == ("C1", "V1B.cathode")
    assert one.message.startswith("C1 (100 uF) goes from V1A.cathode to gnd, and V1B.cathode")
    assert one.evidence["pairs"].value == 8
    assert one.remedy.endswith("V1B.cathode likely wants 100 uF as V1A.cathode has")
    assert not sample("drawing.twin-missing", "right").findings


def test_a_part_that_only_one_channel_has_on_purpose() -> None:
    """Channels that are mixed, halves of one stage, and seven pairs are no proof."""
    bare = ("V1B.cathode --+[C11 100 uF 16 V]-- gnd  # mended\n", "")
    assert told(CHANNELS, bare, by=twin_missing)
    assert not told(CHANNELS, bare, ("R15 470k", "R15 390k"), by=twin_missing)
    assert not told(MIXED, ("V1B.cathode --+[C11 25 uF 25 V]-- gnd\n", ""), by=twin_missing)
    assert not told(PAIR, ("gnd --[C2 100n 400 V]-- V1B.grid", "V1B.grid"), by=twin_missing)
