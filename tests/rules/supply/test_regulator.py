"""Gas regulators: striking, and the resistor proposed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

GLOW = (
    "tube V1 0A2\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ohms} 10 W]-- V1.plate\nV1.cathode -- gnd\n"
)


@pytest.mark.parametrize(
    ("volts", "ohms", "level"),
    [
        # 0A2: starts at 155 V, its makers ask for 185 V (memory).
        (150, "1k", "notice"),
        (170, "1k", "advice"),
        (184, "3k3", "advice"),
        (190, "3k3", None),
        (250, "6k8", None),
    ],
)
def test_what_it_takes_to_strike(
    volts: int, ohms: str, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(GLOW.format(volts=volts, ohms=ohms))
    found = [f for f in looked.findings if f.rule == "supply.regulator-dark"]
    assert [f.level for f in found] == ([level] if level else [])
    for f in found:
        # Dark it draws nothing; lit, its current no longer drops in R1: the supply either way.
        assert f.evidence["voltage"].value == pytest.approx(volts, rel=5e-3)
        assert f.limit.value == (155 if level == "notice" else 185)
    if level == "notice":
        assert "supply.regulator-current" not in {f.rule for f in looked.findings}


def test_the_load_counts_before_it_lights(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # 250 V through 10k with 15k to gnd: 150 V at most.
    looked = review(GLOW.format(volts=250, ohms="10k") + "V1.plate --[R2 15k 5 W]-- gnd\n")
    found = only(looked, "supply.regulator-dark")
    assert found.evidence["voltage"].value == pytest.approx(250 * 15 / 25, rel=1e-2)


def test_two_in_series_that_stay_dark_are_one_finding(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = (
        "tube V1 0A2\ntube V2 0A2\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 2k2 5 W]-- V1.plate\n"
        "V1.cathode -- V2.plate\nV2.cathode -- gnd\nV2.plate --[R2 1M]-- gnd\n"
        "V1.plate --[R3 1M]-- V2.plate\n"
    )
    found = only(review(text), "supply.regulator-dark")
    assert found.at == ("V1", "V2", "R1")


def test_the_ballast_proposed_puts_it_in_the_middle(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(GLOW.format(volts=250, ohms="22k")), "supply.regulator-current")
    # (250 - 150) V over 17.5 mA, half-way between 5 and 30 mA, is 5.7k: 5.6k, 1.8 W.
    assert "5.6 kohm" in found.remedy
    assert "17.5 mA" in found.remedy


def test_the_bleeder_proposed_for_a_choke(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample("supply.choke-below-critical", "wrong"), "supply.choke-below-critical")
    henries, limit = found.evidence["inductance"].value, found.limit.value
    # Critical load 1131 L (60 Hz, found); with the present load in parallel.
    critical, load = 1131 * henries, 1131 * limit
    exact = critical * load / (load - critical)
    assert "a bleeder of" in found.remedy
    words = found.remedy.split("a bleeder of ")[1].split()
    value = float(words[0]) * {"kohm": 1e3, "ohm": 1}[words[1]]
    assert 0.8 * exact < value <= exact * 1.002


def test_the_load_switched_away_leaves_it_all_to_the_tube(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # 150 V over 4.7k is 31.9 mA; 15k takes 10 mA of it, until the switch takes that away.
    text = GLOW.format(volts=300, ohms="4k7") + "V1.plate --[S1 switch]-- X --[R2 15k 3 W]-- gnd\n"
    found = only(review(text), "supply.regulator-current")
    assert (found.state, found.at) == ("standby S1", ("V1", "R1"))
    assert (found.evidence["current"].value * 1000) == pytest.approx(150 / 4.7, rel=0.03)


@pytest.mark.parametrize(("ohms", "count"), [("4k7", 1), ("5k1", 0)])
def test_a_tube_pulled_leaves_its_current_to_the_glow(
    ohms: str, count: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """0A2, at most 30 mA: 150 V over 4.7k is 31.9 mA, over 5.1k 29.4 mA; V2 takes some 7 mA."""
    text = GLOW.format(volts=300, ohms=ohms) + (
        "tube V2 12AU7\nV2A.plate -- V1.plate -- V2B.plate\nV2A.grid -- gnd -- V2B.grid\n"
        "V2A.cathode -- K -- V2B.cathode\nK --[R2 1k 1 W]-- gnd\n"
    )
    found = only(review(text), "supply.regulator-current", count=count)
    if count:
        assert (found.state, found.at) == ("pulled V2", ("V1", "R1"))
        assert found.evidence["current"].value * 1000 == pytest.approx(150 / 4.7, rel=0.03)
        assert "with V2 pulled" in found.message
        assert "(R1)" in found.remedy


def test_a_supply_switched_off_ahead_of_it_is_no_fault(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = GLOW.format(volts=300, ohms="6k8").replace("B1 --[R1", "B1 --[S1 switch]-- B2 --[R1")
    looked = review(text)
    only(looked, "supply.regulator-current", count=0)
    only(looked, "supply.regulator-dark", count=0)


def test_tubes_in_series_that_are_off_in_opposite_ways_are_two_findings(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """0A2: 5 to 30 mA. 40 mA through V1, of which R2 takes 36.6 mA past V2."""
    text = (
        "tube V1 0A2\ntube V2 0A2\nB1 --+[E1 450 V]-- gnd\nB1 --[R1 3k75 20 W]-- V1.plate\n"
        "V1.cathode -- V2.plate\nV2.cathode -- gnd\nV2.plate --[R2 4k1 10 W]-- gnd\n"
    )
    found = only(review(text), "supply.regulator-current", count=2)
    assert [(f.at, f.limit.value) for f in found] == [(("V1", "R1"), 0.03), (("V2",), 0.005)]


@pytest.mark.parametrize(
    ("feed", "remedy"),
    [
        # 150 V over 1 kohm are 150 mA for a 0A2's 30; half-way is 17.5 mA, 8.57 kohm.
        ("--[R1 1k 10 W]-- X --+[C1 8 uF 450 V]-- gnd\nX --", "Use a larger series resistor (R1)"),
        ("--[R1 1k 10 W]--", "Use a larger series resistor (R1)"),
        ("--", "Put a resistor between the supply and V1"),
        ("--[F1 fuse 0.1 A]-- X --+[C1 8 uF 450 V]-- gnd\nX --", "Put a resistor between"),
    ],
)
def test_too_much_current_wants_a_resistor_or_a_larger_one(
    feed: str, remedy: str, review: Callable[[str], Review]
) -> None:
    text = GLOW.format(volts=300, ohms="1k").replace("--[R1 1k 10 W]--", feed)
    found = [f for f in review(text).findings if f.at in (("V1",), ("V1", "R1"))]
    assert [f.rule for f in found] == ["supply.regulator-current"]
    assert found[0].at[1:] == (("R1",) if "R1" in remedy else ())
    assert found[0].remedy.startswith(remedy)
    assert ("8.2 kohm" in found[0].remedy) is ("R1" in remedy)


@pytest.mark.parametrize(
    ("volts", "at"),
    # With a number it is the current that tells of the resistor that is missing.
    [("300", [("V1",)]), ("?", [("V1", "C1")])],
)
def test_the_supply_s_own_capacitor_across_a_tube(
    volts: str, at: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    text = (
        f"tube V1 0A2\nB1 --+[E1 {volts} V]-- gnd\nB1 -- V1.plate\nV1.cathode -- gnd\n"
        "B1 --+[C1 8 uF 450 V]-- gnd\n"
    )
    found = [f for f in review(text).findings if f.rule == "supply.regulator-current"]
    assert [f.at for f in found] == at


@pytest.mark.parametrize(
    ("amps", "rule"),
    [(0.95e-6, "supply.regulator-dark"), (1.05e-6, "supply.regulator-current")],
)
def test_up_to_a_microampere_it_does_not_glow(
    amps: float, rule: str, review: Callable[[str], Review]
) -> None:
    """A dark discharge ends at about a microampere (textbooks on gas discharges, from memory).

    185 V just start an 0A2; what it then holds is read off, less the 5 nS of a blocking part.
    """
    held = review(GLOW.format(volts=185, ohms="10M")).solutions["warm"].wave("V1.plate").dc
    resistor = (185 - held) / (amps + 5e-9 * held)
    looked = review(GLOW.format(volts=185, ohms=f"{resistor:.0f} ohm"))
    assert looked.solutions["warm"].readings["V1"].plate_ma == pytest.approx(1e3 * amps, rel=0.01)
    assert {f.rule for f in looked.findings if f.at == ("V1", "R1")} == {rule}


OSCILLATOR = """tube V1 6C4
tube V2 0A2
transformer L1 coupling 45 %
    winding tank 230 uH 4 ohm
    winding tick 25 uH 1 ohm
B1 --+[E1 250 V]-- gnd
B1 --[R1 {ballast} 5 W]-- REG -- V2.plate
V2.cathode -- gnd
L1.tank.1 --[C5 365p variable]-- gnd
L1.tank.2 -- gnd
L1.tank.1 --[C7 100p 500 V mica]-- V1.grid --[R3 47k]-- gnd
V1.cathode -- gnd
REG --[R4 10k 2 W]-- BO --[C8 10n 500 V]-- gnd
BO -- L1.tick.{cold}
L1.tick.{hot} -- V1.plate
"""


@pytest.mark.parametrize(
    ("ballast", "cold", "hot", "found", "unjudged"),
    [
        # 8.2 mA in all, of which the stage takes most at rest, and nobody knows how much running
        ("12k", 1, 2, 0, 1),
        # turned round it does not run, and takes what it takes at rest
        ("12k", 2, 1, 1, 0),
        # 18 mA do with all it takes
        ("5k6", 1, 2, 0, 0),
    ],
)
def test_an_oscillator_leaves_more_than_at_rest(
    ballast: str, cold: int, hot: int, found: int, unjudged: int,
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    looked = review(OSCILLATOR.format(ballast=ballast, cold=cold, hot=hot))
    rule = "supply.regulator-current"
    assert len([f for f in looked.findings if f.rule == rule and f.state == "warm"]) == found
    at = [n.at for n in looked.not_judged if n.rule == rule]
    assert at == [("V2", "V1")] * unjudged


STACK = (
    "tube V1 0D3\ntube V2 0C3\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 12k 10 W]-- {top}\n"
    "{low} -- V2.plate\nV2.cathode -- gnd\n{top} --[R2 33k 5 W]-- gnd\n"
)


def test_one_of_a_stack_that_is_the_wrong_way_round(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """R1 and R2 leave 400 x 33 / 45 = 293 V at the top, and none of it lights the lower one."""
    text = STACK.format(volts=400, top="V1.cathode", low="V1.plate")
    found = only(review(text), "supply.regulator-dark")
    assert found.at == ("V1", "V1.plate", "V1.cathode")
    assert "V1 is the wrong way round and stays dark" in found.message
    assert found.remedy.startswith("Exchange V1.plate and V1.cathode")
    lit = review(STACK.format(volts=400, top="V1.plate", low="V1.cathode"))
    assert not [f for f in lit.findings if f.rule == "supply.regulator-dark"]


def test_tubes_on_each_other_alone_are_judged(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Nothing else is between the two; R1 and R2 leave 300 x 15 / 27 = 167 V."""
    text = STACK.format(volts=300, top="V1.plate", low="V1.cathode").replace("R2 33k", "R2 15k")
    found = only(review(text), "supply.regulator-dark")
    assert found.at == ("V1", "V2", "R1")
    assert "V1 stays dark (so do V2)" in found.message


def test_no_decade_is_named_that_puts_the_tubes_out(review: Callable[[str], Review]) -> None:
    """At 120 kohm neither glows any more, so that none has too little current."""
    looked = review(STACK.format(volts=400, top="V1.plate", low="V1.cathode"))
    found = [f for f in looked.findings if f.rule == "supply.regulator-current"]
    assert [f.at for f in found] == [("V1", "V2", "R1")]
    assert "120 kohm" not in found[0].message


def test_one_of_a_negative_supply_is_no_part_of_a_stack_and_is_fed_at_its_cathode(
    review: Callable[[str], Review],
) -> None:
    """(300 - 150) V over 3.9k is 38.5 mA, and 47k at gnd feeds nothing."""
    text = (
        "tube V1 0A2\ntube V2 0A2\nP --+[E1 300 V]-- gnd\nN --[E2 300 V]+-- gnd\n"
        "P --[R1 3k9 10 W]-- V1.plate\nV1.cathode -- gnd\nP --[R3 47k 3 W]-- gnd\n"
        "N --[R2 3k9 10 W]-- V2.cathode\nV2.plate -- gnd\n"
    )
    found = [f for f in review(text).findings if f.rule == "supply.regulator-current"]
    assert {name for f in found for name in f.at} == {"V1", "R1", "V2", "R2"}
    assert all("below it" not in f.message for f in found)
