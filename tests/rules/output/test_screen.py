"""Screens of output tubes: feeds, levels and switches, each by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

SUPPLY = "B1 --+[E1 250 V]-- gnd\n"
STAGE = """output T2 5k : 8 ohm  250 ohm
tube V1 6V6GT
B1 -- T2.p1
T2.p2 -- V1.plate
V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 330 ohm 3 W]-- gnd
T2.s2 -- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
"""


def of(looked: Review, rule: str) -> list[Finding]:
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    return [f for f in looked.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("feed", "found"),
    [
        ("B1 -- V1.screen\n", True),
        ("B1 --[R1 47 ohm]-- V1.screen\n", True),
        ("B1 --[R1 99 ohm]-- V1.screen\n", True),
        ("B1 --[R1 100 ohm]-- V1.screen\n", False),  # the criterion of the trade
        ("B1 --[R1 470 ohm 1 W]-- V1.screen\n", False),
        # A filter capacitor of its own behind a large resistor: held back on average.
        ("B1 --[R1 1k 1 W]-- V1.screen --+[C1 22 uF 450 V]-- gnd\n", False),
        # A filter point that feeds other things too is a supply, whatever stands before it.
        (
            "B1 --[R1 1k 1 W]-- B2 --+[C1 22 uF 450 V]-- gnd\nB2 -- V1.screen\n"
            "B2 --[R9 47k 2 W]-- gnd\n",
            True,
        ),
        ("V1.plate --[R1 100 ohm]-- V1.screen\n", False),  # a triode
        ("V1.plate -- V1.screen\n", False),
    ],
)
def test_is_there_a_screen_resistor(
    feed: str, found: bool, review: Callable[[str], Review]
) -> None:
    findings = of(review(SUPPLY + STAGE + feed), "output.no-screen-resistor")
    assert [f.level for f in findings] == (["advice"] if found else [])


@pytest.mark.parametrize(
    ("type_", "cathode", "ohms"),
    [("6V6GT", "330 ohm", "1 kohm"), ("6L6GC", "250 ohm", "470 ohm")],
)
def test_small_screens_want_the_larger_resistor(
    type_: str, cathode: str, ohms: str, review: Callable[[str], Review]
) -> None:
    """The screen of a 6V6GT stands 2 W, of a 6L6GC 5 W (sheets); 1 kohm and 470 ohm are usual."""
    text = SUPPLY + STAGE.replace("6V6GT", type_).replace("330 ohm", cathode) + "B1 -- V1.screen\n"
    (found,) = of(review(text), "output.no-screen-resistor")
    assert found.level == "advice"
    assert found.remedy.startswith(f"Put {ohms}, 1 W or more, ")


@pytest.mark.parametrize(("volts", "found"), [(190, 0), (210, 1)])
def test_from_200_volts_on(volts: int, found: int, review: Callable[[str], Review]) -> None:
    text = SUPPLY.replace("250 V", f"{volts} V") + STAGE + "B1 -- V1.screen\n"
    assert len(of(review(text), "output.no-screen-resistor")) == found


def test_sets_with_a_low_supply_do_without(review: Callable[[str], Review]) -> None:
    text = SUPPLY.replace("250 V", "110 V") + STAGE + "B1 -- V1.screen\n"
    assert of(review(text), "output.no-screen-resistor") == []


def test_two_tubes_on_one_feed_are_one_finding(
    sample: Callable[..., Review], only: Callable[..., Finding]
) -> None:
    found = only(sample("output.no-screen-resistor", "wrong"), "output.no-screen-resistor")
    assert (found.level, found.at, found.state) == ("notice", ("V1", "V2"), "warm")
    # EL84: 2 W rated, twice that on peaks.
    assert (found.evidence["rating"].value, found.limit.value) == (2.0, 4.0)
    # By hand, with the law's parameters: screens at 289 V to the cathode, grid at 0 V, plate at
    # 14.1 V. E = 289.3/96.02 * ln(1 + exp(96.02 * (1/21.80 + 0.2164/289.8))) = 13.5 V, and 17.4 V
    # for the 1.45 % that reach 1.291 times as far: 5.186 mA * (0.9855 * 13.5^1.4155 + 0.0145 *
    # 17.4^1.4155) = 208 mA. d = 0.1198 * (13.6 * 21.80/290)^0.053 * (290/15.1)^0.336 = 0.324, so
    # 157 mA pass the screen; 0.5 * 5.186 mA * 14.1^1.5 = 138 mA can be carried, and the plate gets
    # 157 * (1 - exp(-138/157)) = 92 mA. The cathode gives 208 * (1 - 0.4 * exp(-138/157)) = 173 mA;
    # the screen has the other 81 mA: 23.6 W.
    assert found.evidence["screen_peak"].value == pytest.approx(23.6, rel=0.03)
    assert found.evidence["screen_mean_dissipation"].value > 2.4 * 2.0


def test_screen_above_plate_by_hand(
    sample: Callable[..., Review], only: Callable[..., Finding]
) -> None:
    looked = sample("output.screen-above-plate", "wrong")
    found = only(looked, "output.screen-above-plate")
    reading = looked.solutions["warm"].readings["V1"]
    # What the plate has less than the screen: R1 (2k2) and the primary (250 ohm) against R2.
    drop = reading.plate_ma * 2.45 - reading.screen_ma * 0.47
    assert found.evidence["screen"].value - found.evidence["plate"].value == pytest.approx(
        drop, abs=0.1
    )
    assert (found.level, found.at, found.certainty) == ("notice", ("V1",), "certain")


@pytest.mark.parametrize(("ohms", "found"), [("220 ohm", False), ("470 ohm", True)])
def test_twenty_volts_are_the_limit(
    ohms: str, found: bool, review: Callable[[str], Review]
) -> None:
    # Some 38 mA of plate current: 470 ohm at the primary are 18 V, with the primary 27 V.
    feed = f"S --+[E1 250 V]-- gnd\nS --[R9 {ohms} 2 W]-- B1\nS --[R1 100 ohm]-- V1.screen\n"
    assert bool(of(review(feed + STAGE), "output.screen-above-plate")) is found


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("SUP --[S1 switch standby]-- B1\nSUP --[R1 470 ohm]-- V1.screen\n", True),
        ("SUP --[S1 switch standby]-- B1\nB1 --[R1 470 ohm]-- V1.screen\n", False),
        ("SUP --[S1 switch]-- X --[R1 470 ohm]-- V1.screen\nSUP -- B1\n", False),
        # Bridged by a resistor: the plate keeps a supply.
        (
            "SUP --[S1 switch]-- B1\nSUP --[R9 47k 2 W]-- B1\nSUP --[R1 470 ohm]-- V1.screen\n",
            False,
        ),
    ],
)
def test_a_switch_that_leaves_the_screen(
    wires: str, found: bool, review: Callable[[str], Review]
) -> None:
    findings = of(review("SUP --+[E1 250 V]-- gnd\n" + STAGE + wires), "output.screen-left-fed")
    assert [(f.at, f.state) for f in findings] == ([(("V1", "S1"), "standby S1")] if found else [])


def test_what_the_screen_left_alone_takes_is_told_with_it(sample: Callable[..., Review]) -> None:
    (found,) = sample("output.screen-left-fed", "wrong").findings
    assert "tube.screen-dissipation" in found.evidence["explains"]


def test_overload_names_a_resistor_that_helps(
    sample: Callable[..., Review], only: Callable[..., Finding]
) -> None:
    found = only(sample("signal.screen-overload", "wrong"), "signal.screen-overload")
    assert (found.at, found.level, found.certainty) == (("V1", "V2"), "advice", "likely")
    assert "1 kohm" in found.remedy  # what the right drawing has
    assert found.excess == pytest.approx(found.evidence["screen_mean_dissipation"].value / 4)


def test_a_stage_by_its_sheet_is_not_overloaded(review: Callable[[str], Review]) -> None:
    """250 V, 5 kohm, cathode bias: the 6V6GT's own operating point."""
    looked = review(SUPPLY + STAGE + "B1 --[R1 100 ohm]-- V1.screen\n")
    assert of(looked, "signal.screen-overload") == []


def test_no_rating_no_verdict(review: Callable[[str], Review]) -> None:
    text = SUPPLY + STAGE + "B1 --[R1 100 ohm]-- V1.screen\n"
    looked = review(text.replace("330 ohm", "?"))
    assert of(looked, "signal.screen-overload") == []
