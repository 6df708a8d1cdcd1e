"""The network that lifts a heater line: both resistors, their size, and the capacitor."""

from __future__ import annotations

from math import pi

import pytest

BENCH = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 0.6 A
tube V1 12AX7 heater T1.warm
B1 --+[E1 300 V]-- gnd
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- gnd
V1B.cathode -- gnd
"""

RULES = (
    "heater.lift-unlimited",
    "heater.reference-too-weak",
    "heater.lift-unbypassed",
    "heater.lift-capacitor-underrated",
)


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


def bench(*lines: str) -> str:
    return BENCH + "\n".join(lines) + "\n"


def found_by(looked) -> set[str]:
    return {f.rule for f in looked.findings if f.rule in RULES}


# --- heater.lift-unlimited -----------------------------------------------------------------------


def test_no_lower_resistor(sample, only) -> None:
    looked = sample("heater.lift-unlimited", "wrong")
    found = only(looked, "heater.lift-unlimited")
    assert (found.level, found.at, found.certainty) == ("notice", ("T1.warm", "R4"), "certain")
    assert found.evidence["rail"].value == pytest.approx(300, rel=1e-3)
    # 220 k over 33 k from 300 V: 39.1 V.
    assert "Fit 33 kohm" in found.remedy
    assert "39.1 V" in found.remedy
    explained = found.evidence["explains"]
    assert "heater.lifted-too-far at T1.warm" in explained
    assert "heater.reference-too-weak at T1.warm" in explained


@pytest.mark.parametrize(("volts", "count"), [(190, 0), (210, 1)])
def test_what_a_zener_holds_is_held(review, volts: int, count: int) -> None:
    """76 % and 84 % of the rail of 250 V."""
    lines = ("B1 --[R5 22k 5 W]-- T1.warm.ct", f"gnd --[ZD1 zener {volts} V 5 W]-> T1.warm.ct")
    looked = review(bench(*lines).replace("E1 300 V", "E1 250 V"))
    assert len(of(looked, "heater.lift-unlimited")) == count


def test_the_lift_to_make_follows_the_cathodes(review, only) -> None:
    """A cathode at 300 V wants 120 V (12AX7: 180 V): 56k under 220k give 122 V of 600 V."""
    text = bench("B1 --[R4 220k]-- T1.warm.ct").replace("E1 300 V", "E1 600 V")
    text = text.replace("V1B.grid -- gnd\nV1B.cathode -- gnd\n", "")
    text += (
        "B1 --[R5 1M]-- V1B.grid --[R6 1M]-- gnd\nB1 -- V1B.plate\nV1B.cathode --[R7 150k]-- gnd\n"
    )
    assert "Fit 56 kohm" in only(review(text), "heater.lift-unlimited").remedy


def test_a_wiper_that_reaches_the_rail(sample, only) -> None:
    found = only(sample("heater.lift-unlimited/pot", "wrong"), "heater.lift-unlimited")
    assert found.at == ("T1.warm", "P1")
    # At the top: 300 V * (47 + 1) / (10 + 47 + 1).
    assert found.evidence["reach"].value == pytest.approx(300 * 48 / 58, rel=1e-3)
    # 12AX7: 180 V with a positive heater (found), less the 4.5 V peak of the tapped winding.
    assert found.limit.value == pytest.approx(175.4, abs=0.3)
    # 48 k * (300 / 175.4 - 1) = 34.1 k: the next of E12 is 39 k.
    assert "39 kohm in series" in found.remedy


def test_a_lift_supply_of_its_own_needs_no_lower_resistor(review) -> None:
    text = bench("L1 --+[E2 40 V]-- gnd", "L1 --[R4 1k]-- T1.warm.ct")
    assert of(review(text), "heater.lift-unlimited") == []


def test_a_divider_of_two_resistors_in_series_is_one(review) -> None:
    text = bench(
        "B1 --[R4 100k 1 W]-- M --[R5 120k 1 W]-- LIFT --[R6 33k]-- gnd",
        "LIFT --+[C1 10 uF 350 V]-- gnd",
        "LIFT -- T1.warm.ct",
    )
    assert found_by(review(text)) == set()


# --- heater.reference-too-weak and heater.lift-unbypassed ----------------------------------------


def test_a_bare_divider_of_high_resistance(sample, only) -> None:
    found = only(sample("heater.reference-too-weak", "wrong"), "heater.reference-too-weak")
    # Derived: 220 k and 47 k in parallel, the rail held by its source.
    assert found.evidence["reference"].value == pytest.approx(220e3 * 47e3 / 267e3, rel=1e-4)
    assert found.limit.value == 20e3  # Philips sheets (memory)
    assert found.excess == pytest.approx(38.73 / 20, rel=1e-3)
    assert found.remedy == "Put 10 uF 350 V from the tap to gnd"


def test_a_divider_of_very_high_resistance_is_weak_even_with_its_capacitor(review, only) -> None:
    text = bench(
        "B1 --[R4 2M2 1 W]-- LIFT --[R5 390k]-- gnd",
        "LIFT --+[C1 10 uF 350 V]-- gnd",
        "LIFT -- T1.warm.ct",
    )
    found = only(review(text), "heater.reference-too-weak")
    assert found.evidence["reference"].value == pytest.approx(2200 * 390 / 2590 * 1e3, rel=1e-4)
    assert found.limit.value == 150e3


def test_a_resistor_to_gnd_alone_counts_too(review, only) -> None:
    found = only(review(bench("T1.warm.ct --[R4 100k]-- gnd")), "heater.reference-too-weak")
    assert found.evidence["reference"].value == pytest.approx(100e3)


def test_a_rail_that_a_capacitor_holds_is_held(review) -> None:
    # The filter stage of 10 k and 40 uF: its capacitor is the rail, not the 10 k behind it.
    text = bench(
        "B1 --[R8 10k 1 W]-- B2",
        "B2 --+[C2 40 uF 450 V]-- gnd",
        "B2 --[R4 82k 1 W]-- LIFT --[R5 12k]-- gnd",
        "LIFT -- T1.warm.ct",
    )
    (found,) = of(review(text), "heater.lift-unbypassed")
    assert found.evidence["tap"].value == pytest.approx(82 * 12 / 94 * 1e3, rel=1e-4)
    assert "corner" not in found.evidence
    assert "which has no capacitor" in found.message


def test_a_capacitor_that_is_too_small(sample, only) -> None:
    found = only(sample("heater.lift-unbypassed", "wrong"), "heater.lift-unbypassed")
    ohms = 82 * 12 / 94 * 1e3
    assert found.evidence["corner"].value == pytest.approx(1 / (2 * pi * ohms * 100e-9), rel=1e-3)
    assert found.limit.value == 5.0


def test_a_bypassed_divider_is_right_however_it_is_made(review) -> None:
    # Derived: 22 uF with 38.7 k, corner 0.19 Hz.
    text = bench(
        "B1 --[R4 220k 1 W]-- LIFT --[R5 47k]-- gnd",
        "LIFT --+[C1 22 uF 350 V]-- gnd",
        "LIFT --[R6 100 ohm]-- T1.warm.1",
        "LIFT --[R7 100 ohm]-- T1.warm.2",
    )
    assert found_by(review(text)) == set()


def test_a_value_that_is_not_written_is_said(review) -> None:
    looked = review(bench("B1 --[R4 220k]-- LIFT --[R5 ?]-- gnd", "LIFT -- T1.warm.ct"))
    said = {n.at: n.reason for n in looked.not_judged if n.rule == "heater.reference-too-weak"}
    assert said == {("T1.warm",): "a resistance on its way to gnd is not known"}
    assert found_by(looked) == set()


@pytest.mark.parametrize("tie", ["T1.warm.ct -- gnd", "T1.warm.1 --[R4 47 ohm]-- gnd"])
def test_a_line_on_gnd_has_no_lift_to_judge(review, tie) -> None:
    assert found_by(review(bench(tie))) == set()


def test_a_lift_by_the_cathode_of_an_output_tube_is_stiff(review) -> None:
    text = bench(
        "tube V2 6V6GT heater T1.warm",
        "V2.cathode --[R7 390 ohm 2 W]-- gnd",
        "B1 --[L1 15 H 300 ohm]-- V2.plate",
        "B1 --[R6 1k 1 W]-- V2.screen",
        "V2.grid --[R8 470k]-- gnd",
        "V2.cathode -- T1.warm.ct",
    )
    assert found_by(review(text)) == set()


# --- heater.lift-capacitor-underrated ------------------------------------------------------------


def test_capacitor_near_its_rating(sample, only) -> None:
    found = only(
        sample("heater.lift-capacitor-underrated", "wrong"), "heater.lift-capacitor-underrated"
    )
    assert (found.level, found.at, found.state) == ("notice", ("C1",), "cold")
    # 300 V * 56 / 276 = 60.9 V of 63 V: 97 %, over 80 %.
    assert found.evidence["tap"].value == pytest.approx(300 * 56 / 276, rel=1e-3)
    assert found.excess == pytest.approx(60.87 / (0.8 * 63), rel=1e-3)
    assert (
        found.remedy == "Use one for 350 V, which is rated for the rail"
    )  # 300 V and 5 % to spare
    assert "capacitor" in found.evidence["explains"]


def test_capacitor_that_stands_the_lift_but_not_the_rail_is_advice(review, only) -> None:
    text = bench(
        "B1 --[R4 220k 1 W]-- LIFT --[R5 33k]-- gnd",
        "LIFT --+[C1 10 uF 100 V]-- gnd",
        "LIFT -- T1.warm.ct",
    )
    found = only(review(text), "heater.lift-capacitor-underrated")
    assert found.level == "advice"
    assert "goes to 300 V when R5 opens" in found.message


@pytest.mark.parametrize(("tie", "count"), [("950k", 1), ("1M05", 0)])
def test_above_a_megohm_it_is_no_reference_at_all(review, tie: str, count: int) -> None:
    looked = review(bench(f"T1.warm.ct --[R9 {tie}]-- gnd"))
    assert len(of(looked, "heater.reference-too-weak")) == count


@pytest.mark.parametrize(("lower", "count"), [("1k05", 0), ("1k17", 1)])
def test_below_a_kilohm_a_lift_needs_no_capacitor(review, lower: str, count: int) -> None:
    """In parallel with 10k: 950 ohm and 1047 ohm."""
    lines = ("B1 --[R8 10k 10 W]-- LIFT", f"LIFT --[R9 {lower} 2 W]-- gnd", "LIFT -- T1.warm.ct")
    assert len(of(review(bench(*lines)), "heater.lift-unbypassed")) == count


@pytest.mark.parametrize(("farads", "said"), [("?", True), ("10 uF", False)])
def test_a_capacitor_of_no_known_value_is_said(review, farads: str, said: bool) -> None:
    lines = ("B1 --[R8 220k]-- LIFT --[R9 33k]-- gnd", "LIFT -- T1.warm.ct")
    looked = review(bench(*lines, f"LIFT --+[C9 {farads} 100 V]-- gnd"))
    reasons = [n.reason for n in looked.not_judged if n.rule == "heater.reference-too-weak"]
    assert reasons == ["the value of its capacitor is not known"] * said


PASS_TUBE = """tube V1 6080 heater T1.pass
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding pass 6.3 V ct 3 A
T1.pri.1 -- line
T1.pri.2 -- neutral
RAW --+[E1 350 V]-- gnd
RAW -- V1A.plate -- V1B.plate
V1A.cathode --[R1 47 1 W]-- OUT
V1B.cathode --[R2 {second} 1 W]-- OUT
OUT --[R3 10k 5 W]-- gnd
OUT --+[C1 10 uF 500 V]-- gnd
V1A.grid -- G -- V1B.grid
G --+[E2 180 V]-- gnd
T1.pass.ct --[R4 100k]-- OUT
"""


@pytest.mark.parametrize(("second", "told"), [("440", 0), ("500", 1)])
def test_heaters_tied_to_where_their_own_cathodes_are(second, told, review) -> None:
    """A pass tube's heater belongs at the output, whatever that is above gnd."""
    looked = review(PASS_TUBE.format(second=second))
    found = [f for f in looked.findings if f.rule == "heater.lift-unlimited"]
    assert len(found) == told
    weak = [f for f in looked.findings if f.rule == "heater.reference-too-weak"]
    assert not weak or told
