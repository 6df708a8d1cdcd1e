"""Loads: what stands across a secondary, what the plates see of it, what can be unplugged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

HEAD = """output T2 {primary} : 8 ohm  250 ohm
B1 --+[E1 250 V]-- gnd
{tubes}"""
SINGLE = """B1 -- T2.p1
T2.s2 -- gnd
"""
TUBE = """tube {n} {type}
{n}.grid --[R1{d} 470k]-- gnd
{n}.cathode --[R2{d} 330 ohm 3 W]-- gnd
B1 --[R3{d} 470 ohm 1 W]-- {n}.screen
{lead} -- {n}.plate
"""
SPEAKER = "T2.s1 --[LS1 speaker 8 ohm]-- T2.s2\n"


def tube(n: str, lead: str = "T2.p2", type_: str = "6V6GT") -> str:
    return TUBE.format(n=n, d=n[1:], lead=lead, type=type_)


def stage(primary: str, tubes: str, load: str, feed: str = SINGLE) -> str:
    return HEAD.format(primary=primary, tubes=tubes) + feed + load


def of(looked: Review, rule: str) -> list[Finding]:
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    return [f for f in looked.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("load", "ohms"),
    [
        # Two in series on another point: 16 ohm is the edge; two of 16 ohm are 32.
        ("T2.s1 --[LS1 speaker 8 ohm]-- M --[LS2 speaker 8 ohm]-- T2.s2\n", None),
        ("T2.s1 --[LS1 speaker 16 ohm]-- M --[LS2 speaker 16 ohm]-- T2.s2\n", 32.0),
        # Four of 8 ohm in series-parallel are 8 ohm again.
        (
            "T2.s1 --[LS1 speaker 8 ohm]-- M --[LS2 speaker 8 ohm]-- T2.s2\n"
            "T2.s1 --[LS3 speaker 8 ohm]-- N --[LS4 speaker 8 ohm]-- T2.s2\n",
            None,
        ),
        # Three of 8 ohm in parallel: 2.67 ohm.
        (
            "T2.s1 --[LS1 speaker 8 ohm]-- gnd\nT2.s1 --[LS2 speaker 8 ohm]-- gnd\n"
            "T2.s1 --[LS3 speaker 8 ohm]-- gnd\n",
            8 / 3,
        ),
        # A crossover: the tweeter behind its capacitor is not counted, the choke passes.
        (
            "T2.s1 --[L1 0.5 mH 0.3 ohm air]-- W --[LS1 speaker 8 ohm]-- gnd\n"
            "T2.s1 --[C1 4.7 uF 63 V]-- W2 --[LS2 speaker 8 ohm]-- gnd\n",
            None,
        ),
        # A switch that is drawn open leaves one of the two.
        # A selector with a position in which there is nothing, and one without.
        (
            "switch S1 sp3t at 2\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- gnd\n"
            "S1.2 --[LS2 speaker 8 ohm]-- gnd\nS1.3 --[R9 10 ohm 10 W]-- gnd\n",
            None,
        ),
        (SPEAKER + "T2.s1 --[S1 switch open]-- X --[LS2 speaker 2 ohm]-- gnd\n", None),
        (SPEAKER + "T2.s1 --[S1 switch]-- X --[LS2 speaker 2 ohm]-- gnd\n", 1.6),
        # Feedback parts and the rest of the circuit beyond gnd are no load.
        (SPEAKER + "T2.s1 --[R9 100 ohm]-- V1.cathode\n", None),
    ],
)
def test_speakers_in_every_connection(
    load: str, ohms: float | None, review: Callable[[str], Review]
) -> None:
    found = of(review(stage("5k", tube("V1"), load)), "output.wrong-load")
    assert [f.evidence["load"].value for f in found] == pytest.approx(
        [ohms] if ohms else [], rel=0.01
    )


@pytest.mark.parametrize(
    ("primary", "tubes", "feed", "each"),
    [
        # 6V6GT: 5 kohm at 250 V (found). Half to double of it is no finding.
        ("2k5", tube("V1"), SINGLE, None),
        ("10k", tube("V1"), SINGLE, None),
        ("2k", tube("V1"), SINGLE, 2000.0),
        ("12k", tube("V1"), SINGLE, 12000.0),
        # Two in parallel on one lead: each has twice the load.
        ("2k5", tube("V1") + tube("V2"), SINGLE, None),
        ("6k6", tube("V1") + tube("V2"), SINGLE, 13200.0),
        # A pair: 8 kohm plate to plate is the sheet's, 4 kohm each.
        ("8k ct", tube("V1", "T2.p1") + tube("V2"), "B1 -- T2.ct\nT2.s2 -- gnd\n", None),
        ("4k ct", tube("V1", "T2.p1") + tube("V2"), "B1 -- T2.ct\nT2.s2 -- gnd\n", 2000.0),
        # One plate on half a primary: a quarter.
        ("8k ct", tube("V1", "T2.p1"), "B1 -- T2.ct\nT2.s2 -- gnd\n", 2000.0),
    ],
)
def test_the_load_of_each_plate(
    primary: str, tubes: str, feed: str, each: float | None, review: Callable[[str], Review]
) -> None:
    found = of(review(stage(primary, tubes, SPEAKER, feed)), "output.wrong-plate-load")
    assert [f.evidence["plate_load"].value for f in found] == pytest.approx([each] if each else [])


@pytest.mark.parametrize(
    ("volts", "primary", "published"),
    [
        # 6L6: 2.5 kohm at 250 V, 4.2 kohm at 350 V (sheet); bias and primary take some 25 V.
        ("275 V", "1k9", None),
        ("375 V", "1k9", 4200),
        ("375 V", "6k", None),
        ("275 V", "6k", 2500),
    ],
)
def test_the_load_published_for_the_voltage_there_is(
    volts: str, primary: str, published: float | None, review: Callable[[str], Review]
) -> None:
    text = stage(primary, tube("V1", type_="6L6"), SPEAKER).replace("250 V", volts)
    found = of(review(text), "output.wrong-plate-load")
    wanted = [published] if published else []
    assert [f.evidence["published_load"].value for f in found] == pytest.approx(wanted)


def test_the_actual_speaker_counts_and_is_told_once(review: Callable[[str], Review]) -> None:
    """3 ohm on 8: 5 kohm become 1.9 kohm, and the speaker is what is wrong."""
    load = "T2.s1 --[LS1 speaker 3 ohm]-- T2.s2\n"
    looked = review(stage("5k", tube("V1"), load))
    assert of(looked, "output.wrong-plate-load") == []
    (found,) = of(looked, "output.wrong-load")
    assert "output.wrong-plate-load" in found.evidence["explains"]


def test_pair_points_are_plate_to_plate(review: Callable[[str], Review]) -> None:
    """The 6L6GC's 450 V point has 5.6 kohm plate to plate (memory): a pair on 5.6 kohm fits."""
    tubes = tube("V1", "T2.p1", "6L6GC") + tube("V2", "T2.p2", "6L6GC")
    text = stage("5k6 ct", tubes, SPEAKER, "B1 -- T2.ct\nT2.s2 -- gnd\n").replace("250 V", "400 V")
    assert of(review(text), "output.wrong-plate-load") == []


def test_triodes_of_pentodes_are_not_judged(review: Callable[[str], Review]) -> None:
    text = stage("2k", tube("V1"), SPEAKER).replace("B1 --[R31", "V1.plate --[R31")
    looked = review(text)
    assert of(looked, "output.wrong-plate-load") == []
    assert "output.wrong-plate-load" in {n.rule for n in looked.not_judged}


SWITCHED = "T2.s1 --[S1 switch]-- X --[LS1 speaker 8 ohm]-- T2.s2\n"


@pytest.mark.parametrize(
    ("load", "through"),
    [
        (SPEAKER, None),
        (SWITCHED, "S1"),
        (SWITCHED + "T2.s1 --[R9 270 ohm 5 W]-- T2.s2\n", None),
        (SWITCHED + "T2.s1 --[R9 4k7 5 W]-- T2.s2\n", "S1"),  # more than 1 kohm
        (SWITCHED + "T2.s1 --[LS2 speaker 8 ohm]-- gnd\n", None),
        # A changeover to a resistor that takes the power.
        (
            "switch S1 spdt\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- gnd\n"
            "S1.2 --[R9 10 ohm 10 W]-- gnd\n",
            None,
        ),
        ("switch S1 spdt\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- gnd\n", "S1"),
        # A selector with a position in which there is nothing, and one without.
        (
            "switch S1 sp3t at 2\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- gnd\n"
            "S1.2 --[LS2 speaker 8 ohm]-- gnd\nS1.3 --[R9 10 ohm 10 W]-- gnd\n",
            None,
        ),
        (SPEAKER + "T2.s1 --[S1 switch open]-- X --[LS2 speaker 8 ohm]-- gnd\n", None),
    ],
)
def test_what_can_be_switched_off(
    load: str, through: str | None, review: Callable[[str], Review]
) -> None:
    jack = "jack J1\nJ1.tip --[R8 1M]-- gnd\n"  # one that has nothing to do with it
    found = of(review(stage("5k", tube("V1"), load + jack)), "output.load-switched-off")
    assert [(f.level, f.at) for f in found] == ([("notice", ("T2", through))] if through else [])
    assert all("takes the whole load off T2: thrown, " in f.message for f in found)


@pytest.mark.parametrize(
    ("more", "level"),
    [
        ("", ["advice"]),
        ("T2.s1 --[R9 220 ohm 5 W]-- gnd\n", []),
        ("T2.s1 --[LS2 16 ohm]-- gnd\n", []),
    ],
)
def test_a_jack_whose_plug_is_the_only_load_left(
    more: str, level: list[str], review: Callable[[str], Review]
) -> None:
    """A second speaker would do; 32 ohm of phones behind their resistor, or 600, would not."""
    load = "T2.s2 -- gnd\njack J1\nJ1.sleeve -- gnd\nT2.s1 -- J1.tip\n"
    load += "J1.switch --[LS1 8 ohm]-- gnd\n"
    found = of(review(stage("5k", tube("V1"), load + more)), "output.load-switched-off")
    assert [f.level for f in found] == level
    for hit in found:
        assert hit.at == ("T2", "J1")
        assert "8.2 ohm that takes the power" in hit.remedy


def test_the_position_with_nothing_is_named(review: Callable[[str], Review]) -> None:
    load = (
        "switch S1 sp3t at 2\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- gnd\n"
        "S1.2 --[LS2 speaker 8 ohm]-- gnd\n"
    )
    (told,) = of(review(stage("5k", tube("V1"), load)), "output.load-switched-off")
    assert told.at == ("T2", "S1")
    assert "takes the whole load off T2: at 3, nothing is" in told.message


def test_triodes_stand_an_open_secondary(review: Callable[[str], Review]) -> None:
    text = stage("5k", tube("V1"), SWITCHED).replace("B1 --[R31", "V1.plate --[R31")
    assert of(review(text), "output.load-switched-off") == []


TAPPED = "5k : 4/8/16 ohm 250 ohm"


@pytest.mark.parametrize(
    ("load", "told"),
    [
        # The load of each tap is that of the whole by the square of the turns: none is wrong.
        ("T2.4 --[LS1 speaker 4 ohm]-- T2.s1\n", None),
        ("T2.8 --[LS1 speaker 8 ohm]-- T2.0\n", None),
        ("T2.16 --[LS1 speaker 16 ohm]-- T2.s1\n", None),
        # From 4 to 16 ohm there are as many turns as to 4: (4 - 2)^2 = 4 ohm.
        ("T2.4 --[LS1 speaker 4 ohm]-- T2.16\n", None),
        ("T2.4 --[LS1 speaker 16 ohm]-- T2.s1\n", (16.0, 4.0, "T2.s1 and T2.4")),
        ("T2.4 --[LS1 speaker 16 ohm]-- T2.s2\n", (16.0, 4.0, "T2.4 and T2.s2")),
        ("T2.s2 --[LS1 speaker 5 ohm]-- T2.s1\n", (5.0, 16.0, "T2.s1 and T2.s2")),
        # 8 ohm on the 8 ohm tap and 16 on the whole: each 16 there, 8 together, half: no more.
        ("T2.8 --[LS1 speaker 8 ohm]-- gnd\nT2.16 --[LS2 speaker 16 ohm]-- gnd\n", None),
        (
            "T2.8 --[LS1 speaker 8 ohm]-- gnd\nT2.16 --[LS2 speaker 12 ohm]-- gnd\n",
            (16 * 12 / 28, 16.0, "T2.s1 and T2.s2"),
        ),
    ],
)
def test_taps_of_a_secondary(
    load: str, told: tuple[float, float, str] | None, review: Callable[[str], Review]
) -> None:
    """By the square of the turns (Radio Designer's Handbook, transformers; from memory)."""
    text = stage("5k", tube("V1"), load).replace("5k : 8 ohm  250 ohm", TAPPED)
    looked = review(text.replace("T2.s2 -- gnd", "T2.s1 -- gnd"))
    assert of(looked, "output.open-secondary") == []
    found = of(looked, "output.wrong-load")
    assert len(found) == (told is not None)
    if told is not None:
        ohms, rated, leads = told
        assert found[0].evidence["load"].value == pytest.approx(ohms)
        assert found[0].evidence["rated"].value == pytest.approx(rated)
        assert leads in found[0].message


def test_a_tap_that_is_shorted_shorts_the_whole(review: Callable[[str], Review]) -> None:
    text = stage("5k", tube("V1"), SPEAKER + "T2.4 -- T2.8\n")
    looked = review(text.replace("5k : 8 ohm  250 ohm", TAPPED))
    (found,) = of(looked, "output.winding-shorted")
    assert "T2.4 and T2.8" in found.message


def test_a_secondary_with_taps_and_nothing_on_them_is_open(review: Callable[[str], Review]) -> None:
    text = stage("5k", tube("V1"), "T2.8 --[R9 2k2]-- T2.s1\n")
    looked = review(text.replace("5k : 8 ohm  250 ohm", TAPPED))
    assert len(of(looked, "output.open-secondary")) == 1


PHONES = """jack J2 unplugged
T2.s1 -- J2.tip
J2.switch --[LS1 speaker 8 ohm]-- T2.s2
J2.sleeve -- T2.s2
"""


@pytest.mark.parametrize(
    ("phones", "level"),
    [
        ("", "advice"),  # a speaker may be plugged in
        ("J2.tip --[R41 100 ohm]-- --[LS2 speaker 600 ohm]-- J2.sleeve\n", "notice"),
        ("J2.tip --[LS2 speaker 32 ohm]-- J2.sleeve\n", None),
    ],
)
def test_what_the_drawing_plugs_in_is_all_there_is(
    phones: str, level: str | None, review: Callable[[str], Review]
) -> None:
    """50 times 8 ohm is 400: phones of 600 behind 100 ohm leave the secondary open."""
    found = of(review(stage("5k", tube("V1"), PHONES + phones)), "output.load-switched-off")
    assert [(f.level, f.at) for f in found] == ([] if level is None else [(level, ("T2", "J2"))])


def test_a_jack_drawn_with_phones_in_it(review: Callable[[str], Review]) -> None:
    phones = "J2.tip --[R41 330 ohm]-- --[LS2 speaker 600 ohm]-- J2.sleeve\n"
    drawn = PHONES.replace("unplugged", "plugged") + phones
    (found,) = of(review(stage("5k", tube("V1"), drawn)), "output.open-secondary")
    assert found.evidence["load"].value == pytest.approx(930)


@pytest.mark.parametrize(("series", "found"), [("60 ohm", 0), ("120 ohm", 1)])
def test_what_is_left_is_added_up(series: str, found: int, review: Callable[[str], Review]) -> None:
    """360 ohm and 420, with 400 as the limit, though each part of them is less."""
    load = (
        "switch S1 spst 250 V 1 A\nT2.s1 -- S1.common\nS1.1 --[LS1 speaker 8 ohm]-- T2.s2\n"
        f"T2.s1 --[R41 {series} 2 W]-- N1 --[R42 300 ohm 2 W]-- T2.s2\n"
    )
    told = of(review(stage("5k", tube("V1"), load)), "output.load-switched-off")
    assert len(told) == found


def test_a_speaker_on_another_tap_than_its_own(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """8 ohm where 16 belongs: twice off, which is let through where no tap fits."""
    found = only(sample("output.wrong-load/tap", "wrong"), "output.wrong-load")
    assert (found.at, found.level) == (("T2", "LS1"), "notice")
    assert found.evidence["rated"].value == pytest.approx(16)
    assert found.remedy == "Take LS1 to T2.s1 and T2.8, made for 8 ohm"


@pytest.mark.parametrize(("speaker", "told"), [("8.8 ohm", 1), ("9 ohm", 0), ("15 ohm", 0)])
def test_how_far_off_another_tap(
    speaker: str, told: int, changed: Callable[[str, str, str, str], Review]
) -> None:
    """16 over 8.8 is 1.82, over 9 1.78; from 1.8 on it is said."""
    rule = "output.wrong-load"
    looked = changed(f"{rule}/tap", "wrong", "speaker 8 ohm", f"speaker {speaker}")
    assert len([f for f in looked.findings if f.rule == rule]) == told


def test_two_speakers_are_named_and_put_in_series(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """4 and 4 ohm: 2 in parallel, 8 in series, on a winding for 8."""
    found = only(sample("output.wrong-load", "wrong"), "output.wrong-load")
    assert found.at == ("T2", "LS1", "LS2")
    assert found.remedy == "Put LS1 and LS2 in series: 8 ohm"
