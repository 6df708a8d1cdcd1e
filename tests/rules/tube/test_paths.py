"""Tube rules: DC paths to cathode, plate and screen; the ratings in the states they hold for."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.circuit.tubes import tube_type
from coldcheck.rules.tube.rating_checks import in_force
from coldcheck.solve.solution import Solution, State, TubeReading
from coldcheck.verdict.registry import rule_by_id

TRIODE = """\
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R2 1k5]-- gnd
V1A.grid --[R3 1M]-- gnd
"""

PATHS = ("tube.no-cathode-path", "tube.no-plate-supply", "tube.no-screen-supply")


def of(review, *rules):
    return [f for f in review.findings if f.rule in rules]


def reasons(review, rule):
    return {n.at: n.reason for n in review.not_judged if n.rule == rule}


# --- paths ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "at", "words"),
    [
        ("tube.no-cathode-path", "V1A", "no DC path from its cathode to gnd, only C1"),
        ("tube.no-plate-supply", "V1A", "no supply reaches its plate: it leads to B2"),
        ("tube.no-screen-supply", "V1", "no supply reaches its screen: nothing conducts to it"),
    ],
)
def test_a_missing_path(sample, only, rule, at, words) -> None:
    found = only(sample(rule, "wrong"), rule)
    assert (found.level, found.state, found.at) == ("notice", "drawing", (at,))
    assert found.span.line == 4
    assert words in found.message
    assert found.certainty == "certain"


def test_cascode_and_stacked_stages_feed_through_each_other(review) -> None:
    looked = review(
        "tube V1 6DJ8\nB1 --+[E1 200 V]-- gnd\nB1 --[R1 22k]-- V1B.plate\n"
        "V1B.cathode -- V1A.plate\nB1 --[R2 220k]-- G --[R3 100k]-- gnd\nG -- V1B.grid\n"
        "V1A.cathode --[R4 220 ohm]-- gnd\nV1A.grid --[R5 470k]-- gnd\n"
    )
    assert of(looked, *PATHS) == []


def test_a_stack_without_supply_or_return_is_found_at_both_tubes(review) -> None:
    stack = (
        "tube V1 6DJ8\nB1 --+[E1 200 V]-- gnd\n{}V1B.cathode -- V1A.plate\n"
        "V1B.grid --[R3 1M]-- gnd\n"
        "{}V1A.grid --[R5 470k]-- gnd\nV1B.plate --[C1 10 nF 400 V]-- gnd\n"
    )
    top = review(stack.format("", "V1A.cathode -- gnd\n"))
    # The supply feeds nothing at all: the wire to the stack is missing, and both follow from that.
    (missing,) = of(top, "drawing.incomplete")
    for name in ("V1A", "V1B"):
        assert f"tube.no-plate-supply at {name}" in missing.evidence["explains"]
    bottom = review(stack.format("B1 --[R1 22k]-- V1B.plate\n", ""))
    assert [f.at for f in of(bottom, "tube.no-cathode-path")] == [("V1A", "V1B")]


def test_a_tail_to_a_negative_supply_is_a_return(review) -> None:
    text = TRIODE.replace("--[R2 1k5]-- gnd", "--[R2 100k]-- BM\ngnd --+[E2 100 V]-- BM")
    assert of(review(text), *PATHS) == []


def test_a_key_in_the_cathode_is_drawn_open(review) -> None:
    """A switch that closes the way counts; one that does not lead there is no way."""
    keyed = TRIODE.replace("--[R2 1k5]-- gnd", "--[R2 1k5]-- KEY\nKEY --[S1 switch open]-- {}")
    assert of(review(keyed.format("gnd")), *PATHS) == []
    assert [f.at for f in of(review(keyed.format("X")), *PATHS)] == [("V1A",)]


def test_a_directly_heated_tube_returns_through_its_filament_winding(review) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V\n    winding fil 5 V ct 2 A\n"
        "tube V1 300B heater T1.fil\nB1 --+[E1 350 V]-- gnd\nB1 --[L1 10 H 100 ohm]-- V1.plate\n"
        "V1.grid --[R3 220k]-- gnd\n{}"
    )
    assert of(review(text.format("T1.fil.ct --[R5 1k 10 W]-- gnd\n")), *PATHS) == []
    (found,) = of(review(text.format("")), *PATHS)
    assert (found.rule, found.at) == ("tube.no-cathode-path", ("V1",))
    assert "filament" in found.message


def test_a_fed_screen_under_an_unfed_plate_is_said(review, only) -> None:
    looked = review(
        "tube V1 6V6GT\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 1k 2 W]-- V1.screen\n"
        "V1.cathode --[R2 270 ohm 5 W]-- gnd\nV1.grid --[R3 470k]-- gnd\n"
        "V1.plate --[C1 100 nF 630 V]-- gnd\n"
    )
    assert "would take all the current" in only(looked, "tube.no-plate-supply").message


def test_triode_connection_feeds_the_screen(review) -> None:
    looked = review(
        "tube V1 EL84\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 5k 10 W]-- V1.plate\n"
        "V1.plate --[R4 100 ohm]-- V1.screen\nV1.cathode --[R2 270 ohm 5 W]-- gnd\n"
        "V1.grid --[R3 470k]-- gnd\n"
    )
    assert of(looked, *PATHS) == []


def test_unused_parked_and_diode_connected_sections_are_quiet(review) -> None:
    assert of(review(TRIODE), *PATHS) == []
    assert of(review(TRIODE + "V1B.grid -- gnd\nV1B.cathode -- gnd\n"), *PATHS) == []
    diode = "V1B.grid -- V1B.plate\nV1B.cathode -- gnd\nV1B.plate --[R9 1M]-- gnd\n"
    assert of(review(TRIODE + diode), *PATHS) == []


# --- ratings: the pairs --------------------------------------------------------------------------


def test_plate_dissipation(sample, only) -> None:
    found = only(sample("tube.plate-dissipation", "wrong"), "tube.plate-dissipation")
    assert (found.level, found.at, found.state) == ("notice", ("V1",), "warm")
    assert found.limit.value == 12  # EL84, design centre
    # EL84 data sheet: 48 mA + 5.5 mA at 250 V, 250 V, -7.3 V, 11.3 mA/V, and 19 from grid to
    # screen (memory). At 280 V the screen is worth 30 / 19 = 1.6 V of grid, and the bias is
    # 0.15 kohm * 1.115 I: I = 48 + 11.3 * (8.9 - 0.167 I), I = 51.3 mA, 281 V * I = 14.4 W.
    assert found.evidence["plate_dissipation"].value == pytest.approx(14.4, abs=1)
    reading = sample("tube.plate-dissipation", "wrong").solutions["warm"].readings["V1"]
    assert found.evidence["plate_dissipation"].value == pytest.approx(
        reading.plate_v * reading.plate_ma / 1e3, rel=5e-3
    )
    # 90 % of the current that makes 12 W at that plate voltage.
    assert f"{0.9 * 12e3 / reading.plate_v:.1f} mA" in found.remedy


def test_both_plates_together(sample, only) -> None:
    looked = sample("tube.plate-dissipation-both", "wrong")
    found = only(looked, "tube.plate-dissipation-both")
    assert (found.level, found.at) == ("notice", ("V1",))
    assert found.limit.value == 7.5  # 6SN7GTB, both plates (memory: RC-30)
    one = looked.solutions["warm"].readings["V1A"].plate_w
    assert one < 5 < 7.5 < found.evidence["plate_dissipation_of_both_systems"].value
    assert found.evidence["plate_dissipation_of_both_systems"].value == pytest.approx(
        2 * one, rel=1e-6
    )
    assert of(looked, "tube.plate-dissipation") == []


def test_screen_dissipation(sample, only) -> None:
    found = only(sample("tube.screen-dissipation", "wrong"), "tube.screen-dissipation")
    assert (found.level, found.limit.value) == ("notice", 2.2)  # 6V6GT
    # Ohm's law: what the screen draws is what 470 ohm lets through, (250 - Vs) / 470 at Vs.
    reading = sample("tube.screen-dissipation", "wrong").solutions["warm"].readings["V1"]
    supply = 250 - reading.screen_v - reading.cathode_v
    assert found.evidence["screen_dissipation"].value == pytest.approx(
        reading.screen_v * supply / 470, rel=0.01
    )
    assert "kohm ahead of it" in found.remedy


def test_plate_voltage(sample, only) -> None:
    found = only(sample("tube.plate-voltage", "wrong"), "tube.plate-voltage")
    assert (found.level, found.at, found.limit.value) == ("notice", ("V1A",), 300)
    # 12AX7 data sheet: 1.2 mA at 250 V and -2 V, 100, 62.5 kohm. Along those slopes
    # I = 1.2 mA + (460 - 102.7 k I - 250 + 100 (2 - 2.7 k I)) / 62.5 k, I = 1.115 mA:
    # 460 V - 102.7 k I = 345.5 V.
    assert found.evidence["plate_to_cathode"].value == pytest.approx(345.5, abs=3)
    assert "by 4" in found.remedy


def test_screen_voltage(sample, only) -> None:
    found = only(sample("tube.screen-voltage", "wrong"), "tube.screen-voltage")
    assert (found.level, found.limit.value) == ("notice", 125)  # 6SJ7 (memory: RC-30)
    # 250 V over 22 k and 47 k is 170 V behind 15 k; the screen takes about 1 mA (0.8 mA at 100 V,
    # data sheet) and the cathode is some volts up: 145 to 160 V.
    assert 145 < found.evidence["screen_to_cathode"].value < 160


def test_cathode_current(sample, only) -> None:
    found = only(sample("tube.cathode-current", "wrong"), "tube.cathode-current")
    assert (found.level, found.limit.value) == ("notice", 0.065)  # EL84
    warm = sample("tube.cathode-current", "wrong").solutions["warm"]
    # All of it comes down through the 33 ohm cathode resistor.
    assert found.evidence["cathode_current"].value == pytest.approx(
        warm.readings["V1"].cathode_v / 33, rel=5e-3
    )
    assert found.evidence["cathode_current"].value > 1.05 * 0.065
    assert "58.5 mA" in found.remedy  # 0.9 * 65 mA


# --- ratings: states and levels ------------------------------------------------------------------


def synthetic(review, **readings: TubeReading) -> Case:
    """The triode stage with invented readings: state name -> reading of V1A."""
    circuit = review(TRIODE).circuit
    solutions = {}
    for key, reading in readings.items():
        name = key.replace("_", " ")
        kind = next(
            k for k in ("warm", "high line", "standby", "pulled", "cold") if name.startswith(k)
        )
        out = frozenset({name.removeprefix("pulled ")}) if kind == "pulled" else frozenset()
        state = State(name, kind, pulled=out)
        solutions[name] = Solution(
            state, True, 0.0, 1, "", circuit, readings={"V1A": reading, "V1B": TubeReading()}
        )
    return Case(circuit, solutions)


def judged(case: Case, rule: str = "tube.plate-dissipation"):
    return [
        (o.state, o.level, round(o.excess, 3))
        for o in rule_by_id(rule).judge(case)
        if hasattr(o, "level")
    ]


def power(watts: float) -> TubeReading:
    return TubeReading(plate_v=200.0, plate_ma=5 * watts, plate_w=watts, cathode_v=1.0)


def test_the_rating_system_is_that_of_the_tube(review, only) -> None:
    """6V6GT: design-maximum; 12AX7: design-centre (sheets)."""
    text = "tube V2 6V6GT\n" + TRIODE.replace("E1 250 V", "E1 460 V")
    assert "limit 300 V (design-centre)" in only(review(text), "tube.plate-voltage").message


def test_five_percent_over_is_advice_and_more_is_a_notice(review) -> None:
    # 12AX7: 1 W a plate (data sheet).
    assert judged(synthetic(review, warm=power(1.0))) == []
    assert judged(synthetic(review, warm=power(1.04))) == [("warm", "advice", 1.04)]
    assert judged(synthetic(review, warm=power(1.06))) == [("warm", "notice", 1.06)]


def test_a_design_centre_rating_is_not_compared_at_high_line_nor_cold(review) -> None:
    case = synthetic(review, warm=power(0.9), high_line=power(1.5), cold=power(1.5))
    assert judged(case) == []


def test_standby_counts_like_the_nominal_state(review) -> None:
    case = synthetic(review, warm=power(0.9), standby_S1=power(1.5))
    assert judged(case) == [("standby S1", "notice", 1.5)]


def test_a_pulled_socket_is_advice_and_only_where_nothing_else_is_wrong(review) -> None:
    assert judged(synthetic(review, warm=power(0.9), pulled_V2=power(1.18))) == []
    slight = synthetic(review, warm=power(0.9), pulled_V2=power(1.22))
    assert judged(slight) == [("pulled V2", "advice", 1.22)]
    case = synthetic(review, warm=power(0.9), pulled_V2=power(1.5))
    assert judged(case) == [("pulled V2", "advice", 1.5)]
    (found,) = [o for o in rule_by_id("tube.plate-dissipation").judge(case) if hasattr(o, "level")]
    assert found.remedy == "Do not switch on with V2 out of its socket"
    both = synthetic(review, warm=power(1.2), pulled_V2=power(1.5))
    assert judged(both) == [("warm", "notice", 1.2)]


def test_which_rating_systems_hold_at_high_line(review) -> None:
    circuit = review(TRIODE).circuit
    high = Solution(State("high line", "high line", line=1.1), True, 0.0, 1, "", circuit)
    tube = circuit.tubes["V1"]
    for name, expected in (("12AX7", False), ("6V6GT", True), ("KT88", True), ("807", True)):
        assert in_force(replace(tube, type=tube_type(name)), high) is expected


# --- what is not judged --------------------------------------------------------------------------


def test_a_missing_rating_is_said_once_a_tube(review) -> None:
    looked = review(TRIODE.replace("12AX7", "6SL7GT"))
    assert reasons(looked, "tube.cathode-current") == {
        ("V1",): "no limit on file for cathode current (6SL7GT)"
    }


def test_voltages_that_could_not_be_found_are_said(sample) -> None:
    said = reasons(sample("grid.no-return", "wrong"), "tube.plate-dissipation")
    assert said == {
        (
            "V1A",
        ): "plate dissipation could not be worked out: depends on the floating grid at V1A.grid"
    }


def test_an_unsolved_circuit_is_said_once_a_rule(review) -> None:
    circuit = review(TRIODE).circuit
    failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", circuit)
    case = Case(circuit, {"warm": failed})
    for rule in ("tube.plate-dissipation", "tube.cathode-current", "heater.cathode-stress"):
        (said,) = rule_by_id(rule).judge(case)
        assert said.at == ("V1",)
        assert said.reason == "no voltages could be worked out: no luck"


def test_a_rating_in_the_drawing_overrides_the_library(review, only) -> None:
    text = "type MINE like 12AX7\n    rating plate-voltage 150 V\n" + TRIODE.replace(
        "12AX7", "MINE"
    )
    found = only(review(text), "tube.plate-voltage")
    assert found.limit.value == 150
    assert "drawing" in found.source


@pytest.mark.parametrize(("volts", "fires"), [(19, False), (21, True)])
def test_a_plate_below_its_own_cathode(volts, fires, review):
    """A battery turned round: nothing conducts, and everything else looks in order."""
    text = f"""tube V1 12AX7
N1 --[E1 {volts} V]+-- gnd
N1 --[R1 100k 1 W]-- V1A.plate
IN --[C1 22 nF 400 V film]-- V1A.grid --[R2 1M]-- gnd
V1A.cathode --[R3 1k5]-- gnd
signal IN 0.1 V 1 kHz
V1B.grid -- gnd
V1B.cathode -- gnd
"""
    found = [
        f for f in review(text).findings if f.rule == "tube.no-plate-supply" and f.at == ("V1A",)
    ]
    assert bool(found) is fires
    for f in found:
        assert (f.level, f.state) == ("notice", "warm")
        assert f.evidence["plate"].value == pytest.approx(-volts, rel=0.01)
