"""Push-pull drive, shorted windings, and leads exchanged at the output transformer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def of(looked: Review, rule: str) -> list:
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == rule]


PAIR = """tube V2 EL84
tube V3 EL84
output T2 8k ct : 8 ohm 200 ohm 20 H
B1 --+[E1 250 V]-- gnd
T2.ct -- B1
T2.p1 -- V2.plate
T2.p2 -- V3.plate
B1 --[R11 470 ohm 2 W]-- V2.screen
B1 --[R12 470 ohm 2 W]-- V3.screen
V2.cathode -- V3.cathode --[R10 {tail}]-- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
G2 --[R1 470k]-- gnd
G3 --[R2 470k]-- gnd
G2 -- V2.grid
G3 -- V3.grid
{drive}
"""
ANTIPHASE = """signal A 1 V
A --[C1 100 nF]-- G2
tube V9 12AX7
A -- V9A.grid
V9A.cathode --[R3 1k5]-- gnd
B1 --[R4 100k]-- V9A.plate --[C2 100 nF]-- G3"""


@pytest.mark.parametrize(
    ("tail", "drive", "found"),
    [
        ("150 ohm 3 W", "signal A 1 V\nA --[C1 100 nF]-- G2\nA --[C2 100 nF]-- G3", True),
        ("150 ohm 3 W", ANTIPHASE, False),
        # A side that only the common cathode drives gets the opposite phase.
        ("150 ohm 3 W", "signal A 1 V\nA --[C1 100 nF]-- G2\nG3 --[C2 1 uF]-- gnd", False),
        ("150 ohm 3 W", "", False),
    ],
)
def test_the_phase_of_the_two_sides(
    tail: str, drive: str, found: bool, review: Callable[[str], Review]
) -> None:
    hits = of(review(PAIR.format(tail=tail, drive=drive)), "output.one-phase")
    assert [(f.at, f.level) for f in hits] == (
        [(("V2", "V3", "C1", "C2"), "notice")] if found else []
    )


def test_without_a_signal_the_wiring_tells(review: Callable[[str], Review]) -> None:
    drive = """tube V9 12AX7
    V9A.grid --[R5 1M]-- gnd
    V9A.cathode --[R3 1k5]-- gnd
    B1 --[R4 100k]-- V9A.plate --[C2 100 nF]-- G3
    {where} --[C1 100 nF]-- G2"""
    for where, found in (("V9A.plate", True), ("V9A.cathode", False)):
        text = PAIR.format(tail="150 ohm 3 W", drive=drive.format(where=where))
        assert bool(of(review(text), "output.one-phase")) is found


SINGLE = """tube V2 6V6GT
output T2 5k : 8 ohm 210 ohm 12 H gapped 60 mA
B1 --+[E1 250 V]-- gnd
V2.grid --[R6 470k]-- gnd
V2.cathode --[R7 270 ohm 2 W]-- gnd
B1 -- T2.p1
B1 --[R2 470 ohm 2 W]-- V2.screen
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
{more}
"""
SECOND = "B1 --[R8 4k7 5 W]-- B2 --+[C8 40 uF 400 V]-- gnd\n"


@pytest.mark.parametrize(
    ("more", "ohms"),
    [
        ("T2.p2 -- V2.plate\nT2.s1 -- gnd", 0.4),  # 5 % of 8 ohm
        ("T2.p2 -- V2.plate\nT2.s1 --[R9 0.39 ohm 5 W]-- gnd", 0.4),
        ("T2.p2 -- V2.plate\nT2.s1 --[R9 0.41 ohm 5 W]-- gnd", None),
        ("T2.p2 -- V2.plate\nT2.s1 --[S1 switch]-- gnd", None),
        ("T2.p2 -- V2.plate\nT2.p1 --[R9 220 ohm 5 W]-- T2.p2", 250),  # 5 % of 5 kohm
        ("T2.p2 -- V2.plate\nT2.p1 --[R9 270 ohm 5 W]-- T2.p2", None),
        ("T2.p2 -- B1\nB1 -- V2.plate", 250),
        # The two ends on two supply points, both of which hold still.
        (f"{SECOND}T2.p2 -- B2\nB2 -- V2.plate", 250),
        (f"{SECOND}T2.p2 -- V2.plate", None),
        ("T2.p2 -- V2.plate", None),
    ],
)
def test_a_shorted_winding(more: str, ohms: float | None, review: Callable[[str], Review]) -> None:
    hits = of(review(SINGLE.format(more=more)), "output.winding-shorted")
    assert [f.limit.value for f in hits] == pytest.approx([ohms] if ohms else [])
    assert all((f.at, f.level) == (("T2",), "notice") for f in hits)


@pytest.mark.parametrize(
    ("across", "tube", "found"),
    [
        # Half the turns have a quarter of the impedance: 5 % of 2 kohm.
        ("T2.p1 --[R9 95 ohm 5 W]-- T2.ct", "", True),
        ("T2.p1 --[R9 105 ohm 5 W]-- T2.ct", "", False),
        # A half that no tube works on may be anything.
        ("T2.p1 --[R9 95 ohm 5 W]-- T2.ct", "T2.p1 -- V2.plate\n", False),
        ("T2.p1 --[R9 95 ohm 5 W]-- T2.ct\nT2.p1 -- V2.screen", "T2.p1 -- V2.plate\n", False),
    ],
)
def test_half_a_primary_shorted(
    across: str, tube: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = PAIR.format(tail="150 ohm 3 W", drive=across)
    hits = of(review(text.replace(tube, "") if tube else text), "output.winding-shorted")
    assert [f.limit.value for f in hits] == pytest.approx([100] * found)
    assert all("T2.p1 and T2.ct are joined by 95 ohm" in f.message for f in hits)


@pytest.mark.parametrize(
    ("name", "at"),
    [
        ("output.supply-on-primary-end", ("T2", "V2")),
        ("output.plate-and-screen-exchanged", ("V2", "T2")),
    ],
)
def test_exchanged_leads_are_one_cause(
    name: str, at: tuple[str, ...], sample: Callable[..., Review]
) -> None:
    (hit,) = [f for f in sample(name, "wrong").findings if f.level != "advice"]
    assert (hit.rule, hit.at, hit.level, hit.certainty) == (name, at, "notice", "certain")
    assert of(sample(name, "right"), name) == []


def test_a_triode_connection_is_not_an_exchange(review: Callable[[str], Review]) -> None:
    text = SINGLE.format(more="T2.p2 -- V2.plate").replace(
        "B1 --[R2 470 ohm 2 W]-- V2.screen", "T2.p2 --[R2 100 ohm]-- V2.screen"
    )
    assert of(review(text), "output.plate-and-screen-exchanged") == []


@pytest.mark.parametrize(("fuse", "found"), [("B1 --[F1 fuse 0.1 A]-- T2.p1", True), ("", False)])
def test_a_fuse_in_the_plate_lead_alone(
    fuse: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = SINGLE.format(more="T2.p2 -- V2.plate")
    text = text.replace("B1 -- T2.p1", fuse or "B1 -- T2.p1")
    hits = of(review(text), "output.screen-left-fed")
    assert [f.at for f in hits] == ([("V2", "F1")] if found else [])


def test_a_fuse_ahead_of_both_is_sound(review: Callable[[str], Review]) -> None:
    text = SINGLE.format(more="T2.p2 -- V2.plate").replace(
        "B1 --+[E1 250 V]-- gnd", "B0 --+[E1 250 V]-- gnd\nB0 --[F1 fuse 0.1 A]-- B1"
    )
    assert of(review(text), "output.screen-left-fed") == []


@pytest.mark.parametrize(
    ("more", "found"),
    [
        # The plug lifts the speaker's contact, and the phones are on another winding's point.
        ("T2.s1 -- J1.switch\nX -- J1.tip\nX --[R8 100k]-- gnd\nJ1.sleeve -- gnd", True),
        (
            "T2.s1 -- J1.switch\nX -- J1.tip\nT2.s1 --[R8 270 ohm 5 W]-- gnd\nJ1.sleeve -- gnd",
            False,
        ),
    ],
)
def test_headphones_that_take_the_load_away(
    more: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = SINGLE.format(more=f"T2.p2 -- V2.plate\njack J1 unplugged\n{more}").replace(
        "T2.s1 --[LS1 speaker 8 ohm]-- T2.s2", "X --[LS1 speaker 8 ohm]-- T2.s2"
    )
    hits = of(review(text), "output.load-switched-off")
    assert [f.at for f in hits] == ([("T2", "J1")] if found else [])
    assert all("takes the whole load off T2: with a plug in it, " in f.message for f in hits)


PUSHED = """tube V1 12AU7
tube V2 6V6GT
tube V3 6V6GT
output T2 8k ct : 8 ohm 300 ohm 30 H 100 mA
B1 --+[E1 300 V]-- gnd
signal IN 1 V 1 kHz
IN --[C1 1 uF 400 V film]-- V1A.grid --[R1 1M]-- LEG
B1 --[R2 47k 1 W]-- V1A.plate --[C2 1 uF 400 V film]-- GA --[R4 {upper}]-- GAA
GAA --[R5 100k]-- gnd
V1A.cathode --[R3 1k5]-- LEG --[R8 47k 1 W]-- gnd
LEG --[C3 1 uF 400 V film]-- GB --[R6 100]-- GBB
GBB --[R7 100k]-- gnd
GAA -- V2.grid
GBB -- V3.grid
V2.cathode -- K -- V3.cathode
K --[R9 270 ohm 5 W]-- gnd
K --+[C4 100 uF 50 V]-- gnd
B1 --[R10 470 ohm 1 W]-- V2.screen
B1 --[R11 470 ohm 1 W]-- V3.screen
V2.plate -- T2.p1
V3.plate -- T2.p2
B1 -- T2.ct
T2.s1 --[LS1 speaker 8 ohm 20 W]-- T2.s2 -- gnd
"""


@pytest.mark.parametrize(("upper", "told"), [("100", False), ("120k", False), ("180k", True)])
def test_halves_unequal(upper: str, told: bool, review: Callable[[str], Review]) -> None:
    """One current through 47 kohm beside each load: 180 + 100 kohm, of which the grid has 100,
    (47 || 280) 100 / 280 = 14.37, and 100.1 kohm (47 || 100.1) 100 / 100.1 = 31.95 volts a mA.
    """
    looked = review(PUSHED.format(upper=upper))
    found = [f for f in looked.findings if f.rule == "output.halves-unequal"]
    assert [f.at for f in found] == ([("V2", "V3")] if told else [])
    for f in found:
        assert f.evidence["ratio"].value == pytest.approx(31.95 / 14.37, rel=0.01)
