"""Motor-boating: what is told of it, and when it is not."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "signal.motor-boating"
PAIR = Path(__file__).parents[3] / "samples" / "mistakes" / RULE


def of(looked: Review) -> list[Finding]:
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    return [f for f in looked.findings if f.rule == RULE]


def wrong() -> str:
    return (PAIR / "wrong.tube").read_text(encoding="utf-8")


def test_the_loop_gain_by_hand(sample: Callable[..., Review]) -> None:
    """Three stages on 1 kohm and 20 uF: far more than one round the loop.

    Each 12AU7 at 2.3 mA, 47 kohm: rp some 13 kohm, gain 12; its plate keeps 13/60 of what the
    supply does; the 6V6GT's 3.7 mA/V into the 370 ohm that 1 kohm and 20 uF are at 20 Hz make
    0.22 * 12 * 0.0037 * 370 = 3.6. One is enough where the phase fits.
    """
    (found,) = of(sample(RULE, "wrong"))
    assert (found.level, found.at, found.state) == ("notice", ("V1A", "V1B", "V2"), "warm")
    assert "B1" in found.message
    assert "V1A" in found.remedy
    # The coupling: 22 nF and 470 kohm are 15.4 Hz; a tenth of it with 4.7 kohm wants 22 uF.
    assert "15.4 Hz" in found.remedy
    assert "4.7 kohm" in found.remedy
    assert "22 uF" in found.remedy


@pytest.mark.parametrize(
    ("change", "level"),
    [
        (("C9 20 uF", "C9 20 uF"), "notice"),
        # As drawn it grows up to 27.8 uF (by halving), so with half of it left up to 55.6.
        (("C9 20 uF", "C9 27.5 uF"), "notice"),
        (("C9 20 uF", "C9 29.5 uF"), "advice"),
        (("C9 20 uF", "C9 53 uF"), "advice"),
        (("C9 20 uF", "C9 58 uF"), None),
        (("C9 20 uF", "C9 470 uF"), None),
        (("R9 1k 5 W", "R9 10 ohm"), None),
        # Only with half of its value left:
        (("C9 20 uF", "C9 35 uF"), "advice"),
        # A first stage without gain: its grid at gnd's potential for the signal changes nothing,
        # its plate still hears the supply.
        (("IN --[R1 1M]-- gnd", "IN --[R1 1k]-- gnd"), "notice"),
        # A second stage that does not pass it on.
        (("G2 -- V1B.grid", "gnd --[R22 10k]-- V1B.grid"), None),
    ],
)
def test_what_makes_it_and_what_stops_it(
    change: tuple[str, str], level: str | None, review: Callable[[str], Review]
) -> None:
    text = wrong()
    assert change[0] in text
    found = of(review(text.replace(*change)))
    assert [f.level for f in found] == ([level] if level else [])


APART = """tube V3 12AU7
B1 --[R30 22k 1 W]-- B3 --+[C30 47 uF 450 V]-- gnd
B3 --[R31 47k]-- V3A.plate --[C31 22 nF 400 V]-- OUT --[R34 220k]-- gnd
V3A.cathode --[R32 1k5]-- gnd
V3A.grid --[R33 1M]-- gnd
"""
"""A stage that is well decoupled, and no part of the loop."""


def test_who_drives_whom(review: Callable[[str], Review]) -> None:
    (found,) = of(review(wrong() + APART))
    assert found.at == ("V1A", "V1B", "V2")


def test_one_stage_on_the_point_that_moves_drives_those_behind_it(
    review: Callable[[str], Review],
) -> None:
    text = wrong() + "B1 --[R40 1k 1 W]-- B2 --+[C40 1 uF 400 V]-- gnd\n"
    for load in ("B1 --[R3 47k", "B1 --[R6 47k"):
        assert load in text
        text = text.replace(load, load.replace("B1", "B2"))
    (found,) = of(review(text))
    assert found.at == ("V1A", "V1B", "V2")
    assert "drive each other through B1: " in found.message


def test_the_cathode_of_a_rectifier_is_a_supply_point(review: Callable[[str], Review]) -> None:
    source = "RAW --+[E1 300 V]-- gnd\nRAW --[R9 1k 5 W]-- B1 --+[C9 20 uF 450 V]-- gnd\n"
    tube = """mains 120 V 60 Hz
transformer T1
 primary pri 120 V 4 ohm
 winding ht 260 V ct 260 V 100 mA 200 ohm
 winding fil 6.3 V 2 A
tube V9 6X4 heater T1.fil
T1.ht.1 -- V9.plate1
T1.ht.2 -- V9.plate2
T1.ht.ct -- gnd
T1.fil.1 -- gnd
V9.cathode -- B1
B1 --+[C9 8 uF 450 V]-- gnd
"""
    text = wrong()
    assert source in text
    (found,) = of(review(text.replace(source, tube)))
    assert found.at == ("V1A", "V1B", "V2")


def test_an_unknown_value_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(wrong().replace("C9 20 uF", "C9 ?"))
    assert of(looked) == []
    assert RULE in {n.rule for n in looked.not_judged}


def test_a_single_stage_has_no_loop(review: Callable[[str], Review]) -> None:
    text = "tube V1 6J5\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 1k]-- B2 --+[C1 8 uF 400 V]-- gnd\n"
    text += "B2 --[R2 47k]-- V1.plate\nV1.grid --[R3 1M]-- gnd\nV1.cathode --[R4 1k]-- gnd\n"
    looked = review(text)
    assert of(looked) == []
    assert RULE not in {n.rule for n in looked.not_judged}
