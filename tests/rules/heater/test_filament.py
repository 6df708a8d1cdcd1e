"""Directly heated output tubes, and the dial-lamp section of a string's rectifier."""

from __future__ import annotations

import pytest

from coldcheck.judge.figure import figure

STAGE = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding fil {winding}
tube V1 {tube} heater T1.fil
B1 --+[E1 300 V]-- gnd
B1 --[L1 15 H 200 ohm]-- V1.plate
V1.grid --[R1 220k]-- gnd
"""


def stage(*lines: str, tube: str = "2A3", winding: str = "2.5 V ct 5 A") -> str:
    return STAGE.format(winding=winding, tube=tube) + "\n".join(lines) + "\n"


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


# --- heater.filament-tied-at-end -----------------------------------------------------------------


def test_bias_resistor_on_a_filament_end(sample, only) -> None:
    found = only(sample("heater.filament-tied-at-end", "wrong"), "heater.filament-tied-at-end")
    assert (found.level, found.at, found.state) == ("notice", ("T1.fil", "V1"), "drawing")
    # Derived: half of 2.5 V.
    assert found.evidence == {
        "filament_rms": figure(2.5, "V"),
        "shift": figure(1.25, "V"),
    }
    assert found.remedy == "Take R2 to T1.fil.ct"


def test_five_volts_are_off_by_two_and_a_half(review, only) -> None:
    text = stage("V1.f2 --[R2 1k 10 W]-- gnd", tube="300B", winding="5 V 1.2 A")
    found = only(review(text), "heater.filament-tied-at-end")
    assert found.evidence["shift"].value == 2.5  # derived
    # A pot of 100 ohm on 5 V: 25 / 100 W.
    assert "hum pot of 100 ohm (it takes 0.25 W)" in found.remedy


def test_an_end_on_gnd_is_no_better(review, only) -> None:
    found = only(review(stage("T1.fil.1 -- gnd")), "heater.filament-tied-at-end")
    assert "tied to gnd at T1.fil.1" in found.message


@pytest.mark.parametrize(
    "tie",
    [
        ("T1.fil.ct --[R2 750 ohm 10 W]-- gnd",),
        ("T1.fil.1 --[R3 22 ohm]-- M --[R2 750 ohm 10 W]-- gnd", "T1.fil.2 --[R4 22 ohm]-- M"),
        (
            "pot P1 100 ohm at 30 %",
            "P1.top -- T1.fil.1",
            "P1.bottom -- T1.fil.2",
            "P1.wiper --[R2 750 ohm 10 W]-- gnd",
        ),
        (
            "pot P1 100 ohm at 30 %",
            "P1.top -- T1.fil.1",
            "P1.bottom -- T1.fil.2",
            "P1.wiper -- gnd",
        ),
        ("T1.fil.ct --[R2 750 ohm 10 W]-- gnd", "T1.fil.1 --[R3 10k]-- gnd"),
    ],
    ids=["tap", "pair", "hum pot", "hum pot on gnd", "tap and a resistor"],
)
def test_the_middle_is_right(review, tie) -> None:
    assert of(review(stage(*tie)), "heater.filament-tied-at-end") == []


def test_a_resistor_across_the_filament_is_no_way_to_gnd(review, only) -> None:
    tie = ("T1.fil.1 --[R3 47 ohm]-- T1.fil.2", "T1.fil.2 --[R2 750 ohm 10 W]-- gnd")
    found = only(review(stage(*tie)), "heater.filament-tied-at-end")
    assert "at T1.fil.2" in found.message


def test_an_indirectly_heated_tube_may_have_its_heater_on_gnd_at_an_end(review) -> None:
    text = stage("T1.fil.1 -- gnd", tube="6V6GT", winding="6.3 V 1 A")
    assert of(review(text), "heater.filament-tied-at-end") == []


# --- heater.filaments-join-cathodes --------------------------------------------------------------


def test_two_bias_resistors_on_one_winding(sample, only) -> None:
    found = only(
        sample("heater.filaments-join-cathodes", "wrong"), "heater.filaments-join-cathodes"
    )
    assert found.at == ("T1.one", "V1", "V2", "R3", "R4")
    assert found.evidence["joint"].value == pytest.approx(375)  # 750 ohm twice in parallel
    assert "heater.two-references" in found.evidence["explains"]


def test_two_channels_on_one_winding(sample, only) -> None:
    looked = sample("heater.filaments-join-cathodes/two-channels", "wrong")
    found = only(looked, "heater.filaments-join-cathodes")
    assert "T2 and T3 hear each other" in found.message


def test_a_push_pull_pair_may_share_winding_and_resistor(review) -> None:
    text = stage(
        "tube V2 2A3 heater T1.fil",
        "B1 --[L2 15 H 200 ohm]-- V2.plate",
        "V2.grid --[R3 220k]-- gnd",
        "T1.fil.ct --[R2 390 ohm 15 W]-- gnd",
    )
    assert of(review(text), "heater.filaments-join-cathodes") == []


@pytest.mark.parametrize(("second", "at"), [("780", None), ("390", ("R4", "R5"))])
def test_equal_resistors_from_both_ends_are_one(review, second: str, at) -> None:
    text = stage(
        "tube V2 2A3 heater T1.fil",
        "B1 --[L2 15 H 200 ohm]-- V2.plate",
        "V2.grid --[R3 220k]-- gnd",
        "T1.fil.1 --[R4 780 ohm 15 W]-- gnd",
        f"T1.fil.2 --[R5 {second} ohm 15 W]-- gnd",
    )
    found = of(review(text), "heater.filaments-join-cathodes")
    assert [f.at[-2:] for f in found] == ([] if at is None else [at])


# --- heater.lamp-section-bare --------------------------------------------------------------------


def test_a_set_without_its_dial_lamp(sample, only) -> None:
    found = only(sample("heater.lamp-section-bare", "wrong"), "heater.lamp-section-bare")
    assert (found.level, found.at, found.state) == ("notice", ("V5",), "warm")
    # 150 mA of heater; the rectifier's gulps come on top (found: about double).
    assert 1.3 * 0.15 < found.evidence["section"].value < 2.2 * 0.15
    assert found.limit.value == pytest.approx(1.15 * 0.15)


def test_the_octal_type_has_its_lamp_section_at_the_other_end(review, only) -> None:
    # 35Z5GT: pins 2-3, 7.5 V of its 35 V (memory: RCA).
    text = (
        "mains 117 V 60 Hz\ntube V4 50L6GT\ntube V5 35Z5GT\nline --[F1 0.5 A slow]-- HOT\n"
        "neutral -- gnd\nHOT -- V5.h1\nV5.h2 --[V4 heater]--[R2 250 ohm 10 W]-- gnd\n"
        "V5.tap --[R3 22 ohm 2 W]-- V5.plate\nV5.cathode -- RES\n"
        "RES --+[C1 40 uF 250 V]-- gnd\nRES --[R1 2k2 20 W]-- gnd\n"
    )
    found = only(review(text), "heater.lamp-section-bare")
    assert found.evidence["section"].value > 1.3 * 0.15
    lamp = text + "V5.h1 --[LA1 lamp 6.3 V 150 mA]-- V5.tap\n"
    assert of(review(lamp), "heater.lamp-section-bare") == []
    # A resistor in the lead is not across the section.
    lead = text.replace("HOT -- V5.h1", "HOT --[R9 10 ohm 2 W]-- V5.h1")
    only(review(lead), "heater.lamp-section-bare")
    # Next to nothing is drawn from the supply.
    idle = text.replace("R1 2k2 20 W", "R1 470k")
    assert of(review(idle), "heater.lamp-section-bare") == []


def test_with_the_lamp_the_section_carries_its_own_current(sample) -> None:
    looked = sample("heater.lamp-section-bare", "right")
    amps = looked.solutions["warm"].current("V5.heater.tap-h2").rms
    assert amps < 1.15 * 0.15


def test_a_plate_on_the_line_leaves_the_section_alone(review) -> None:
    text = (
        "mains 117 V 60 Hz\ntube V4 50C5\ntube V5 35W4\nline --[F1 0.5 A slow]-- HOT\n"
        "neutral -- gnd\nHOT -- V5.h2\nV5.h1 --[V4 heater]--[R2 250 ohm 10 W]-- gnd\n"
        "HOT --[R3 22 ohm 2 W]-- V5.plate\nV5.cathode -- RES\nRES --+[C1 40 uF 250 V]-- gnd\n"
        "RES --[R1 2k2 20 W]-- gnd\n"
    )
    assert of(review(text), "heater.lamp-section-bare") == []
