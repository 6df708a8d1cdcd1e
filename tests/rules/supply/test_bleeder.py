"""Bleeders that a blown fuse cuts off."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

BOX = """mains 120 V 60 Hz tolerance 10 %
transformer T1
    primary pri 120 V 8 ohm
    winding ht 250 V 40 mA 200 ohm
line --[F1 0.25 A slow]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES
RES --+[C1 47 uF 500 V]-- gnd
"""
RULES = ("supply.bleeder-behind-fuse", "supply.no-bleeder")


def of(looked: Review) -> list[Finding]:
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule in RULES]


def test_behind_the_fuse(review: Callable[[str], Review]) -> None:
    (found,) = of(review(BOX + "RES --[F2 0.1 A]-- B1\nB1 --[R1 100k 5 W]-- gnd\n"))
    assert (found.rule, found.level) == (RULES[0], "warning")
    assert (found.at, found.state) == (("C1", "F2"), "off, F2 blown")
    # The crest of 250 V, 10 % high, and some 7 % of regulation: 389 V to 416 V.
    volts = found.evidence["voltage"].value
    assert 250 * math.sqrt(2) * 1.1 * 0.95 < volts < 250 * math.sqrt(2) * 1.1 * 1.08
    assert found.evidence["energy"].value == pytest.approx(0.5 * 47e-6 * volts**2, rel=1e-3)
    assert found.evidence["time"] == "never"


@pytest.mark.parametrize(
    ("parts", "rules"),
    [
        ("RES --[R1 100k 5 W]-- gnd\nRES --[F2 0.1 A]-- B1\nB1 --[R2 100k 5 W]-- gnd\n", []),
        # 47 uF from some 400 V to 60 V in a minute: 60 / (47u ln(400 / 60)) is 673k.
        ("RES --[R1 560k 1 W]-- gnd\nRES --[F2 0.1 A]-- B1\nB1 --[R2 100k 5 W]-- gnd\n", []),
        (
            "RES --[R1 820k 1 W]-- gnd\nRES --[F2 0.1 A]-- B1\nB1 --[R2 100k 5 W]-- gnd\n",
            [RULES[0]],
        ),
        # Ahead of the rectifier a fuse cuts nothing off.
        ("RES --[R1 100k 5 W]-- gnd\n", []),
        # Nothing at all drains it: that is told, and not again for the fuse.
        ("RES --[F2 0.1 A]-- B1\nB1 --+[C2 47 uF 500 V]-- gnd\n", [RULES[1]]),
        # Behind a standby contact it is a bleeder that is not there.
        ("RES --[S2 switch standby]-- B1\nB1 --[R1 100k 5 W]-- gnd\n", [RULES[1]]),
    ],
)
def test_where_the_bleeder_is(
    parts: str, rules: list[str], review: Callable[[str], Review]
) -> None:
    assert [f.rule for f in of(review(BOX + parts))] == rules


@pytest.mark.parametrize(
    ("volts", "part", "told"),
    [
        (300, "100n 630 V", False),
        (300, "110n 630 V", True),  # more than 0.1 uF, though only 33 uC
        (61, "220n 100 V", True),
        (59, "220n 100 V", False),
        (600, "73n 1000 V", False),  # 43.8 uC above 450 V
        (600, "77n 1000 V", True),  # 46.2 uC
        (440, "95n 630 V", False),
        (460, "97n 630 V", False),  # 44.6 uC
        (460, "99n 630 V", True),  # 45.5 uC, though less than 0.1 uF
    ],
)
def test_the_charge_that_counts(
    volts: float, part: str, told: bool, review: Callable[[str], Review]
) -> None:
    """IEC 60335-1 cl. 8.1.4: 0.1 uF up to 450 V, 45 uC above; charged through a diode for ever."""
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 1 ohm\nwinding ht 12 V 1 ohm\n"
        f"T1.ht.2 -- gnd\nB --+[E1 {volts} V]-- gnd\nB --[S1 switch open]-- A\n"
        f"B --[S2 switch]-- A\nA --[C1 {part}]-- gnd\n"
    )
    looked = review(text)
    found = [f for f in of(looked) if f.rule == RULES[1]]
    said = [n for n in looked.not_judged if n.rule == RULES[1] and "C1" in n.at]
    assert bool(found or said) is told


def test_in_a_set_without_a_transformer_every_fuse_counts(review: Callable[[str], Review]) -> None:
    text = """mains 120 V 60 Hz
line --[F1 0.5 A]-- HOT --[R9 47 ohm 5 W]-- A --[D1 1N4007]-> RES
neutral -- gnd
RES --+[C1 47 uF 250 V]-- gnd
RES --[F2 0.1 A]-- B1
B1 --[R1 100k 5 W]-- gnd
"""
    (found,) = of(review(text))
    assert (found.rule, found.at) == (RULES[0], ("C1", "F2"))


def test_of_what_is_left_charged_the_most_is_told_first(review: Callable[[str], Review]) -> None:
    more = "RES --[L1 8 H 200 ohm]-- X --+[C2 100 uF 500 V]-- gnd\nX --[F2 0.1 A]-- B1\n"
    (found,) = of(review(BOX + more + "B1 --[R1 47k 5 W]-- gnd\n"))
    assert found.at == ("C2", "C1", "F2")
    assert found.message.startswith("with F2 blown C2 is left with")
