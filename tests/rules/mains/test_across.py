"""What joins the mains leads: wires, parts that are not made for it, and the wrong winding."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

SET = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  8 ohm
    winding warm  6.3 V  3 A
line --[F1 0.4 A slow]-- FUSED --[S1 switch power]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.2 -- gnd
T1.warm.1 --[PL1 lamp 6.3 V 3 A]-- gnd
"""


def of(looked: Review, *rules: str) -> list[Finding]:
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule in rules]


@pytest.mark.parametrize(
    ("wire", "level", "at", "state"),
    [
        ("line -- neutral\n", "danger", ("line", "neutral"), "drawing"),
        ("line -- chassis\n", "danger", ("line", "earth"), "drawing"),
        ("line --[S2 switch]-- neutral\n", "danger", ("S2", "line", "neutral"), "drawing"),
        ("FUSED -- neutral\n", "warning", ("F1", "line", "neutral"), "drawing"),
        ("T1.pri.1 -- T1.pri.2\n", "warning", ("F1", "S1", "line", "neutral"), "drawing"),
        (
            "FUSED --[S2 switch open]-- neutral\n",
            "warning",
            ("F1", "S2", "line", "neutral"),
            "S2 thrown",
        ),
        # A diode is a short for half of each cycle, whichever way it points.
        ("FUSED --[D1 1N4007]-> neutral\n", "warning", ("F1", "D1", "line", "neutral"), "drawing"),
        ("FUSED <-[D1 1N4007]-- neutral\n", "warning", ("F1", "D1", "line", "neutral"), "drawing"),
    ],
)
def test_the_line_joined_by_wire(
    wire: str, level: str, at: tuple[str, ...], state: str, review: Callable[[str], Review]
) -> None:
    (found,) = of(review(SET + wire), "mains.shorted")
    assert (found.level, found.at, found.state) == (level, at, state)


def test_an_ordinary_set_and_a_voltage_selector_are_no_short(
    review: Callable[[str], Review],
) -> None:
    selector = """mains 120 V 60 Hz
transformer T1
    primary a 120 V 8 ohm
    primary b 120 V 8 ohm
    winding warm 6.3 V 3 A
switch S2 dpdt at 1
line --[F1 0.4 A slow]-- T1.a.1
T1.b.2 -- neutral
T1.a.2 -- S2.a.common
T1.b.1 -- S2.b.common
S2.a.1 -- neutral
S2.b.1 -- T1.a.1
S2.a.2 -- S2.b.2
earth -- gnd
"""
    for text in (SET, selector):
        assert of(review(text), "mains.shorted", "supply.winding-shorted") == []


@pytest.mark.parametrize(
    ("part", "level", "place"),
    [
        ("FUSED --[LS1 8 ohm 10 W]-- neutral\n", "danger", "LS1"),
        ("FUSED --[R9 100 ohm 200 W]-- X --[LS1 8 ohm 10 W]-- neutral\n", "danger", "LS1"),
        ("FUSED --[LS1 8 ohm 10 W]-- earth\n", "danger", "LS1"),
        ("output T2 5k : 8 ohm\nFUSED -- T2.s1\nT2.s2 -- neutral\n", "danger", "T2"),
        ("FUSED --+[E1 9 V]-- neutral\n", "danger", "E1"),
        ("FUSED --[PL2 lamp 6.3 V 0.15 A]-- neutral\n", "caution", "PL2"),
        ("FUSED --[PL2 lamp 101 V 0.1 A]-- neutral\n", "caution", "PL2"),  # 85 % of 120 V is 102 V
        ("FUSED --[PL2 lamp 103 V 0.1 A]-- neutral\n", None, ""),
        ("FUSED --[PL2 lamp 120 V 20 mA]-- neutral\n", None, ""),
        ("tube V1 6V6GT\nFUSED --[V1 heater]-- neutral\n", "caution", "V1"),  # 6.3 V
        ("FUSED --[LED1 led 2 V 20 mA]-> neutral\n", "caution", "LED1"),
        ("FUSED --[RT1 10 ohm 5 A]-- neutral\n", "caution", "RT1"),
        # 8 H at 60 Hz is 3016 ohm, with 250 ohm 3026: 39.7 mA.
        ("FUSED --[L1 8 H 250 ohm 39 mA]-- neutral\n", "caution", "L1"),
        ("FUSED --[L1 8 H 250 ohm 41 mA]-- neutral\n", None, ""),
        # Behind 10 kohm a small lamp is a neon's circuit.
        ("FUSED --[R9 10k 5 W]-- X --[PL2 lamp 6.3 V 0.15 A]-- neutral\n", None, ""),
    ],
)
def test_parts_across_the_mains(
    part: str, level: str | None, place: str, review: Callable[[str], Review]
) -> None:
    found = of(review(SET + part), "mains.unfit-part")
    assert [(f.level, f.at[0]) for f in found] == ([] if level is None else [(level, place)])


def test_a_speaker_turns_the_square_over_ohms_into_heat(review: Callable[[str], Review]) -> None:
    (found,) = of(review(SET + "FUSED --[LS1 8 ohm 10 W]-- neutral\n"), "mains.unfit-part")
    assert found.evidence["power"].value == pytest.approx(120**2 / 8)
    assert found.limit is not None
    assert found.limit.value == 10


def test_a_lamp_without_ratings_is_said_to_be_unjudged(review: Callable[[str], Review]) -> None:
    looked = review(SET + "FUSED --[PL2 lamp]-- neutral\n")
    said = [n for n in looked.not_judged if n.rule == "mains.unfit-part"]
    assert [n.at for n in said] == [("PL2",)]


def test_the_mains_on_a_heater_winding_makes_kilovolts_of_the_primary(
    review: Callable[[str], Review],
) -> None:
    """120 V on 6.3 V: the primary gives 120 x 120 / 6.3 = 2286 V."""
    wires = SET.replace("T1.pri.1\n", "T1.warm.1\n", 1)
    wires = wires.replace("T1.pri.2 -- neutral\n", "T1.warm.2 -- neutral\n")
    wires = wires.replace("T1.warm.2 -- gnd\nT1.warm.1 --[PL1 lamp 6.3 V 3 A]-- gnd\n", "")
    wires += "T1.pri.1 --[R1 100k 1 W]-- T1.pri.2\nT1.pri.2 -- gnd\n"
    (found,) = of(review(wires), "mains.on-secondary")
    assert (found.level, found.at) == ("danger", ("T1.warm", "T1"))
    assert found.evidence["other_winding"].value == pytest.approx(120**2 / 6.3)


def test_a_winding_in_series_with_a_primary_is_left_alone(
    review: Callable[[str], Review],
) -> None:
    bucking = SET.replace("FUSED --[S1 switch power]-- T1.pri.1", "FUSED -- T3.low.1").replace(
        "transformer T1",
        "transformer T3\nprimary pri 120 V 5 ohm\nwinding low 6 V 1 A\ntransformer T1",
    )
    bucking += "T3.low.2 -- T1.pri.1\nT3.pri.1 -- FUSED\nT3.pri.2 -- neutral\n"
    assert of(review(bucking), "mains.on-secondary", "mains.unfit-part") == []


@pytest.mark.parametrize(
    ("part", "level"),
    [
        ("[C1 47n 400 V]", "warning"),
        ("[C1 47n]", "warning"),
        ("+[C1 10 uF 450 V]", "warning"),
        ("[C1 47n 250 Vac]", "caution"),
        ("[C1 47n 100 Vac]", "warning"),
        ("[C1 47n X2]", None),
        ("[C1 4.7n X1/Y2]", None),
        ("[C1 4.7n Y1]", None),
    ],
)
def test_the_class_of_a_capacitor_across_the_mains(
    part: str, level: str | None, review: Callable[[str], Review]
) -> None:
    found = of(review(SET + f"T1.pri.1 --{part}-- T1.pri.2\n"), "mains.capacitor-class")
    assert [f.level for f in found] == ([] if level is None else [level])
    for finding in found:
        assert finding.at == ("C1",)
        assert "class X2 for 275 Vac" in finding.remedy


LIVE = """mains 120 V 60 Hz
line --[F1 0.5 A slow]-- SW
neutral -- gnd
SW --[R1 47 ohm 5 W]-- X --[D1 1N4007]-> B1
B1 --+[C1 47 uF 250 V]-- gnd
B1 --[R2 10k 5 W]-- gnd
earth -- chassis
jack J1
J1.tip --[R3 100k]-- J1.sleeve
"""


@pytest.mark.parametrize(
    ("part", "level"), [("[C2 4.7n 630 V]", "warning"), ("[C2 4.7n Y2]", None)]
)
def test_a_live_set_is_kept_off_its_jacks_by_class_y(
    part: str, level: str | None, review: Callable[[str], Review]
) -> None:
    text = LIVE + f"J1.sleeve --[C3 4.7n Y2]-- gnd\nJ1.tip --{part}-- B1\n"
    found = of(review(text), "mains.capacitor-to-chassis")
    assert [(f.level, f.at) for f in found] == ([] if level is None else [(level, ("C2", "J1"))])


@pytest.mark.parametrize(
    ("wires", "level"),
    [
        ("FUSED -- T1.pri.1\nT1.pri.2 --[S1 switch]-- neutral\n", "warning"),
        ("FUSED --[S1 switch]-- T1.pri.1\nT1.pri.2 -- neutral\n", None),
        ("FUSED --[S1 switch]-- T1.pri.1\nT1.pri.2 --[S2 switch]-- neutral\n", None),
        ("FUSED -- T1.pri.1\nT1.pri.2 -- neutral\n", None),  # no switch at all
    ],
)
def test_a_switch_in_the_neutral_alone(
    wires: str, level: str | None, review: Callable[[str], Review]
) -> None:
    old = "FUSED --[S1 switch power]-- T1.pri.1\nT1.pri.2 -- neutral\n"
    text = SET.replace(old, "FUSED\n" + wires)
    found = of(review(text), "mains.switch-in-neutral")
    assert [(f.level, f.at) for f in found] == (
        [] if level is None else [(level, ("S1", "neutral"))]
    )


def test_without_a_transformer_a_switch_in_the_neutral_is_a_danger(
    review: Callable[[str], Review],
) -> None:
    text = LIVE.replace("neutral -- gnd", "neutral --[S1 switch]-- gnd")
    (found,) = of(review(text), "mains.switch-in-neutral")
    assert found.level == "danger"
    both = LIVE.replace("neutral -- gnd", "S1.b.1 -- gnd\nneutral -- S1.b.common").replace(
        "]-- SW\n", "]-- S1.a.common\nS1.a.1 -- SW\n", 1
    )
    assert of(review("switch S1 dpst\n" + both), "mains.switch-in-neutral") == []
