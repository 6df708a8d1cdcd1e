"""Speakers against their watts: U^2 / R, and no more signal than the stages let through."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "output.speaker-overload"


@pytest.mark.parametrize(("rated", "found"), [("6.3 W", True), ("6.5 W", False), ("", False)])
def test_direct_current(rated: str, found: bool, review: Callable[[str], Review]) -> None:
    # 8 W, and 1.25 times the rating is let through: 6.4 W.
    looked = review(f"B1 --+[E1 8 V]-- gnd\nB1 --[LS1 speaker 8 ohm {rated}]-- gnd\n")
    hits = [f for f in looked.findings if f.rule == RULE]
    assert [(f.at, f.level) for f in hits] == ([(("LS1",), "notice")] if found else [])
    assert all(f.evidence["used"].value == pytest.approx(8, rel=0.01) for f in hits)


AMPLIFIER = """tube V1 6V6GT
output T2 5k : 8 ohm 200 ohm
B1 --+[E9 250 V]-- gnd
B1 -- T2.p1
T2.p2 -- V1.plate
B1 --[R2 470 ohm 5 W]-- V1.screen
V1.cathode --[R7 270 ohm 5 W]-- gnd
V1.cathode --+[C7 100 uF 50 V]-- gnd
signal IN {volts} V
IN -- V1.grid --[R6 470k]-- gnd
T2.s2 -- gnd
T2.s1 --[LS1 8 ohm 0.1 W]-- gnd
"""


def test_the_stated_signal_counts_as_far_as_it_gets(review: Callable[[str], Review]) -> None:
    def used(volts: float) -> float:
        looked = review(AMPLIFIER.format(volts=volts))
        (hit,) = [f for f in looked.findings if f.rule == RULE]
        return hit.evidence["used"].value

    # Within its swing the stage goes by the square of the signal.
    assert used(4) == pytest.approx(4 * used(2), rel=0.02)
    # Clipped, it gives no more, however hard it is driven: not beyond the 250 V peak that the
    # supply allows in 5 kohm, 6.3 W.
    assert used(500) == pytest.approx(used(50), rel=1e-6)
    assert used(500) < 250**2 / 2 / 5e3


def test_bass_cut_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("output.bass-cut", "wrong"), "output.bass-cut")
    assert (found.at, found.state, found.level) == (("C2", "LS1"), "drawing", "notice")
    # 1 / (2 pi 300 ohm 470 nF); for 30 Hz 17.7 uF, of E12 18 uF.
    assert found.evidence["corner"].value == pytest.approx(1128.8, rel=1e-4)
    assert found.remedy == "Use 18 uF or more for 30 Hz"


FED = """tube V1 12BH7A
B1 --+[E1 220 V 0.2 A]-- gnd
B1 -- V1A.plate
V1A.grid --[R1 470k]-- gnd
V1A.cathode --[R4 2k2 5 W]-- gnd
V1A.cathode --[C2 {farads} 250 V film]-- PH{more}
PH --[LS1 speaker 300 ohm 0.5 W]-- gnd
"""


@pytest.mark.parametrize(
    ("farads", "more", "found"),
    [
        ("3.6 uF", "", False),  # 147 Hz
        ("3.5 uF", "", True),  # 152 Hz
        ("2.2 uF", "", True),  # 241 Hz
        ("2 uF", "\nPH --[R5 4k7]-- gnd", True),
        ("2 uF", " --[C3 47 uF 250 V film]-- V1A.cathode", False),  # two ways to it
        ("2 uF", "\nPH --[R5 100 ohm]-- OUT", False),  # something else feeds it
    ],
)
def test_only_a_lone_capacitor_is_judged(
    farads: str, more: str, found: bool, review: Callable[[str], Review]
) -> None:
    looked = review(FED.format(farads=farads, more=more))
    assert bool([f for f in looked.findings if f.rule == "output.bass-cut"]) is found


UNDRIVEN = "output.speaker-undriven"


def test_a_phone_whose_transformer_is_on_the_other(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(UNDRIVEN, "wrong"), UNDRIVEN)
    assert (found.at, found.level) == (("LS2", "T2.s1", "T3.s1", "HR"), "notice")
    assert "T2.s1 and T3.s1 are one point" in found.message


@pytest.mark.parametrize(
    "instead",
    [
        "HL --[LS3 32 ohm]-- HR",  # in series with another
        "T3.s1 -- HL\nHL --[S1 switch open]-- HR",  # behind a contact that is open
        "T3.s1 -- HL\nHL --[C1 100 uF 25 V]-- HR",
    ],
)
def test_phones_that_get_a_signal_some_other_way(
    instead: str, changed: Callable[[str, str, str, str], Review]
) -> None:
    looked = changed(UNDRIVEN, "wrong", "T3.s1 -- HL", instead)
    assert [f for f in looked.findings if f.rule == UNDRIVEN] == []
