"""The charge left after switch-off, as the rule tells it; the physics is tested with the solver."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.supply.charge import no_bleeder
from coldcheck.solve.solution import Solution, State

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def supply(rest: str) -> str:
    return (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 8 ohm\n"
        "winding ht 230 V 60 mA 200 ohm\nT1.ht.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> RES\n" + rest
    )


def test_without_any_drain_the_finding_is_a_danger(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(supply("RES --+[C1 47 uF 450 V]-- gnd\n")), "supply.no-bleeder")
    assert (found.level, found.state, found.at) == ("danger", "off", ("C1",))
    volts = found.evidence["voltage"].value
    # Crest of 230 V at the high line, up to 6 % more without load (regulation written above).
    assert 230 * math.sqrt(2) * 1.1 * 0.98 < volts < 230 * math.sqrt(2) * 1.1 * 1.08
    assert found.evidence["energy"].value == pytest.approx(0.5 * 47e-6 * volts**2, rel=1e-6)
    assert found.evidence["time"] == "never"
    # R = 30 s / (C ln(V / 60)), the next E12 value below; and its watts.
    exact = 30 / (47e-6 * math.log(volts / 60))
    assert 330e3 == found.evidence["bleeder"].value < exact < 390e3
    assert found.evidence["bleeder_power"].value == pytest.approx(volts**2 / 330e3, rel=1e-6)


def test_a_slow_bleeder_is_timed(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = supply("RES --+[C1 100 uF 450 V]-- gnd\nRES --[R1 1M 1 W]-- gnd\n")
    found = only(review(text), "supply.no-bleeder")
    assert found.at == ("C1", "R1")
    assert found.remedy.startswith("Make R1 ")
    by_hand = 100.0 * math.log(found.evidence["voltage"].value / 60)
    assert found.evidence["time"].value == pytest.approx(by_hand, rel=1e-3)
    assert found.excess == pytest.approx(by_hand / 60, rel=1e-3)


@pytest.mark.parametrize(
    "rest",
    [
        "RES --+[C1 47 uF 450 V]-- gnd\nRES --[R1 220k 2 W]-- gnd\n",
        # 45 uC limit of IEC 60335-1 cl. 8.1.4 (found): 0.1 uF at some 370 V holds 37 uC.
        "RES --+[C1 100 nF 630 V]-- gnd\n",
        # The series diode drains the first capacitor into the second's bleeder.
        "RES --+[C1 47 uF 450 V]-- gnd\nRES --[D2 1N4007]-> B1\n"
        "B1 --+[C2 47 uF 450 V]-- gnd\nB1 --[R1 100k 3 W]-- gnd\n",
    ],
)
def test_drained_or_small_charges_are_left_alone(
    rest: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(supply(rest)), "supply.no-bleeder", count=0)


@pytest.mark.parametrize(
    ("back", "found"), [("gnd --[D3 1N4148]-> X\n", 0), ("", 1), ("X --[D3 1N4148]-> gnd\n", 1)]
)
def test_what_a_meter_rectifies_drains_what_brings_it(
    back: str, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Its charge leaves by D3 and the supply's bleeder; D2 is the wrong way round for it."""
    rest = (
        "RES --+[C1 10 uF 450 V]-- gnd\nRES --[R1 220k 2 W]-- gnd\nRES --[R2 47k 1 W]-- P\n"
        "P --[C3 1 uF 630 V film]-- X --[D2 1N4148]-> M --[M1 meter 100 uA 1k]-- gnd\n"
    )
    only(review(supply(rest + back)), "supply.no-bleeder", count=found)


def test_capacitors_joined_by_a_choke_are_one_finding(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    rest = (
        "RES --+[C1 20 uF 450 V]-- gnd\nRES --[L1 8 H 250 ohm]-- B1\nB1 --+[C2 40 uF 450 V]-- gnd\n"
    )
    found = only(review(supply(rest)), "supply.no-bleeder")
    assert found.at == ("C2", "C1")


def test_a_bench_source_that_may_drain_it_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review("B1 --+[E1 300 V]-- gnd\nB1 --[R1 1k 1 W]-- B2\nB2 --+[C1 47 uF 450 V]-- gnd\n")
    assert "supply.no-bleeder" not in {f.rule for f in looked.findings}
    (said,) = [n for n in looked.not_judged if n.rule == "supply.no-bleeder"]
    assert (said.at, "E1" in said.reason) == (("C1",), True)


FLOATING = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 8 ohm
    winding ht 250 V ct 250 V 100 mA 200 ohm
    winding fil 5 V 2 A
    winding warm 6.3 V 2 A
tube V1 5Y3GT heater T1.fil
tube V2 6V6GT heater T1.warm
T1.warm.1 -- gnd
T1.ht.1 -- V1.plate1
T1.ht.2 -- V1.plate2
T1.ht.ct -- gnd
V1:8 -- B1
B1 --+[C1 20 uF 450 V]-- gnd
B1 --[R2 5k 10 W]-- V2.plate
B1 -- V2.screen
V2.cathode --[R1 330 ohm 2 W]-- gnd
IN --[C2 22 nF 400 V]-- V2.grid
IN --[R3 470k]-- gnd
"""


def test_a_floating_grid_does_not_hide_a_missing_bleeder(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(FLOATING)
    assert {"grid.no-return", "supply.no-bleeder"} <= {f.rule for f in looked.findings}
    found = only(looked, "supply.no-bleeder")
    assert (found.level, found.at[0], found.evidence["time"]) == ("danger", "C1", "never")
    # 250 V is 354 V peak, 389 V with the mains 10 % high; the winding unloaded a little more.
    assert 375 < found.evidence["voltage"].value < 420
    assert found.evidence["charged_in"] == "pulled V2, high line"  # the heater winding unloaded


def test_nor_behind_a_rectifier_that_is_cold_when_the_tubes_are(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = FLOATING.replace("V1 5Y3GT heater T1.fil", "V1 6X4 heater T1.warm")
    text = text.replace("V1:8 -- B1", "V1.cathode -- B1").replace("    winding fil 5 V 2 A\n", "")
    found = only(review(text), "supply.no-bleeder")
    assert 375 < found.evidence["voltage"].value < 420


# V2A's cathode follows V1A's plate, and V1A's grid floats: no state has both tubes and a number.
HIDDEN = """B1 --+[E1 300 V]-- gnd
tube V1 12AU7
B1 --[R1 100k 1 W]-- V1A.plate
V1A.cathode --[R2 1k]-- gnd
IN --[C2 22 nF 400 V]-- V1A.grid
IN --[R3 470k]-- gnd
V1A.plate -- V1B.grid
B1 -- V1B.plate
V1B.cathode --[R4 47k 2 W]-- gnd
"""


def said(looked: Review) -> list[tuple[tuple[str, ...], str]]:
    assert "supply.no-bleeder" not in {f.rule for f in looked.findings}
    return [(n.at, n.reason) for n in looked.not_judged if n.rule == "supply.no-bleeder"]


def test_an_unwritten_capacitance_is_said(review: Callable[[str], Review]) -> None:
    text = "B1 --+[E1 300 V]-- gnd\nB1 --[R1 1k 1 W]-- X --+[C1 ? 450 V]-- gnd\n"
    ((at, reason),) = said(review(text))
    assert at == ("C1",)
    assert "not written" in reason


@pytest.mark.parametrize(
    ("more", "unsettled"),
    [
        # 100 uF and 47k: 4.7 s x ln(400 / 60) = 8.9 s even from its full rating.
        ("V1B.cathode --+[C1 100 uF 400 V]-- gnd\n", False),
        # 1M more in the way: 105 s x ln(400 / 60) = 199 s.
        ("V1B.cathode --[R5 1M]-- X --+[C1 100 uF 400 V]-- gnd\n", True),
        # 0.1 uF at 400 V is 40 uC, below the 45 uC of IEC 60335-1.
        ("V1B.cathode --[R5 1000M]-- X --[C1 100 nF 400 V]-- gnd\n", False),
        ("V1B.cathode --[R5 1M]-- X --+[C1 100 uF 50 V]-- gnd\n", False),
    ],
)
def test_a_charge_that_no_state_tells_is_taken_at_the_rating(
    more: str, unsettled: bool, review: Callable[[str], Review]
) -> None:
    found = said(review(HIDDEN + more))
    assert [at for at, _ in found] == ([("C1",)] if unsettled else [])
    assert all("floating grid" in r and "199 s" in r for _, r in found)


def test_one_missing_bleeder_is_one_finding_whatever_the_switch_does(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # R1 is right for C2 alone (100 uF x 100k x ln(380 / 60) = 18 s) and slow for C1 as well; with
    # C1's own bleeder fitted nothing is left to say.
    rest = (
        "RES --+[C1 330 uF 450 V]-- gnd\nRES --[S1 switch standby]-- B1\n"
        "B1 --+[C2 100 uF 450 V]-- gnd\nB1 --[R1 100k 3 W]-- gnd\n"
    )
    found = only(review(supply(rest)), "supply.no-bleeder")
    assert found.at[0] == "C1"


def test_two_missing_bleeders_are_two_findings(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    rest = (
        "RES --+[C1 47 uF 450 V]-- gnd\nT1.ht.1 --[D3 1N4007]-> B1\nB1 --+[C2 100 uF 450 V]-- gnd\n"
    )
    found = only(review(supply(rest)), "supply.no-bleeder", count=2)
    assert {f.at for f in found} == {("C1",), ("C2",)}


@pytest.mark.parametrize(
    ("joules", "level"),
    [(0.048, "advice"), (0.052, "caution"), (0.335, "caution"), (0.365, "danger")],
)
def test_the_energy_makes_the_level(
    joules: float, level: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Felt up to 50 mJ, startling up to 350 mJ."""
    unloaded = review(supply("RES --+[C1 1 uF 450 V]-- gnd\n"))
    volts = only(unloaded, "supply.no-bleeder").evidence["voltage"].value
    text = supply(f"RES --+[C1 {2e6 * joules / volts**2:.5g} uF 450 V]-- gnd\n")
    found = only(review(text), "supply.no-bleeder")
    assert found.evidence["energy"].value == pytest.approx(joules, rel=1e-3)
    assert found.level == level


def test_without_voltages_every_capacitor_is_named(review: Callable[[str], Review]) -> None:
    circuit = review(supply("RES --+[C1 47 uF 450 V]-- gnd\n")).circuit
    failed = Solution(State("warm", "warm"), False, 1.0, 80, "no luck", circuit)
    (told,) = no_bleeder.judge(Case(circuit, {"warm": failed}))
    assert told.at == ("C1",)


@pytest.mark.parametrize(("resistor", "unsettled"), [("233k", False), ("240k", True)])
def test_where_no_rating_is_written_500_volts_are_taken(
    resistor: str, unsettled: bool, review: Callable[[str], Review]
) -> None:
    """With 47k more and 100 uF: 28 s x ln(500 / 60) = 59.4 s, and 28.7 s x 2.12 = 60.9 s."""
    more = f"V1B.cathode --[R5 {resistor}]-- X --+[C1 100 uF]-- gnd\n"
    assert bool(said(review(HIDDEN + more))) is unsettled


def test_what_only_a_pulled_tube_tells_is_taken_from_there(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A gas triode with a cold cathode: no state has its current, but without it C1 is charged.

    The crest of 230 V, by the tolerance of the mains more, and up to 6 % more without load.
    """
    rest = "tube V1 0A4G\nRES --[R1 10k 5 W]-- V1.plate --+[C1 47 uF 450 V]-- gnd\n"
    looked = review(supply(rest + "V1.cathode -- gnd\n"))
    assert looked.solutions["warm"].wave("RES") is None
    found = only(looked, "supply.no-bleeder")
    assert (found.level, found.at, found.evidence["time"]) == ("danger", ("C1",), "never")
    assert found.evidence["charged_in"] == "pulled V1, high line"
    crest = 230 * math.sqrt(2) * 1.1
    assert 0.98 * crest < found.evidence["voltage"].value < 1.08 * crest


def test_the_contact_between_capacitor_and_bleeder_is_named(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample("supply.no-bleeder/behind-a-relay", "wrong"), "supply.no-bleeder")
    assert found.at == ("R2", "R1", "K1", "K1.common-no", "C1")
    assert found.message.endswith(
        "nothing drains it: R2 and R1 would drain it, but K1.common-no between them opens at "
        "switch-off"
    )
    assert found.remedy.startswith("Put R2 right across C1, ahead of K1.common-no. Or: Put 330 ")


def test_a_switch_between_them_is_named(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample("supply.no-bleeder", "wrong"), "supply.no-bleeder")
    assert found.at == ("R2", "R1", "S1", "C1")  # the bleeder before the load
    assert "R2 and R1 would drain it, but S1 between them is open" in found.message


PAIR = "RES --+[C1 220 uF 450 V]-- HALF\nHALF --+[C2 220 uF 450 V]-- gnd\n"


def test_no_bleeder_is_asked_for_across_one_of_two_in_series(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """One alone would put the voltage on the other; both are asked for, and told once."""
    text = supply(PAIR + "RES --[R1 1M 1 W]-- HALF\nHALF --[R2 1M 1 W]-- gnd\n")
    found = only(review(text), "supply.no-bleeder")
    assert found.at == ("C1", "C2", "R1")
    assert "across C1 and the same across C2 in place of R1 and R2" in found.remedy


def test_the_like_of_the_resistor_across_the_other_is_asked_for_where_it_drains(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """100 kohm and 220 uF: 22 s ln(V / 60), V all of the supply at the start."""
    found = only(review(supply(PAIR + "RES --[R1 100k 3 W]-- HALF\n")), "supply.no-bleeder")
    seconds = 22 * math.log(found.evidence["voltage"].value / 60)
    assert found.at == ("C2", "R1")
    assert found.remedy == (
        "Put 100 kohm across C2 as R1 is across C1: they share the voltage then, and it falls to "
        f"60 V in {seconds:.0f} s"
    )
