"""Heater rules: reference, short, switch, rectifier filament. Limits and sums worked by hand."""

from __future__ import annotations

from math import sqrt

import pytest

from coldcheck.judge.figure import Figure, figure

BENCH = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 1 A{ohms}
tube V1 12AX7 heater T1.warm
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 0.5 W]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""

SUPPLY = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding ht 200 V ct 200 V 40 mA 1600 ohm
    winding fil 5 V 3 A
    winding warm 6.3 V ct 1 A
tube V1 5AR4 heater T1.fil
T1.ht.1 -- V1.plate1
T1.ht.2 -- V1.plate2
T1.ht.ct -- gnd
T1.warm.ct -- gnd
V1.cathode -- B1
B1 --+[C1 10 uF 450 V]-- gnd
B1 --[R1 22k 10 W 500 V]-- gnd
"""


def bench(*lines: str, ohms: str = "") -> str:
    return BENCH.format(ohms=ohms) + "\n".join(lines) + "\n"


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


def unjudged(review, rule):
    return {n.at: n.reason for n in review.not_judged if n.rule == rule}


# --- heater.no-reference -------------------------------------------------------------------------


def test_floating_winding(sample, only) -> None:
    found = only(sample("heater.no-reference", "wrong"), "heater.no-reference")
    assert (found.level, found.state, found.at) == ("notice", "drawing", ("T1.warm", "V1"))
    assert found.span.line == 8
    assert found.message.startswith("T1.warm: the heater bus of V1 is tied to nothing")
    assert found.remedy.startswith("Tie the tap of T1.warm to gnd")


def test_an_artificial_tap_is_a_reference(review) -> None:
    pair = ("T1.warm.1 --[R8 100 ohm 0.5 W]-- M", "T1.warm.2 --[R9 100 ohm 0.5 W]-- M", "M -- gnd")
    assert of(review(bench(*pair)), "heater.no-reference") == []


@pytest.mark.parametrize(
    ("tap", "remedy"),
    [
        (" ct", "Tie the tap of T1.warm to gnd"),
        ("", "Tie one lead of T1.warm to gnd, or the middle of 2 x 100 ohm across it"),
    ],
)
def test_where_to_tie_it(review, only, tap: str, remedy: str) -> None:
    found = only(review(bench().replace("6.3 V ct", f"6.3 V{tap}")), "heater.no-reference")
    assert found.remedy.startswith(f"{remedy}, or to a divider")


def test_a_reference_of_megohms_holds_nothing(review, only) -> None:
    found = only(review(bench("T1.warm.ct --[R9 2M2]-- gnd")), "heater.no-reference")
    assert found.evidence == {"reference": Figure(pytest.approx(2.2e6), "ohm")}
    assert found.limit == figure(1e6, "ohm")
    assert "2.2 Mohm" in found.message


def test_a_capacitor_is_no_reference(review, only) -> None:
    only(review(bench("T1.warm.ct --[C9 100 nF 400 V]-- gnd")), "heater.no-reference")


def test_each_floating_winding_is_one_finding(review) -> None:
    text = bench("T1.warm.ct -- gnd").replace(
        "tube V1",
        "    winding two 6.3 V 1 A\ntube V9 6J5 heater T1.two\ntube V8 6J5 heater T1.two\ntube V1",
    )
    assert [f.at for f in of(review(text), "heater.no-reference")] == [("T1.two", "V9", "V8")]


def test_an_unused_winding_and_a_filament_supply_need_none(review, sample) -> None:
    text = bench("T1.warm.ct -- gnd").replace("tube V1", "    winding spare 5 V 3 A\ntube V1")
    assert of(review(text), "heater.no-reference") == []
    assert of(review(SUPPLY), "heater.no-reference") == []


def test_a_series_string_on_the_mains_has_its_reference(review) -> None:
    looked = review(
        "mains 120 V 60 Hz\ntube V1 50C5\ntube V2 35W4\nneutral -- gnd\n"
        "line --[F1 fuse 0.5 A]-- L --[R1 220 ohm 10 W]-- A\n"
        "A --[V2 heater]-- H1 --[V1 heater]-- gnd\n"
    )
    assert of(looked, "heater.no-reference") == []


def test_a_heater_without_its_supply_is_not_judged(review) -> None:
    looked = review("tube V1 6J5\nH1 --[V1 heater]-- H2\n")
    assert of(looked, "heater.no-reference") == []
    assert ("V1",) in unjudged(looked, "heater.no-reference")


# --- heater.two-references -----------------------------------------------------------------------


def test_half_the_winding_shorted(sample, only) -> None:
    found = only(sample("heater.two-references", "wrong"), "heater.two-references")
    assert (found.level, found.state, found.at) == ("notice", "drawing", ("T1.warm",))
    # Half of 6.3 V through half of 0.3 ohm: 3.15 / 0.15 = 21 A.
    assert found.evidence["loop"].value == pytest.approx(3.15)
    assert found.evidence["short"].value == pytest.approx(21.0)
    assert found.limit.value == pytest.approx(1.0)
    assert "about 21 A (rated 1 A)" in found.message
    assert found.remedy.endswith("free T1.warm.1")


def test_without_a_resistance_there_is_no_current_to_tell(review, only) -> None:
    found = only(review(bench("T1.warm.ct -- gnd", "T1.warm.1 -- gnd")), "heater.two-references")
    assert "short" not in found.evidence
    assert "shorts 3.15 V" in found.message


def test_the_path_outside_counts(review, only) -> None:
    lines = ("T1.warm.1 -- gnd", "T1.warm.2 --[R9 1 ohm 50 W]-- gnd")
    found = only(review(bench(*lines, ohms=" 0.3 ohm")), "heater.two-references")
    assert found.evidence["loop"].value == pytest.approx(6.3)
    assert found.evidence["short"].value == pytest.approx(6.3 / 1.3, rel=1e-3)


def test_ends_joined_away_from_gnd_are_shorted_too(review, only) -> None:
    found = only(
        review(bench("T1.warm.ct -- gnd", "T1.warm.1 -- T1.warm.2")), "heater.two-references"
    )
    assert found.evidence["loop"].value == pytest.approx(6.3)


def test_tap_and_pair_is_only_advice(review, only) -> None:
    pair = ("T1.warm.1 --[R8 100 ohm 0.5 W]-- gnd", "T1.warm.2 --[R9 100 ohm 0.5 W]-- gnd")
    found = only(review(bench("T1.warm.ct -- gnd", *pair)), "heater.two-references")
    assert found.level == "advice"
    assert found.evidence["pair_resistance"].value == pytest.approx(100)


@pytest.mark.parametrize(("mains", "level"), [(138, "advice"), (142, "notice")])
def test_a_pair_with_half_again_its_share_is_worse(review, only, mains: int, level: str) -> None:
    """99.2 mW is its share; 10 % more when the winding has a third of its load, 138 V or 142 V."""
    pair = ("T1.warm.1 --[R8 100 ohm 0.5 W]-- gnd", "T1.warm.2 --[R9 100 ohm 0.5 W]-- gnd")
    primary = ("line --[F1 0.5 A]-- T1.pri.1", "T1.pri.2 -- neutral", "T1.warm.ct -- gnd")
    text = bench(*primary, *pair).replace("mains 120 V", f"mains {mains} V")
    found = only(review(text), "heater.two-references")
    assert found.level == level
    assert found.message.endswith("; it takes 153 mW instead of 99.2 mW") is (level == "notice")


def test_a_pair_that_pulls_a_lift_down_is_worse(review, only) -> None:
    pair = ("T1.warm.1 --[R8 100 ohm 0.5 W]-- gnd", "T1.warm.2 --[R9 100 ohm 0.5 W]-- gnd")
    lift = ("B1 --[R5 220k 1 W]-- LIFT --[R6 47k]-- gnd", "T1.warm.ct -- LIFT")
    found = only(review(bench(*pair, *lift)), "heater.two-references")
    assert found.level == "notice"


@pytest.mark.parametrize(
    ("part", "found"),
    [("PL1 lamp 6.3 V 900 mA", False), ("R8 7 ohm 10 W", True), ("R8 12 ohm 10 W", False)],
)
def test_a_lamp_across_the_winding_is_a_load(review, part: str, found: bool) -> None:
    """7 ohm hot; a resistor of as much shorts it."""
    looked = review(bench("T1.warm.ct -- gnd", f"T1.warm.1 --[{part}]-- T1.warm.2"))
    assert bool(of(looked, "heater.two-references")) is found


@pytest.mark.parametrize(
    ("part", "remedy"),
    [
        ("PL1 lamp 6.3 V 150 mA", "Take PL1 across the winding, from T1.warm.1 to T1.warm.2"),
        ("R8 22 ohm 5 W", "Take the resistor from T1.warm.1 to gnd out: the tap is the reference"),
    ],
)
def test_what_leads_from_one_end_alone_is_named(review, only, part: str, remedy: str) -> None:
    """A lamp is there to give light, and belongs between the two ends."""
    looked = review(bench("T1.warm.ct -- gnd", f"T1.warm.1 --[{part}]-- gnd"))
    assert only(looked, "heater.two-references").remedy == remedy


@pytest.mark.parametrize(
    "lines",
    [
        ("T1.warm.ct -- gnd",),
        ("T1.warm.1 -- gnd",),
        ("T1.warm.1 --[R8 100 ohm 0.5 W]-- gnd", "T1.warm.2 --[R9 100 ohm 0.5 W]-- gnd"),
    ],
)
def test_one_reference_is_right(review, lines) -> None:
    assert of(review(bench(*lines)), "heater.two-references") == []


# --- heater.reference-switched -------------------------------------------------------------------


def test_reference_behind_the_standby_switch(sample, only) -> None:
    found = only(sample("heater.reference-switched", "wrong"), "heater.reference-switched")
    assert (found.level, found.state) == ("notice", "standby S1")
    assert found.at == ("T1.warm", "S1")
    assert found.path
    assert "S1" in found.path[0]


def test_the_mains_switch_takes_the_danger_away(review) -> None:
    text = bench(
        "line --[F1 fuse 1 A]--[S1 switch]-- T1.pri.1", "neutral -- T1.pri.2", "T1.warm.ct -- gnd"
    )
    assert of(review(text), "heater.reference-switched") == []


def test_a_pole_of_the_mains_switch_may_hold_the_reference(review) -> None:
    mains = ("switch S1 dpst at 1", "line --[F1 fuse 1 A]-- S1.a.common", "neutral -- T1.pri.2")
    tie = ("T1.warm.ct -- S1.b.common", "S1.b.1 -- gnd")
    off = review(bench(*mains, "S1.a.1 -- T1.pri.1", *tie))
    assert of(off, "heater.reference-switched") == []
    hot = review(bench(*mains, "S1.a.common -- T1.pri.1", *tie))
    assert [f.at for f in of(hot, "heater.reference-switched")] == [("T1.warm", "S1")]


def test_a_switch_elsewhere_does_not_matter(review) -> None:
    text = bench("T1.warm.ct -- gnd", "V1A.cathode --[R9 1k5]-- X --[S1 switch]-- gnd")
    assert of(review(text), "heater.reference-switched") == []


FOLLOWER = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 0.6 A
tube V1 12AX7 heater T1.warm
switch S1 spst at 1
B1 --+[E1 300 V]-- gnd
B1 -- V1A.plate
B1 --[R1 1M]-- V1A.grid --[R2 1M]-- gnd
V1A.cathode --[R3 150k 1 W]-- gnd
{top} --[R4 220k 1 W]-- LIFT --[R5 68k]-- gnd
LIFT -- T1.warm.ct
B1 -- S1.common
S1.1 -- B2
"""


def test_a_lift_that_drops_in_standby_while_the_cathode_stays_up(review, only) -> None:
    found = only(review(FOLLOWER.format(top="B2")), "heater.reference-switched")
    assert (found.level, found.state) == ("advice", "standby S1")
    # 300 V over 220 k and 68 k: 70.8 V; nothing once B2 is switched off.
    assert found.evidence["warm_dc"].value == pytest.approx(300 * 68 / 288, rel=0.01)
    assert found.evidence["standby_dc"].value == pytest.approx(0, abs=0.5)
    assert of(review(FOLLOWER.format(top="B1")), "heater.reference-switched") == []


@pytest.mark.parametrize(("upper", "count"), [("360k", 1), ("310k", 0)])
def test_half_of_the_lift_has_to_stay(review, upper: str, count: int) -> None:
    """With 360k from B1 as well 47.6 V of 99.8 V stay, with 310k 54 V of 103 V."""
    text = FOLLOWER.format(top="B2") + f"B1 --[R6 {upper}]-- LIFT\n"
    assert len(of(review(text), "heater.reference-switched")) == count


def test_a_lift_that_goes_with_the_whole_stage_is_not_missed(review) -> None:
    whole = FOLLOWER.format(top="B2").replace("B1 -- V1A", "B2 -- V1A")
    whole = whole.replace("B1 --[R1 1M]", "B2 --[R1 1M]")
    assert of(review(whole), "heater.reference-switched") == []


# --- the rectifier's filament --------------------------------------------------------------------


def test_a_heater_on_the_filament_winding(sample, only) -> None:
    looked = sample("heater.shares-rectifier-filament", "wrong")
    found = only(looked, "heater.shares-rectifier-filament")
    assert (found.level, found.at) == ("notice", ("V1", "V2"))
    assert found.span.line == 12
    # 200 V rms peaks at 283 V, less the drops of winding and rectifier under a light load.
    assert 240 < found.evidence["heater_dc"].value < 200 * sqrt(2)
    assert found.evidence["heater_dc"].value == pytest.approx(
        looked.solutions["warm"].wave("B1").dc, abs=1
    )
    for rule in ("heater.wrong-voltage", "heater.cathode-stress", "heater.lifted-too-far"):
        assert of(looked, rule) == [], "one cause, one finding"


def test_a_rectifier_with_its_cathode_on_the_heater_counts_too(review, only) -> None:
    stage = "tube V2 6J5 heater T1.fil\nB1 --[R5 47k 2 W]-- V2.plate\nV2.cathode --[R6 2k2]-- gnd\n"
    text = SUPPLY + stage + "V2.grid --[R7 470k]-- gnd\n"
    assert only(review(text), "heater.shares-rectifier-filament").at == ("V1", "V2")


def test_rectifiers_in_parallel_may_share(review) -> None:
    twin = (
        "tube V3 5AR4 heater T1.fil\nT1.ht.1 -- V3.plate1\nT1.ht.2 -- V3.plate2\nV3.cathode -- B1\n"
    )
    assert of(review(SUPPLY + twin), "heater.shares-rectifier-filament") == []


def test_grounded_filament(sample, only) -> None:
    rule = "heater.rectifier-filament-grounded"
    found = only(sample(rule, "wrong"), rule)
    assert (found.level, found.at, found.state) == ("notice", ("V1",), "drawing")
    assert found.evidence["path"] == Figure(pytest.approx(100), "ohm")
    assert found.limit == figure(1000, "ohm")
    assert "tied to gnd through 100 ohm" in found.message
    assert found.span.line == 11


@pytest.mark.parametrize(("ohms", "count"), [("470 ohm", 1), ("4k7", 0)])
def test_a_load_is_not_a_tie(review, ohms, count) -> None:
    looked = review(SUPPLY + f"T1.fil.1 --[R9 {ohms} 500 W]-- gnd\n")
    assert len(of(looked, "heater.rectifier-filament-grounded")) == count


def test_a_negative_supply_has_its_filament_on_gnd(review) -> None:
    text = (
        SUPPLY.replace("T1.ht.ct -- gnd", "T1.ht.ct -- BM")
        .replace("V1.cathode -- B1", "V1.cathode -- gnd")
        .replace("B1 --+[C1 10 uF 450 V]-- gnd", "gnd --+[C1 10 uF 450 V]-- BM")
        .replace("B1 --[R1", "BM --[R1")
    )
    assert of(review(text), "heater.rectifier-filament-grounded") == []


def test_a_pair_that_pulls_a_lift_down_tells_what_it_burns(sample, only) -> None:
    found = only(sample("heater.two-references/both-taps", "wrong"), "heater.two-references")
    assert found.level == "notice"
    # Derived: 3.15 V on each of 2 x 100 ohm is 0.099 W; up to 8 % more volts.
    assert 0.099 <= found.evidence["pair_power"].value <= 0.099 * 1.08**2


def test_a_lift_that_is_lost_in_standby_and_strains_the_follower(sample, only) -> None:
    found = only(sample("heater.reference-switched/lift", "wrong"), "heater.reference-switched")
    assert (found.level, found.state) == ("notice", "standby S1")
    # 400 V * 68 / 288 when warm, nothing in standby: cathode at 201 V, 180 V allowed (found).
    assert found.evidence["warm_dc"].value == pytest.approx(94.4, abs=0.1)
    assert found.evidence["standby_dc"].value == pytest.approx(0, abs=0.01)
    assert "heater.cathode-stress at V1A" in found.evidence["explains"]
