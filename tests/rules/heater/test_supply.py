"""Heater windings and strings: sums of rated currents, and the voltage each heater gets."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity
from coldcheck.judge.figure import Figure, figure
from coldcheck.rules.heater.dropper import Dropper, dropper_remedy
from coldcheck.rules.heater.string import unequal
from coldcheck.rules.heater.supply import wrong_voltage
from coldcheck.solve.solution import Solution, State

HEAD = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V\n    winding warm {winding}\n"


def line(winding: str, *lines: str) -> str:
    return HEAD.format(winding=winding) + "\n".join((*lines, "T1.warm.1 -- gnd")) + "\n"


def heated(*types: str) -> list[str]:
    return [f"tube V{i} {kind} heater T1.warm" for i, kind in enumerate(types, 1)]


def of(review, rule):
    return [f for f in review.findings if f.rule == rule]


def reasons(review, rule):
    return {n.at: n.reason for n in review.not_judged if n.rule == rule}


# --- heater.winding-overload ---------------------------------------------------------------------


def test_three_tubes_on_one_ampere(sample, only) -> None:
    found = only(sample("heater.winding-overload", "wrong"), "heater.winding-overload")
    assert (found.level, found.at, found.state) == ("notice", ("T1.warm",), "drawing")
    assert found.span.line == 7
    # 12AX7 in parallel 0.3 A, two 6V6GT at 0.45 A (data sheets): 1.2 A.
    assert found.evidence == {"heater": Figure(pytest.approx(1.2), "A")}
    assert found.limit == figure(1, "A")
    assert found.excess == pytest.approx(1.2)
    assert "1.33 A" in found.remedy  # 1.2 / 0.9
    assert "move V1" in found.remedy


def test_published_sum_of_a_stereo_set(review) -> None:
    # Found: a published heater calculation: three ECC83 and two EL34 take 3.9 A.
    tubes = heated("ECC83", "ECC83", "ECC83", "EL34", "EL34")
    assert of(review(line("6.3 V 4.4 A", *tubes)), "heater.winding-overload") == []
    (found,) = of(review(line("6.3 V 3.8 A", *tubes)), "heater.winding-overload")
    assert found.evidence["heater"].value == pytest.approx(3.9)
    (close,) = of(review(line("6.3 V 4 A", *tubes)), "heater.winding-overload")
    assert close.level == "advice"


def test_one_tube_on_its_own_winding_may_use_it_fully(review) -> None:
    assert of(review(line("6.3 V 0.3 A", *heated("6J5"))), "heater.winding-overload") == []


def test_a_winding_without_a_rating_is_not_judged(review) -> None:
    said = reasons(review(line("6.3 V", *heated("6J5", "6J5"))), "heater.winding-overload")
    assert "its heaters take 600 mA" in said[("T1.warm",)]


def test_a_string_counts_once_and_a_half_by_itself(review, only) -> None:
    string = line(
        "12.6 V 0.2 A", "tube V1 6J5", "tube V2 6J5",
        "T1.warm.1 --[V1 heater]-- H --[V2 heater]-- T1.warm.2",
    )  # fmt: skip
    found = only(review(string), "heater.winding-overload")
    assert found.evidence["heater"].value == pytest.approx(0.3)  # not 0.6: one current for both
    halves = line(
        "12.6 V ct 0.4 A", "tube V1 6J5", "tube V2 6J5",
        "T1.warm.1 --[V1 heater]-- T1.warm.ct", "T1.warm.2 --[V2 heater]-- T1.warm.ct",
    )  # fmt: skip
    assert of(review(halves), "heater.winding-overload") == []


RECTIFIED = """\
mains 120 V 60 Hz
transformer T1
    primary pri 120 V
    winding dc 7 V {amps}
tube V1 6J5
T1.dc.1 --[D1 1N5401]-> P
P --+[C1 1000 uF 25 V]-- gnd
P --[V1 heater]-- gnd
T1.dc.2 -- gnd
"""


def test_a_rectified_heater_loads_its_winding_by_more_than_its_own_current(review, only) -> None:
    found = only(review(RECTIFIED.format(amps="0.3 A")), "heater.winding-overload")
    # The heater takes about 0.3 A DC; a half-wave rectifier with a capacitor draws it in short
    # gulps, whose rms is more than the 1.57 times of an unfiltered half sine.
    assert found.evidence["heater"].value > 1.57 * 0.27
    assert of(review(RECTIFIED.format(amps="2 A")), "heater.winding-overload") == []


def test_a_rectified_heater_on_a_winding_without_a_rating_is_said(review) -> None:
    said = reasons(review(RECTIFIED.format(amps="")), "heater.winding-overload")
    assert "through rectifiers" in said[("T1.dc",)]


@pytest.mark.parametrize(("rating", "count"), [("1.5 A", 1), ("2 A", 0)])
def test_a_heater_on_a_rectifiers_filament_has_a_rule_of_its_own(review, rating, count) -> None:
    """5AR4 1.9 A, 6J5 0.3 A (sheets): above 1.5 A without it, above 2 A with it."""
    text = (
        f"mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V\n winding ht 200 V ct 200 V\n"
        f" winding fil 5 V {rating}\ntube V1 5AR4 heater T1.fil\ntube V2 6J5 heater T1.fil\n"
        "T1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\nT1.ht.ct -- gnd\nV1.cathode -- B1\n"
        "B1 --+[C1 10 uF 450 V]-- gnd\nB1 --[R1 22k 10 W]-- gnd\n"
    )
    assert len(of(review(text), "heater.winding-overload")) == count


# --- heater.wrong-voltage ------------------------------------------------------------------------


def test_series_heater_on_half_its_voltage(sample, only) -> None:
    found = only(sample("heater.wrong-voltage", "wrong"), "heater.wrong-voltage")
    assert (found.level, found.at, found.state) == ("notice", ("V1",), "warm")
    assert found.span.line == 10
    assert found.evidence["rated"].value == 12.6
    # 6.3 V at the rated 0.5 A, up to 8 % more when the winding is less than half loaded.
    assert 6.3 <= found.evidence["heater_rms"].value <= 6.3 * 1.08
    assert found.remedy == "Wire its heater in parallel: 6.3 V at 300 mA"


def test_tubes_that_are_off_alike_are_one_finding(review, only) -> None:
    found = only(review(line("8 V 1 A", *heated("6J5", "6J5"))), "heater.wrong-voltage")
    assert set(found.at) == {"V1", "V2", "T1.warm"}  # the winding is for another voltage
    assert "+" in found.message


FILAMENT = """A --+[E1 {volts} V]-- gnd
B --+[E2 67.5 V]-- gnd
tube V1 DAF91
gnd --[V1 heater]-- F --[R1 {ohms} 0.5 W]-- A
{beside}V1.grid --[R2 10M]-- gnd
B --[R3 1M]-- V1.plate
B --[R4 3M3]-- V1.screen
"""


def test_the_resistor_of_a_filament_is_named_with_its_value(review, only) -> None:
    # 1.4 V at 50 mA (published): (3 - 1.4) / 0.05 = 32 ohm.
    found = only(review(FILAMENT.format(volts=3, ohms="3R3", beside="")), "heater.wrong-voltage")
    assert found.at == ("R1", "V1")
    said = "R1 is 3.3 ohm and should be 32 ohm, which looks like a decade lost"
    assert found.message.endswith(said)
    assert found.remedy == "Make R1 32 ohm, which turns 80 mW into heat"
    assert of(review(FILAMENT.format(volts=3, ohms="33", beside="")), "heater.wrong-voltage") == []


def test_a_resistor_with_something_beside_the_filament_is_given_no_value(review) -> None:
    text = FILAMENT.format(volts=3, ohms="3R3", beside="F --[R9 100 ohm]-- gnd\n")
    (found,) = of(review(text), "heater.wrong-voltage")
    assert "should be" not in found.message


def test_within_ten_percent_is_quiet(review) -> None:
    # 5.67 V to 6.93 V.
    for volts in ("5.9 V 0.3 A", "6.3 V 0.3 A", "6.8 V 0.3 A"):
        assert of(review(line(volts, *heated("6J5"))), "heater.wrong-voltage") == []


def test_a_tube_of_another_voltage(review, only) -> None:
    found = only(review(line("6.3 V 2 A", *heated("300B"))), "heater.wrong-voltage")
    # 5 V 1.2 A (memory): drop the rest, near 1.3 V, in about an ohm.
    assert found.evidence["rated"].value == 5.0
    assert "Feed it 5 V" in found.remedy


@pytest.mark.parametrize(("volts", "certainty"), [(7.5, "likely"), (7.62, "certain")])
def test_twice_the_band_is_certain(review, only, volts: float, certainty: str) -> None:
    """19 % and 21 % above 6.3 V."""
    text = f"tube V1 6J5\nX --+[E1 {volts} V]-- gnd\nX --[V1 heater]-- gnd\n"
    assert only(review(text), "heater.wrong-voltage").certainty == certainty


def test_without_a_solution_the_windings_voltage_counts(review) -> None:
    circuit = review(line("8 V 1 A", *heated("6J5"))).circuit
    failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", circuit)
    (found,) = wrong_voltage.judge(Case(circuit, {"warm": failed}))
    assert found.evidence["heater_rms"] == figure(8, "V")


def test_series_dropper_by_the_published_figures(review) -> None:
    # Found: 6.3 + 6.3 + 25 + 25 V at 0.3 A from 117 V need 181 ohm. Here two 50 V
    # heaters at 0.15 A: (117 - 100) / 0.15 = 113 ohm.
    text = (
        "mains 117 V 60 Hz\ntube V1 50C5\ntube V2 50C5\nneutral -- gnd\n"
        "line --[F1 fuse 0.5 A]--[R1 {} 20 W]-- A --[V1 heater]-- H --[V2 heater]-- gnd\n"
    )
    assert of(review(text.format("113 ohm")), "heater.wrong-voltage") == []
    (low,) = of(review(text.format("300 ohm")), "heater.wrong-voltage")
    # 117 V over 300 + 667 ohm: 40.3 V each (50 V 0.15 A is 333 ohm hot).
    assert low.evidence["heater_rms"].value == pytest.approx(117 * 333.3 / 966.7, rel=0.01)
    assert low.at[0] == "R1"  # the dropper, before what it feeds; no fuse
    assert set(low.at) == {"V1", "V2", "R1"}
    assert low.message.endswith(": R1 is 300 ohm and should be 113 ohm")


# --- heater.unequal-string -----------------------------------------------------------------------


def test_unequal_string(sample, only) -> None:
    looked = sample("heater.unequal-string", "wrong")
    found = only(looked, "heater.unequal-string")
    assert (found.level, found.at, found.span.line) == ("notice", ("V1", "V2"), 10)
    assert found.evidence["low"].value == pytest.approx(0.15)
    assert found.evidence["high"].value == pytest.approx(0.3)
    # R = V / (difference of currents) = 12.6 / 0.15 = 84 ohm, 12.6 * 0.15 = 1.89 W.
    assert found.evidence["shunt"].value == pytest.approx(84)
    assert "84 ohm (it takes 1.89 W) in a string that is fed for 300 mA" in found.remedy
    assert of(looked, "heater.wrong-voltage") == []


def test_the_odd_tube_goes_first_and_no_shunt_is_asked_for_across_the_others(sample) -> None:
    (found,) = of(sample("heater.unequal-string/odd-tube", "wrong"), "heater.unequal-string")
    assert found.at == ("V3", "V1", "V2")
    assert found.message == "V3 25L6GT wants 300 mA, and V1 and V2 in series with it 150 mA"
    assert found.remedy.startswith("Fit a type whose heater takes 150 mA in place of V3 25L6GT; ")
    assert "shunt" not in found.evidence


def test_an_odd_tube_that_wants_less_gets_the_shunt(review) -> None:
    """12.6 V and 150 mA among 300 mA: 12.6 / 0.15 = 84 ohm beside it."""
    text = line(
        "25.2 V 1 A", "tube V1 12SK7", "tube V2 6J5", "tube V3 6J5",
        "T1.warm.1 --[V1 heater]-- H --[V2 heater]-- K --[V3 heater]-- T1.warm.2",
    )  # fmt: skip
    (found,) = of(review(text), "heater.unequal-string")
    assert found.at == ("V1", "V2", "V3")
    assert found.remedy.startswith("Shunt V1 with 84 ohm (it takes 1.89 W), or fit a type ")


def test_the_shunt_gives_both_their_voltage(sample) -> None:
    warm = sample("heater.unequal-string", "right").solutions["warm"]
    # 84 ohm with 82 ohm across it is 41.5 ohm, in series with 42 ohm.
    share = warm.between("T1.str.1", "H1").rms / warm.between("T1.str.1", "T1.str.2").rms
    assert share == pytest.approx(41.49 / (41.49 + 42), rel=1e-3)


def test_equal_currents_may_differ_in_voltage(review) -> None:
    # The usual table set: 50 V and 12.6 V heaters, all 0.15 A.
    text = line(
        "62.6 V 0.2 A", "tube V1 50C5", "tube V2 12BA6",
        "T1.warm.1 --[V1 heater]-- H --[V2 heater]-- T1.warm.2",
    )  # fmt: skip
    assert of(review(text), "heater.unequal-string") == []


@pytest.mark.parametrize(("milliamperes", "strings"), [(314.3, 0), (315.8, 1)])
def test_five_percent_are_let_pass(milliamperes: float, strings: int) -> None:
    text = line(
        "12.6 V 1 A", "tube V1 6J5", "tube V2 6J5",
        "T1.warm.1 --[V1 heater]-- H --[V2 heater]-- T1.warm.2",
    )  # fmt: skip
    circuit = build_circuit(parse_drawing(text, "t.tube"))
    tube = circuit.tubes["V2"]  # 0.3 A on its sheet
    heater = replace(tube.heater, amps=quantity(milliamperes / 1e3, "ampere"))
    other = replace(circuit, tubes={**circuit.tubes, "V2": replace(tube, heater=heater)})
    assert len(unequal(other, heater_lines(other)[0])) == strings


# --- droppers ------------------------------------------------------------------------------------


def test_capacitor_dropper_by_squares(sample, only) -> None:
    found = only(sample("heater.wrong-voltage/capacitor-dropper", "wrong"), "heater.wrong-voltage")
    # 4.5 uF at 50 Hz is 707 ohm; the string 122.8 V at 0.15 A is 818.7 ohm hot; at right angles.
    amps = 230 / (707.4**2 + 818.7**2) ** 0.5
    assert found.evidence["heater_rms"].value == pytest.approx(35 * amps / 0.15, rel=0.01)
    # root(230^2 - 122.8^2) = 194.5 V at 0.15 A is 1297 ohm, 2.46 uF.
    assert found.remedy.startswith("Make C1 2.46 uF")


def test_diode_dropper_by_rms(sample, only) -> None:
    found = only(sample("heater.wrong-voltage/diode-dropper", "wrong"), "heater.wrong-voltage")
    # 230 / root 2 = 162.6 V; (162.6 - 37.8) / 0.15 = 832 ohm, 18.7 W.
    assert found.remedy.startswith("Make R1 832 ohm (18.7 W)")
    # 162.6 V over 430 + 252 ohm is 238 mA.
    assert found.evidence["heater_rms"].value == pytest.approx(12.6 * 0.2384 / 0.15, rel=0.01)


def test_plain_dropper_by_subtraction(review) -> None:
    text = (
        "mains 117 V 60 Hz\ntube V1 50C5\ntube V2 50C5\nneutral -- gnd\n"
        "line --[F1 fuse 0.5 A]--[R1 300 ohm 20 W]-- A --[V1 heater]-- H --[V2 heater]-- gnd\n"
    )
    (found,) = of(review(text), "heater.wrong-voltage")
    assert found.remedy == "Make R1 113 ohm (2.55 W): 17 V to drop at 150 mA"  # (117 - 100) / 0.15


def test_published_capacitor_and_diode_values() -> None:
    # Rule found, numbers derived: 240 V 50 Hz, a string of 117 V at 0.1 A.
    text = "mains 240 V 50 Hz\ntube V1 50C5\nneutral -- gnd\nline --{}-- S --{}[V1 heater]-- gnd\n"
    for parts, told in (
        (("[C1 1.5 uF]", ""), f"Make C1 {1e6 * 0.15 / (314.159 * (240**2 - 50**2) ** 0.5):.3g} uF"),
        (("[D1 1N4007]", "[R1 1k]--"), f"Make R1 {(240 / 2**0.5 - 50) / 0.15:.0f} ohm"),
    ):
        written = text.format(*parts).replace("[D1 1N4007]--", "[D1 1N4007]->")
        circuit = build_circuit(parse_drawing(written, "t.tube"))
        assert str(dropper_remedy(circuit, heater_lines(circuit)[0])).startswith(told)
    assert Dropper(240, 50, 117, 0.1, ()).part(PartKind.CAPACITOR) is None


# --- tolerance -----------------------------------------------------------------------------------


def test_special_quality_stands_five_percent(sample, only) -> None:
    found = only(sample("heater.wrong-voltage/special-quality", "wrong"), "heater.wrong-voltage")
    assert found.limit.value == 5  # Philips E88CC (memory)
    assert 6.615 < found.evidence["heater_rms"].value < 6.93  # 5 % and 10 % of 6.3 V
    assert "band 5 %" in found.source


def test_five_volt_tube_on_the_general_winding(sample, only) -> None:
    found = only(sample("heater.wrong-voltage/five-volt-tube", "wrong"), "heater.wrong-voltage")
    assert found.evidence["rated"].value == 5
    assert found.evidence["heater_rms"].value == pytest.approx(6.3, rel=0.03)


BASES = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 10 ohm
    winding warm {volts} V 3 A 0.05 ohm
T1.pri.1 -- line
T1.pri.2 -- neutral
T1.warm.2 -- gnd
tube V1 6J5
{wires}
V1.cathode -- gnd
V1.grid -- gnd
"""


def test_a_heater_with_both_ends_on_one_point(review, only):
    text = BASES.format(volts="6.3", wires="T1.warm.1 -- V1.h1\nT1.warm.1 -- V1.h2")
    found = only(review(text), "heater.wrong-voltage")
    assert found.remedy.startswith("V1.h1 and V1.h2 are joined")


@pytest.mark.parametrize(
    ("volts", "says"), [("12.6", "from a winding of its own"), ("7.7", "in series")]
)
def test_no_resistor_is_proposed_for_twice_the_voltage(volts, says, review, only):
    text = BASES.format(volts=volts, wires="T1.warm.1 -- V1.h1\nT1.warm.2 -- V1.h2")
    assert says in only(review(text), "heater.wrong-voltage").remedy


REGULATED = """\
tube V1 12AX7
regulator U1 LM317
RAW --+[E1 {raw} V 2 A]-- gnd
RAW -- U1.in
U1.out -- HOT --[R3 220 ohm]-- ADJ
U1.adj -- ADJ --[R4 {lower}]-- gnd
HOT -- V1:9
V1:4 -- V1:5 -- gnd
"""


def test_what_sets_a_regulator_is_named_with_the_value_that_fits(review) -> None:
    """LM317 sheet: 1.25 V (1 + R4 / R3) and 50 uA in R4: 8.1 V with 1.2 kohm, 6.3 with 881."""
    (found,) = of(review(REGULATED.format(raw=14, lower="1k2")), "heater.wrong-voltage")
    assert found.at == ("R4", "R3", "U1", "V1")
    assert found.message.startswith("R4 and R3 set U1 too high: V1 12AX7: 8.08 V")
    said = re.search(r"for 1.78 V less use about (\d+) ohm for R4$", found.remedy)
    assert float(said[1]) == pytest.approx(881, rel=0.01)


def test_a_regulator_set_too_low_names_them_too(review) -> None:
    """1.25 V (1 + 560 / 220) = 4.43 V."""
    (found,) = of(review(REGULATED.format(raw=14, lower="560")), "heater.wrong-voltage")
    assert found.at == ("R4", "R3", "U1", "V1")
    assert found.message.startswith("R4 and R3 set U1 too low: ")
    assert "more use about 88" in found.remedy


def test_a_regulator_set_beyond_its_input_is_set_too_high(review) -> None:
    """4.7 kohm is for 28 V: from 12 V there is what there is, and the fall across U1 follows."""
    looked = review(REGULATED.format(raw=12, lower="4k7"))
    (found,) = of(looked, "heater.wrong-voltage")
    assert found.at == ("R4", "R3", "U1", "V1")
    assert "transistor.regulator-dropout at U1" in found.evidence["explains"]
    assert of(looked, "transistor.regulator-dropout") == []
    # 5.05 V at 1.25 V in 220 ohm: 889 ohm.
    assert found.remedy.endswith("use about 889 ohm for R4")


def test_a_heater_with_too_little_follows_from_a_regulator_out_of_volts(review) -> None:
    """From 6.5 V the heater gets less than it is set to, 6.4 V, whatever R4 says."""
    looked = review(REGULATED.format(raw=6.5, lower="910"))
    (found,) = of(looked, "transistor.regulator-dropout")
    assert "heater.wrong-voltage at V1" in found.evidence["explains"]
