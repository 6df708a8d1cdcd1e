"""Mains rules: where the fuse is, what is earthed, what the mains reaches by metal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.figure import figure

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

TRANSFORMER = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  8 ohm
    winding warm  6.3 V  3 A
T1.warm.2 -- gnd
T1.warm.1 --[PL1 lamp 6.3 V 3 A]-- gnd
"""
EARTHED = "earth -- chassis\nchassis -- gnd\n"
DANGERS = ("mains.no-fuse", "mains.fuse-in-neutral", "mains.no-earth", "mains.live-chassis")


def dangers(looked: Review) -> set[str]:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return {f.rule for f in looked.findings if f.rule in DANGERS}


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("line --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 -- neutral\n", set()),
        ("line --[S1 switch]-- A --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 -- neutral\n", set()),
        ("line --[F1 0.4 A]-- A --[RT1 10 ohm]-- T1.pri.1\nT1.pri.2 -- neutral\n", set()),
        ("line -- T1.pri.1\nT1.pri.2 -- neutral\n", {"mains.no-fuse"}),
        ("line --[R8 10 2 W fusible]-- T1.pri.1\nT1.pri.2 -- neutral\n", set()),
        ("line --[R8 10 2 W]-- T1.pri.1\nT1.pri.2 -- neutral\n", {"mains.no-fuse"}),
        ("line --[S1 switch]-- T1.pri.2\nT1.pri.1 -- neutral\n", {"mains.no-fuse"}),
        ("line -- T1.pri.1\nT1.pri.2 --[F1 0.4 A]-- neutral\n", {"mains.fuse-in-neutral"}),
        (
            "line -- T1.pri.1\nT1.pri.2 --[F1 0.4 A]-- A --[S1 switch]-- neutral\n",
            {"mains.fuse-in-neutral"},
        ),
        # Plugs that go in either way are fused in both leads.
        ("line --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 --[F2 0.4 A]-- neutral\n", set()),
        # A pilot lamp straight across the mains is no way round the fuse.
        (
            "line --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 -- neutral\n"
            "line --[PL2 lamp 120 V 20 mA]-- neutral\n",
            set(),
        ),
        # A fuse in the wire of something else does not protect the transformer.
        (
            "line -- T1.pri.1\nT1.pri.2 -- neutral\n"
            "line --[F1 0.1 A]-- X --[PL2 lamp 120 V 20 mA]-- neutral\n",
            {"mains.no-fuse"},
        ),
    ],
)
def test_where_the_fuse_is(wires: str, found: set[str], review: Callable[[str], Review]) -> None:
    assert dangers(review(TRANSFORMER + EARTHED + wires)) == found


def test_currents_that_leave_the_line_add_up_however_they_are_drawn(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    second = (
        TRANSFORMER.replace("mains 120 V 60 Hz\n", "").replace("T1", "T2").replace("PL1", "PL2")
    )
    wires = "line -- T1.pri.1\nT1.pri.2 -- neutral\nline -- T2.pri.2\nT2.pri.1 -- neutral\n"
    found = only(review(TRANSFORMER + second + wires + EARTHED), "mains.no-fuse")
    assert found.remedy.endswith("0.63 A slow for the 334 mA it draws")


FUSED = "line --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 -- neutral\n"


@pytest.mark.parametrize(
    ("ties", "found"),
    [
        (EARTHED, set()),
        ("earth -- gnd\n", set()),  # no chassis drawn: gnd is the metal
        ("earth -- chassis\n", set()),  # gnd kept off the chassis
        ("earth -- chassis\nchassis --[R1 10 ohm]-- gnd\n", set()),
        ("chassis -- gnd\n", {"mains.no-earth"}),
        ("", {"mains.no-earth"}),
        ("earth --[R1 10 ohm]-- chassis\nchassis -- gnd\n", {"mains.no-earth"}),
        ("earth -- gnd\nchassis --[R1 10 ohm]-- gnd\n", {"mains.no-earth"}),
        ("earth --[S1 switch]-- chassis\nchassis -- gnd\n", {"mains.no-earth"}),
        ("earth -- neutral\nchassis -- gnd\n", {"mains.no-earth"}),
        # Neutral is no protective earth, and it makes the chassis live.
        ("chassis -- neutral\nchassis -- gnd\n", {"mains.live-chassis"}),
    ],
)
def test_what_is_earthed(ties: str, found: set[str], review: Callable[[str], Review]) -> None:
    assert dangers(review(TRANSFORMER + FUSED + ties)) == found


def test_what_stands_in_the_earth_wire_is_named(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = TRANSFORMER + FUSED + "earth --[R1 10 ohm]-- chassis\nchassis -- gnd\n"
    found = only(review(text), "mains.no-earth")
    assert (found.level, found.state) == ("danger", "drawing")
    assert found.evidence["path_to_earth"] == "R1"
    assert "R1" in found.message


def test_an_undrawn_mains_side_is_said_and_not_passed(review: Callable[[str], Review]) -> None:
    looked = review(TRANSFORMER)
    assert dangers(looked) == set()
    said = {n.rule for n in looked.not_judged if n.reason == "the mains side is not drawn"}
    assert said == {"mains.no-earth", "mains.no-fuse", "mains.fuse-in-neutral"}


def test_a_bench_supply_has_no_mains_side_to_ask_for(review: Callable[[str], Review]) -> None:
    looked = review("B1 --+[E1 250 V]-- gnd\nB1 --[R1 100k 2 W]-- gnd\n")
    assert not [n for n in looked.not_judged if n.rule.startswith("mains.")]


HOT = """mains 120 V 60 Hz
line --[F1 0.5 A]-- FUSED --[R1 47 ohm 5 W]-- A --[D1 1N4007]-> B1
neutral -- gnd
B1 --+[C1 47 uF 250 V]-- gnd
B1 --[R2 10k 5 W]-- gnd
"""


@pytest.mark.parametrize(
    ("more", "live"),
    [
        ("", set()),
        ("chassis -- earth\n", set()),
        ("chassis -- gnd\n", {"chassis"}),
        ("chassis --[R3 100k 1 W]-- gnd\n", {"chassis"}),
        # 120 V / 0.5 mA = 240 kohm
        ("chassis --[R3 220k 1 W]-- gnd\n", {"chassis"}),
        ("chassis --[R3 270k 1 W]-- gnd\nchassis -- earth\n", set()),
        ("chassis --[C9 100 nF 400 V]-- gnd\nchassis -- earth\n", set()),
        ("jack J1\nJ1.sleeve -- gnd\nB1 --[R3 22k 2 W]-- J1.tip\n", {"J1"}),
        (
            "jack J1\nJ1.sleeve -- X\nJ1.tip --[C9 100 nF 400 V]-- B1\nX --[C8 1 nF 400 V]-- gnd\n",
            set(),
        ),
        ("switch S1 spst at 2\nchassis -- S1.common\nS1.1 -- gnd\n", {"chassis"}),
    ],
)
def test_what_is_live(more: str, live: set[str], review: Callable[[str], Review]) -> None:
    looked = review(HOT + more)
    found = [f for f in looked.findings if f.rule == "mains.live-chassis"]
    assert {f.at[0] for f in found} == live
    assert {f.level for f in found} <= {"danger"}
    assert "mains.no-earth" not in {f.rule for f in looked.findings}
    assert "mains.no-fuse" not in {f.rule for f in looked.findings}


@pytest.mark.parametrize(
    ("metal", "asked"),
    [
        ("chassis -- neutral\nchassis -- gnd\n", True),
        # The earth is there: the wire to the mains is one too many, and no more.
        ("chassis -- neutral\nchassis -- gnd\nchassis -- earth\n", False),
    ],
)
def test_a_chassis_taken_off_the_mains_is_given_its_earth(
    metal: str, asked: bool, review: Callable[[str], Review]
) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 8 ohm\nwinding ht 120 V 30 mA\n"
        "line --[F1 100 mA slow 250 V]-- T1.pri.1\nT1.pri.2 -- neutral\nT1.ht.2 -- gnd\n"
    )
    told = [f for f in review(text + metal).findings if f.rule == "mains.live-chassis"]
    assert [("join chassis to the protective earth" in f.remedy) for f in told] == [asked]


def test_touch_resistance_is_the_sum_along_the_path(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = HOT + "chassis --[R3 47k 1 W]-- M --[R4 22k 1 W]-- gnd\n"
    found = only(review(text), "mains.live-chassis")
    assert found.evidence == {
        "resistance": figure(69e3, "ohm"),
        "explains": "mains.live-common at gnd, neutral",
    }
    assert found.limit == figure(240e3, "ohm")


@pytest.mark.parametrize(
    ("old", "new", "ohms", "pole"),
    [
        ("neutral -- gnd", "neutral -- gnd", 0.0, "neutral"),
        ("neutral -- gnd", "neutral --[S1 switch]-- gnd", 0.0, "neutral"),
        ("neutral -- gnd", "neutral --[R3 100 ohm 5 W]-- gnd", 100.0, "neutral"),
        ("neutral -- gnd", "neutral -- X\nline --[R3 1k]-- gnd", 1000.0, "line"),
    ],
)
def test_a_common_on_the_mains(
    old: str,
    new: str,
    ohms: float,
    pole: str,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    found = only(review(HOT.replace(old, new)), "mains.live-common")
    assert (found.level, found.state, found.at) == ("warning", "drawing", ("gnd", pole))
    # 120 V over 0.5 mA is 240 kohm.
    assert found.evidence == {"resistance": figure(ohms, "ohm"), "joined_to": pole}
    assert found.limit == figure(240e3, "ohm")
    assert "isolating transformer" in found.remedy


@pytest.mark.parametrize(
    ("more", "level"),
    [
        ("chassis --[C8 4.7 nF Y1]-- gnd\n", "advice"),
        ("chassis --[C8 4.7 nF Y1]-- gnd\njack J9\nJ9.sleeve -- chassis\n", "advice"),
        ("chassis --[C8 4.7 nF Y1]-- gnd\nX --[LS1 speaker 8 ohm]-- gnd\n", "warning"),
        ("", "warning"),
    ],
)
def test_a_common_kept_off_the_metal_that_hands_reach_is_advice(
    more: str, level: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Without a chassis on the drawing nothing says what a hand reaches."""
    assert only(review(HOT + more), "mains.live-common").level == level


def test_a_live_chassis_and_its_common_are_one_finding(review: Callable[[str], Review]) -> None:
    looked = review(HOT + "chassis -- gnd\n")
    rules = [f.rule for f in looked.findings if f.rule.startswith("mains.live")]
    assert rules == ["mains.live-chassis"]


@pytest.mark.parametrize(
    "text",
    [
        TRANSFORMER + EARTHED + FUSED,
        TRANSFORMER + FUSED + "earth -- chassis\nchassis --[R1 10 ohm]-- gnd\n",
        TRANSFORMER,
        # 270 kohm and more let no dangerous current through.
        TRANSFORMER + EARTHED + FUSED + "neutral --[R3 1M]-- gnd\n",
        "B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k 2 W]-- gnd\n",
    ],
)
def test_a_common_of_its_own(
    text: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(text), "mains.live-common", count=0)


def test_gnd_on_the_neutral_of_a_set_with_a_transformer_is_found_too(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(TRANSFORMER + FUSED + "neutral -- gnd\n"), "mains.live-common")
    assert found.at == ("gnd", "neutral")


def test_a_set_without_transformer_or_fuse(review: Callable[[str], Review]) -> None:
    looked = review(HOT.replace("[F1 0.5 A]", "[R9 1 ohm 2 W]"))
    assert dangers(looked) == {"mains.no-fuse"}


def test_the_secondary_side_is_not_on_the_mains(review: Callable[[str], Review]) -> None:
    text = TRANSFORMER + EARTHED + FUSED + "jack J1\nJ1.sleeve -- gnd\nJ1.tip --[R1 1M]-- gnd\n"
    assert dangers(review(text)) == set()


def test_a_signal_on_the_mains_side_is_asked_about(review: Callable[[str], Review]) -> None:
    looked = review(HOT + "signal IN 0.1 V 1 kHz\nIN --[R5 100k]-- gnd\n")
    said = [n for n in looked.not_judged if n.rule == "mains.live-chassis"]
    assert [n.at for n in said] == [("IN",)]


def test_fuse_too_large_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("mains.fuse-too-large", "wrong"), "mains.fuse-too-large")
    assert (found.level, found.state, found.at) == ("warning", "drawing", ("F1",))
    # 6.3 V at 3 A is 18.9 VA: 158 mA at 120 V; twice that is 315 mA, a standard fuse.
    assert found.evidence["primary"].value == pytest.approx(18.9 / 120)
    assert 0.157 < found.evidence["current_rms"].value < 0.158 * 1.08
    assert found.evidence["fuse"].value == 5.0
    assert found.limit.value in (0.315, 0.4)
    assert "0.25 A" in found.remedy or "0.315 A" in found.remedy


# VA found, rest derived: 300 V x 150 mA + 6.3 V x 3 A + 5 V x 1.9 A + 50 V x 1 mA is
# 73.45 VA, 0.61 A at 120 V; twice that is 1.22 A, so 1.25 A is the largest that fits.
SUPPLY = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  4 ohm
    winding ht    300 V ct 300 V  150 mA  120 ohm
    winding warm  6.3 V ct  3 A
    winding rect  5 V  1.9 A
    winding bias  50 V  1 mA
earth -- chassis
chassis -- gnd
T1.warm.ct -- gnd
T1.pri.2 -- neutral
"""


@pytest.mark.parametrize(("fuse", "found"), [("1 A", 0), ("1.25 A", 0), ("1.6 A", 1), ("3 A", 1)])
def test_the_fuse_against_the_transformers_rating(
    fuse: str, found: int, review: Callable[[str], Review]
) -> None:
    looked = review(SUPPLY + f"line --[F1 {fuse} slow]-- T1.pri.1\n")
    hits = [f for f in looked.findings if f.rule == "mains.fuse-too-large"]
    assert len(hits) == found
    for f in hits:
        assert f.evidence["primary"].value == pytest.approx(73.45 / 120, rel=1e-4)
        assert f.limit.value == 1.25
        assert "Use 1 A slow" in f.remedy  # 1.5 x 0.61 A = 0.92 A


def test_el34_forum_fuse(review: Callable[[str], Review], only: Callable[..., object]) -> None:
    # 100 W at 120 V is 0.83 A; 3 A is 3.6 times that.
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 4 ohm\n"
        "winding w 50 V 2 A\nT1.w.1 -- gnd\nT1.w.1 --[R1 33 ohm 100 W]-- T1.w.2\n"
        "line --[F1 3 A]-- T1.pri.1\nT1.pri.2 -- neutral\nearth -- gnd\n"
    )
    found = only(review(text), "mains.fuse-too-large")
    assert found.evidence["fuse"].value / found.evidence["primary"].value == pytest.approx(
        3.6, rel=1e-6
    )
    assert "1.25 A" in found.remedy


def test_without_a_winding_rating_the_load_counts(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = TRANSFORMER.replace("warm  6.3 V  3 A", "warm  6.3 V") + EARTHED
    found = only(
        review(text + "line --[F1 5 A]-- T1.pri.1\nT1.pri.2 -- neutral\n"), "mains.fuse-too-large"
    )
    assert found.state == "warm"
    assert found.excess == pytest.approx(5 / (3.0 * found.evidence["current_rms"].value))


def test_fuse_size_is_not_judged_while_a_heater_is_missing(
    review: Callable[[str], Review],
) -> None:
    text = (
        TRANSFORMER.replace("warm  6.3 V  3 A", "warm  6.3 V")
        + EARTHED
        + "line --[F1 5 A]-- T1.pri.1\nT1.pri.2 -- neutral\ntube V1 6C4\n"
        "B1 --+[E1 100 V]-- gnd\nB1 -- V1.plate\nV1.grid --[R1 1M]-- gnd\n"
        "V1.cathode --[R2 1k]-- gnd\n"
    )
    looked = review(text)
    assert "mains.fuse-too-large" not in {f.rule for f in looked.findings}
    (said,) = [n for n in looked.not_judged if n.rule == "mains.fuse-too-large"]
    assert "V1" in said.reason


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("line --[F1 0.4 A]-- A --[S1 switch]-- T1.pri.1\n", []),
        ("line --[S1 switch]-- A --[F1 0.4 A]-- T1.pri.1\n", [("S1", "F1")]),
        ("line --[RT1 10 ohm]-- A --[F1 0.4 A]-- T1.pri.1\n", []),
        # The switch of the neutral is no matter of the line's fuse.
        ("line --[F1 0.4 A]-- T1.pri.1\nT1.pri.2 --[S1 switch]-- neutral\n", []),
    ],
)
def test_the_order_of_fuse_and_switch(
    wires: str, found: list[tuple[str, str]], review: Callable[[str], Review]
) -> None:
    text = TRANSFORMER + EARTHED + wires
    text += "" if "neutral" in wires else "T1.pri.2 -- neutral\n"
    hits = [f for f in review(text).findings if f.rule == "mains.switch-ahead-of-fuse"]
    assert [f.at for f in hits] == found
    assert {f.level for f in hits} <= {"advice"}


@pytest.mark.parametrize("part", ["C1 47 nF 600 V", "C1 2.2 nF Y2", "R1 1M 0.5 W"])
def test_a_polarity_switch_is_a_danger_with_any_part(
    part: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = TRANSFORMER + FUSED + EARTHED + "switch S2 spdt\nS2.1 -- line\nS2.2 -- neutral\n"
    looked = review(text + f"S2.common --[{part}]-- chassis\n")
    found = only(looked, "mains.polarity-switch")
    assert (found.level, found.at[0]) == ("danger", "S2")
    assert "mains.capacitor-to-chassis" not in {f.rule for f in looked.findings}


def test_a_voltage_selector_is_no_polarity_switch(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # Both throws lead to the transformer, none to metal.
    text = TRANSFORMER + FUSED + EARTHED + "switch S2 spdt\nS2.1 -- line\nS2.2 -- neutral\n"
    only(
        review(text + "S2.common --[PL2 lamp 120 V 20 mA]-- neutral\n"), "mains.polarity-switch", 0
    )


def test_earth_lifted_by_a_capacitor(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # At most 0.1 ohm from the earth terminal to the metal (memory).
    looked = review(TRANSFORMER + FUSED + "earth --[C1 100 nF 630 V]-- chassis\nchassis -- gnd\n")
    assert only(looked, "mains.no-earth").evidence["path_to_earth"] == "C1"


def test_jack_on_the_mains(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    looked = sample("mains.live-chassis/input-jack", "wrong")
    found = only(looked, "mains.live-chassis")
    assert (found.level, found.at, found.evidence["resistance"].value) == ("danger", ("J1",), 0.0)


@pytest.mark.parametrize(
    ("ties", "found"),
    [
        ("earth -- chassis\nchassis --[R1 10 ohm]-- gnd\n", ("R1", "gnd")),
        (
            "earth -- chassis\nchassis --[R1 10 ohm]-- gnd\nchassis --[C1 100 nF 250 V]-- gnd\n",
            ("R1", "C1", "gnd"),
        ),
        ("earth -- chassis\nchassis --[R1 10 ohm]-- gnd\ngnd --[D1 1N5404]-> chassis\n", None),
        ("earth -- chassis\n", None),  # no path at all: not looked at
        (EARTHED, None),
    ],
)
def test_a_ground_lift_wants_diodes(
    ties: str, found: tuple[str, ...] | None, review: Callable[[str], Review]
) -> None:
    hits = [f for f in review(TRANSFORMER + FUSED + ties).findings if "lift" in f.rule]
    assert [f.at for f in hits] == ([found] if found else [])
    assert all((f.level, f.evidence["resistance"].value) == ("warning", 10.0) for f in hits)
