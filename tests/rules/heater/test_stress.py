"""Heater-cathode insulation: each polarity, peak and DC, against the data sheets' limits."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.lift_room import Room
from coldcheck.anatomy.lift_window import common_room
from coldcheck.rules.heater.common_lift import range_text
from coldcheck.rules.heater.lift import MARGIN
from coldcheck.rules.heater.stress import cathode_stress, stresses
from coldcheck.solve.solution import Solution, State, TubeReading

HEAD = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding warm 6.3 V ct 0.6 A
"""


def follower(tube: str, supply: float, tap: str) -> str:
    """A triode follower, its grid at half the supply."""
    return (
        f"{HEAD}tube V1 {tube} heater T1.warm\nB1 --+[E1 {supply} V]-- gnd\nB1 -- V1A.plate\n"
        "B1 --[R1 1M 1 W]-- V1A.grid --[R2 1M 1 W]-- gnd\n"
        f"V1A.cathode --[R3 150k 1 W]-- gnd\n{tap}\n"
    )


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


def reasons(review, rule):
    return {n.at: n.reason for n in review.not_judged if n.rule == rule}


def test_follower_with_its_heater_on_gnd(sample, only) -> None:
    found = only(sample("heater.cathode-stress", "wrong"), "heater.cathode-stress")
    # A design-centre type: nominal mains, with the usual spread already in the limit.
    assert (found.level, found.at, found.state) == ("notice", ("V1A",), "warm")
    # The grid is at 400 / 2 = 200 V. A 12AX7 passes its 1.3 mA at 200 V with 1 to 2 V of bias
    # (data sheet: 1.2 mA at 250 V, -2 V; amplification factor 100), so the cathode is there.
    assert found.evidence["cathode_dc"].value == pytest.approx(201.5, abs=0.7)
    assert found.evidence["heater_dc"].value == pytest.approx(0, abs=0.01)
    # Each end of a tapped 6.3 V winding peaks at 3.15 sqrt 2 = 4.45 V, and up to 8 % more
    # from a half-loaded winding.
    swing = found.evidence["peak"].value - found.evidence["cathode_dc"].value
    assert 3.15 * sqrt(2) <= swing <= 1.08 * 3.15 * sqrt(2)
    assert found.limit.value == 180  # 12AX7 data sheet, found
    assert found.evidence["sense"] == "heater negative"
    assert "low line" in found.also_in
    assert "high line" not in found.also_in
    assert found.source == "a public copy of the 12AX7 data sheet (found)"
    assert found.message == (
        "V1A: cathode at 201 V, heater at 0 V: 206 V peak between them, limit 180 V"
    )
    # 270 k over 91 k from 400 V: 400 * 91 / 361 = 100.8 V, about half the cathode's.
    assert "270 kohm 1 W over 91 kohm 250 mW from B1 (400 V) gives 101 V" in found.remedy


def test_the_lifted_line_has_the_voltage_of_its_divider(sample) -> None:
    warm = sample("heater.cathode-stress", "right").solutions["warm"]
    assert warm.wave("LIFT").dc == pytest.approx(400 * 68 / 288, rel=1e-3)
    reading = warm.readings["V1A"]
    assert reading.heater_cathode_dc == pytest.approx(94.4 - 201.5, abs=1)


def test_below_the_limit_is_quiet(review) -> None:
    # Cathode near 151 V: 156 V peak, limit 180 V.
    assert of(review(follower("12AX7", 300, "T1.warm.ct -- gnd")), "heater.cathode-stress") == []


def test_the_other_type_in_the_same_place(review, only) -> None:
    # 12AT7: 90 V either way (memory: RCA 12AT7). A low heater: lift it by half.
    found = only(review(follower("12AT7", 300, "T1.warm.ct -- gnd")), "heater.cathode-stress")
    assert found.limit.value == 90
    assert found.certainty == "certain"
    assert "memory" in found.source


DRIVEN = "signal IN {} V 1 kHz\nIN --[C1 1 uF 400 V]-- V1A.grid\n"


def test_the_signal_takes_a_follower_beyond_what_its_dc_is_within(review, only) -> None:
    still = follower("12AX7", 320, "T1.warm.ct -- gnd")
    assert of(review(still), "heater.cathode-stress") == []
    found = only(review(still + DRIVEN.format(20)), "heater.cathode-stress")
    # The cathode stands at half of 320 V and a volt or so of bias: 166 V with the heater's peak,
    # limit 180 V (12AX7 data sheet, found). 20 V rms at the grid are 28.3 V peak at the source and
    # mu / (mu + 1) of it, 0.98 to 0.99, at the cathode (150 kohm is no load for it).
    assert found.evidence["cathode_dc"].value + 4.9 < 180
    assert found.evidence["signal_swing"].value == pytest.approx(20 * sqrt(2) * 0.985, rel=0.01)
    assert found.evidence["peak"].value == pytest.approx(
        found.evidence["cathode_dc"].value + found.evidence["signal_swing"].value + 4.6, abs=0.4
    )
    assert "V of it signal) between them, limit 180 V" in found.message
    assert (found.level, found.at, found.state) == ("notice", ("V1A",), "warm")


def test_a_swing_that_stays_within_is_quiet(review) -> None:
    text = follower("12AX7", 320, "T1.warm.ct -- gnd") + DRIVEN.format(5)
    assert of(review(text), "heater.cathode-stress") == []


def test_the_dc_limit_knows_no_signal(review) -> None:
    # 12AU7: 200 V peak, 100 V DC (memory: RCA 12AU7A, heater positive)
    looked = review(follower("12AU7", 300, "T1.warm.ct -- gnd"))
    tube, warm = looked.circuit.tubes["V1"], looked.solutions["warm"]
    at_rest = {s.word: s.value for s in stresses(tube, tube.sections[0], warm)}
    driven = {s.word: s.value for s in stresses(tube, tube.sections[0], warm, swing=60.0)}
    assert driven.get("DC") == at_rest.get("DC")
    assert driven["peak"] > 200


def test_a_lifted_line_is_strained_by_the_swing_the_other_way(review) -> None:
    # 12AT7: 90 V either way (memory: RCA 12AT7). The cathode at 51 V, the heater at 125 V: 74 V
    # and 4.5 V of its own; a cathode that swings 15 V down makes it 94 V.
    text = follower("12AT7", 100, "LIFT --+[E2 125 V]-- gnd\nLIFT -- T1.warm.ct")
    looked = review(text)
    tube, warm = looked.circuit.tubes["V1"], looked.solutions["warm"]
    section = tube.sections[0]
    assert list(stresses(tube, section, warm)) == []
    (found,) = stresses(tube, section, warm, swing=15.0)
    at_rest = warm.readings["V1A"].heater_cathode_high
    assert (found.word, found.sign, found.lifted) == ("peak", 1, True)
    assert found.value == pytest.approx(at_rest + 15.0)
    assert found.evidence["signal_swing"].value == 15.0


def test_a_design_centre_limit_is_never_merely_possible(review) -> None:
    # 12AX7 at 174 V of 180 V: within, and what the parts add is in the rating already.
    looked = review(follower("12AX7", 336, "T1.warm.ct -- gnd"))
    assert of(looked, "heater.cathode-stress") == []


def test_an_absolute_limit_reached_by_the_spread_is_possible(review) -> None:
    # The same drawing and limit with an absolute rating: the divider of two 10 % resistors moves
    # the cathode by sqrt(2) x 5 %, 12 V and the source by 1 %: 174 V reach 186 V.
    looked = review(follower("12AX7", 336, "T1.warm.ct -- gnd"))
    tube = looked.circuit.tubes["V1"]
    strict = replace(tube, type=replace(tube.type, rating_system="absolute"))
    (found,) = [
        s for s in stresses(strict, strict.sections[0], looked.solutions["warm"]) if s.sign < 0
    ]
    assert found.value < 180 < found.most
    assert found.most - found.value == pytest.approx(168 * sqrt(2 * 0.05**2 + 0.01**2), rel=0.1)


def test_the_dc_limit_is_judged_apart_from_the_peak(review, only) -> None:
    # 6V6GT: 200 V peak but 100 V DC with the heater negative (data sheet, found).
    text = (
        f"{HEAD}tube V1 6V6GT heater T1.warm\nT1.warm.ct -- gnd\nB1 --+[E1 300 V]-- gnd\n"
        "B1 -- V1.plate\nB1 -- V1.screen\nB1 --[R1 220k]-- V1.grid --[R2 180k]-- gnd\n"
        "V1.cathode --[R3 6k8 5 W]-- gnd\n"
    )
    found = only(review(text), "heater.cathode-stress")
    # The grid is at 300 * 180 / 400 = 135 V. From plate and screen at 150 V, 21 mA need 5 to 15 V
    # of bias (data sheet: 29 mA at 180 V with -8.5 V).
    assert 140 < found.evidence["dc"].value < 150
    assert found.limit.value == 100
    assert "DC between them" in found.message


def test_no_one_lift_suits_all(review, only) -> None:
    # A 12AT7 follower at 200 V beside a 12AT7 amplifier: 90 V either way (memory: RCA 12AT7).
    text = follower("12AT7", 400, "T1.warm.ct -- gnd").replace("R3 150k", "R3 100k") + (
        "tube V2 12AT7 heater T1.warm\nB1 --[R7 47k 2 W]-- V2A.plate\n"
        "V2A.cathode --[R8 1k]-- gnd\nV2A.grid --[R9 470k]-- gnd\n"
    )
    found = only(review(text), "heater.no-common-lift")
    assert found.at == ("T1.warm", "V1", "V2")
    # Cold, V1 itself stands only the 85 V that V2 does: its heater has to follow its cathode.
    assert "V2 on a winding tied to gnd" in found.remedy
    assert "V1 on a winding of its own, its tap on the cathode of V1A" in found.remedy
    assert of(review(text), "heater.cathode-stress") == []
    assert "heater.cathode-stress at V1A" in found.evidence["explains"]


def test_a_tube_whose_own_sections_want_two_lifts(review, only) -> None:
    # 12AX7: 180 V either way. V1B's cathode is near 400 V in warm and V1A's near gnd.
    amplifier = (
        "B1 --[R{0}1 470k]-- {1}.plate\n{1}.cathode --[R{0}2 2k2]-- gnd\n"
        "{1}.grid --[R{0}3 1M]-- gnd\n"
    )
    text = follower("12AX7", 800, "T1.warm.ct -- gnd").replace("V1A", "V1B")
    text += amplifier.format(7, "V1A")
    text += "tube V2 12AX7 heater T1.warm\n" + amplifier.format(8, "V2A")
    found = only(review(text), "heater.no-common-lift")
    assert found.remedy.startswith("Leave V2 on a winding tied to gnd (it may stand from -1")
    assert found.remedy.endswith("; V1: no lift suits both its sections, use two tubes")


def test_an_end_that_nothing_sets_is_any() -> None:
    assert range_text(Room()) == "any to any"


@pytest.mark.parametrize("heater", [-300, 0])
def test_a_cathode_far_below_gnd_wants_its_own_winding(review, heater: int) -> None:
    """12AT7: 90 V either way; no lift above gnd is within that of a cathode at -150 V."""
    text = follower("12AT7", 300, "gnd --+[E2 150 V]-- NEG\nV1A.grid --[R4 1M]-- NEG")
    text = text.replace("R3 150k 1 W]-- gnd", "R3 10k 1 W]-- NEG").replace("R1 1M", "R1 100M")
    text += "T1.warm.ct -- gnd\n" if heater == 0 else f"gnd --+[E3 {-heater} V]-- T1.warm.ct\n"
    remedies = {f.remedy for f in of(review(text), "heater.cathode-stress")}
    assert len(remedies) == 1
    assert remedies.pop().startswith("No one lift suits all tubes on T1.warm: give V1 a heater")


@pytest.mark.parametrize(
    ("heater", "rule"), [(4.75, "heater.cathode-stress"), (5.25, "heater.lifted-too-far")]
)
def test_from_five_volts_on_a_line_is_lifted(review, heater: float, rule: str) -> None:
    """The cathode stands at -200 V: 205 V, of the 180 V that a 12AX7 stands."""
    looked = review(
        f"{HEAD}tube V1 12AX7 heater T1.warm\nLIFT --+[E3 {heater} V]-- gnd\nLIFT -- T1.warm.ct\n"
        "gnd --+[E2 200 V]-- NEG\nV1A.cathode --[R3 1k5]-- NEG\nV1A.grid --[R2 1M]-- NEG\n"
        "gnd --[R1 100k]-- V1A.plate\n"
    )
    rules = ("heater.cathode-stress", "heater.lifted-too-far")
    assert {f.rule for f in looked.findings if f.rule in rules} == {rule}


PAIR = f"""{HEAD}tube V1 6V6GT heater T1.warm
tube V2 6V6GT heater T1.warm
B1 --+[E1 100 V]-- gnd
B1 --[R1 10k 5 W]-- V1.plate
B1 --[R2 10k 5 W]-- V2.plate
B1 --[R3 10k 5 W]-- V1.screen
B1 --[R4 10k 5 W]-- V2.screen
V1.grid --[R5 100k]-- gnd
V2.grid --[R6 100k]-- gnd
LIFT -- T1.warm.ct
LIFT --+[E2 {{lift}} V]-- gnd
V1.cathode --+[E3 {{one}} V]-- gnd
V2.cathode --+[E4 {{other}} V]-- gnd
"""


@pytest.mark.parametrize(
    ("lift", "one", "other", "at", "worst"),
    [
        (120, 12, 9, ("T1.warm", "V1", "V2"), "V2"),  # 108 V and 111 V: the worse one is told
        (110, 10.4, 9, ("T1.warm", "V2"), "V2"),  # 99.6 V is over with the spread alone
    ],
)
def test_of_two_tubes_the_one_that_is_over(
    review, only, lift: int, one: float, other: float, at: tuple[str, ...], worst: str
) -> None:
    """6V6GT: 100 V DC with the heater positive."""
    found = only(review(PAIR.format(lift=lift, one=one, other=other)), "heater.lifted-too-far")
    assert found.at == at
    assert f"the cathode of {worst}, limit 100 V" in found.message


@pytest.mark.parametrize(
    ("low", "high", "missing", "said"),
    [
        (-50.0, 9.5, "positive", None),
        (-50.0, 10.5, "positive", "no limit on file for the heater positive of the cathode"),
        (-9.5, 50.0, "negative", None),
        (-10.5, 50.0, "negative", "no limit on file for the heater negative of the cathode"),
    ],
)
def test_ten_volts_need_no_rating(
    review, low: float, high: float, missing: str, said: str | None
) -> None:
    circuit = review(follower("12AX7", 300, "T1.warm.ct -- gnd")).circuit
    tube = circuit.tubes["V1"]
    known = {n: r for n, r in tube.type.ratings.items() if missing not in n}
    bare = replace(circuit, tubes={"V1": replace(tube, type=replace(tube.type, ratings=known))})
    found = TubeReading(
        cathode_v=0.0, heater_cathode_dc=0.0, heater_cathode_low=low, heater_cathode_high=high
    )
    warm = Solution(State("warm", "warm"), True, 0.0, 1, "", bare, readings={"V1A": found})
    reasons = [o.reason for o in cathode_stress.judge(Case(bare, {"warm": warm}))]
    assert [r.partition(" (")[0] for r in reasons] == ([] if said is None else [said])


def test_lift_window_of_a_follower(sample) -> None:
    looked = sample("heater.cathode-stress", "right")
    case = Case(looked.circuit, looked.solutions)
    room = common_room(case, heater_lines(looked.circuit)[0], MARGIN)
    low, high = room.least, room.most
    # Low: cathode 201.5 V less 0.9 * 180 V and the heater's 4.9 V peak at high line.
    # High: cold, cathode at 0 V: 0.9 * 180 V less that peak.
    assert low == pytest.approx(201.5 - 162 + 5.1, abs=1)
    assert high == pytest.approx(162 - 5.1, abs=1)


def test_lifted_too_far(sample, only) -> None:
    found = only(sample("heater.lifted-too-far", "wrong"), "heater.lifted-too-far")
    assert (found.level, found.at, found.state) == ("notice", ("T1.warm", "V1A"), "cold")
    # 300 V over two equal resistors; the cathode is at 0 V while it is cold.
    assert found.evidence["heater_dc"].value == pytest.approx(150, rel=1e-3)
    assert found.evidence["dc"].value == pytest.approx(150, rel=1e-3)
    assert found.limit.value == 100  # 12AU7: DC, heater positive (memory: RCA 12AU7A)
    assert "warm" in found.also_in
    assert found.span.line == 8


def test_one_cause_is_one_finding(review) -> None:
    text = follower("12AU7", 300, "B1 --[R9 220k 1 W]-- T1.warm.ct").replace(
        "B1 --[R1 1M 1 W]-- V1A.grid --[R2 1M 1 W]-- gnd", "V1A.grid --[R2 1M]-- gnd"
    )
    looked = review(
        text + "V1B.plate -- B1\nV1B.grid --[R5 1M]-- gnd\nV1B.cathode --[R6 22k]-- gnd\n"
    )
    (found,) = of(looked, "heater.lift-unlimited")
    # No lower resistor: the heaters stand at the full 300 V.
    assert found.evidence["rail"].value == pytest.approx(300, rel=0.01)
    assert "heater.lifted-too-far at T1.warm, V1A, V1B" in found.evidence["explains"]
    assert of(looked, "heater.cathode-stress") == []


def test_a_heater_that_is_not_drawn_is_said(review) -> None:
    looked = review(
        "tube V1 6J5\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 47k]-- V1.plate\n"
        "V1.cathode --[R2 1k8]-- gnd\nV1.grid --[R3 470k]-- gnd\n"
    )
    assert reasons(looked, "heater.cathode-stress") == {
        ("V1",): "its heater is not drawn, so its voltage is not known"
    }


def test_a_floating_heater_is_not_given_a_number(sample) -> None:
    said = reasons(sample("heater.no-reference", "wrong"), "heater.cathode-stress")
    assert said == {
        ("V1",): "the voltage between heater and cathode is not defined: floating: nothing ties "
        "it to gnd"
    }


def test_a_missing_limit_is_said_only_where_it_matters(review) -> None:
    text = (
        f"{HEAD}    winding ht 250 V ct 250 V 60 mA 500 ohm\ntube V1 EZ80 heater T1.warm\n"
        "T1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\nT1.ht.ct -- gnd\nV1.cathode -- B1\n"
        "B1 --+[C1 10 uF 450 V]-- gnd\nB1 --[R1 22k 10 W]-- gnd\n{}\n"
    )
    # EZ80: 500 V with the heater negative, no figure for a positive heater.
    assert reasons(review(text.format("T1.warm.ct -- gnd")), "heater.cathode-stress") == {}
    lifted = text.format("X --+[E1 400 V]-- gnd\nT1.warm.ct -- X")
    said = reasons(review(lifted), "heater.cathode-stress")
    assert "no limit on file for the heater positive of the cathode (EZ80)" in said[("V1",)]


def test_directly_heated_and_joined_tubes_have_no_insulation_to_break(sample) -> None:
    looked = sample("heater.rectifier-filament-grounded", "right")
    assert reasons(looked, "heater.cathode-stress") == {}


def test_a_string_with_a_tube_pulled_is_advice(review) -> None:
    # 240 V: with the lowest heater out, all of 339 V peak stands at the others (limit 200 V,
    # 50C5, memory: RCA); with all in, V1 sees its own 50 V and V2 what is below it.
    looked = review(
        "mains 240 V 50 Hz\ntube V1 50C5\ntube V2 50C5\nneutral -- gnd\n"
        "line --[F1 fuse 0.5 A]--[R1 933 ohm 40 W]-- A --[V2 heater]-- H --[V1 heater]-- gnd\n"
        "B1 --+[E1 110 V]-- gnd\nB1 --[R2 1k 5 W]-- V2.plate\nB1 -- V2.screen\n"
        "V2.cathode --[R3 150 ohm 2 W]-- gnd\nV2.grid --[R4 470k]-- gnd\n"
    )
    (found,) = of(looked, "heater.cathode-stress")
    assert (found.level, found.at, found.state) == ("advice", ("V2",), "pulled V1")
    # The whole heater follows the line, 339 V peak; its tube is cold, so the cathode is at gnd.
    assert found.evidence["peak"].value == pytest.approx(240 * sqrt(2), abs=1)
    assert found.remedy == "Do not switch on with V1 out of its socket"
