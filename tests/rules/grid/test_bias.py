"""Fixed bias: its network by Ohm's law, a lifted wiper, the ends of a trimmer, its time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.bias_network import BiasNetwork, Edge, Track, bias_network
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
HEAD = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
gnd --+[E2 50 V]-- NEG
BIAS --[R2 47k]-- V1.grid
V1.cathode -- gnd
B1 --[R3 2k2 10 W]-- V1.plate
B1 --[R4 1k 1 W]-- V1.screen
"""
WIPER = "pot P1 25k at 50 %\nNEG --[R5 {top}]-- P1.top\nP1.bottom {low}-- gnd\nP1.wiper -- BIAS\n"


def found(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


# --- the network --------------------------------------------------------------------------------


def divider(charges: tuple[tuple[str, str, float], ...] = ()) -> BiasNetwork:
    """-50 V, 30k, a pot of 20k in its middle, 10k to gnd."""
    edges = (Edge("NEG", "T", 30e3, "R1"), Edge("B", "gnd", 10e3, "R2"))
    track = (Track("P1", "T", "G", "B", 20e3, 0.5),)
    return BiasNetwork("G", {"NEG": -50.0, "gnd": 0.0}, edges, track, charges)


def test_the_divider_by_ohms_law() -> None:
    network = divider()
    assert network.volts() == pytest.approx(-50 * 20 / 60, rel=1e-6)
    assert network.volts(turned={"P1": 0.0}) == pytest.approx(-50 * 10 / 60, rel=1e-6)
    assert network.volts(turned={"P1": 1.0}) == pytest.approx(-50 * 30 / 60, rel=1e-6)
    # 5k more at the lower end: (10 + 5) of 65k.
    assert network.volts(turned={"P1": 0.0}, extra=5e3) == pytest.approx(-50 * 15 / 65, rel=1e-6)


def test_a_lifted_wiper_leaves_the_track_in_and_the_grid_alone() -> None:
    assert divider().volts(lifted="P1") == pytest.approx(0.0, abs=1e-6)
    bridged = (*divider().edges, Edge("G", "T", 100e3, "R3"))
    network = BiasNetwork("G", divider().held, bridged, divider().tracks, ())
    assert network.volts(lifted="P1") == pytest.approx(-50 * 30 / 60, rel=1e-6)


def test_one_capacitor_charges_through_the_resistance_it_sees() -> None:
    # At the wiper: 40k and 20k in parallel, 13.33k; with 30 uF 0.4 s. Exact for one capacitor.
    assert divider((("G", "gnd", 30e-6),)).seconds() == pytest.approx(0.4, rel=1e-6)


def test_two_sections_of_filter_add_up() -> None:
    # R C R C from a source: first moment at the end = R1 (C1 + C2) + R2 C2 (Elmore).
    edges = (Edge("NEG", "A", 10e3, "R1"), Edge("A", "G", 20e3, "R2"))
    charges = (("A", "gnd", 10e-6), ("gnd", "G", 5e-6))
    network = BiasNetwork("G", {"NEG": -40.0, "gnd": 0.0}, edges, (), charges)
    assert network.seconds() == pytest.approx(10e3 * 15e-6 + 20e3 * 5e-6, rel=1e-6)


def test_the_network_of_a_drawing(review: Callable[[str], Review]) -> None:
    looked = review(HEAD + WIPER.format(top="82k", low="--[R6 15k]"))
    circuit = build_circuit(parse_drawing(HEAD + WIPER.format(top="82k", low="--[R6 15k]"), "t"))
    network = bias_network(circuit, next(circuit.sections()), looked.solutions["warm"])
    assert isinstance(network, BiasNetwork)
    assert network.volts() == pytest.approx(-50 * 27.5 / 122, rel=1e-4)
    # The solver, with the grid's own current, agrees within a few millivolts.
    assert looked.solutions["warm"].wave("BIAS").dc == pytest.approx(network.volts(), abs=0.02)


def test_an_unknown_value_is_said(review: Callable[[str], Review]) -> None:
    looked = review(HEAD + WIPER.format(top="82k", low="--[R6 ?]"))
    said = {n.at: n.reason for n in looked.not_judged if n.rule == "grid.bias-lost-with-wiper"}
    assert list(said) == [("V1",)]


# --- the wiper ----------------------------------------------------------------------------------


def test_the_wiper_alone(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("grid.bias-lost-with-wiper", "wrong"), "grid.bias-lost-with-wiper")
    assert (one.level, one.at, one.state) == ("advice", ("P1", "V1"), "warm")
    assert one.evidence["wiper_open"].value == 0.0
    assert one.limit.value == pytest.approx(0.95 * one.evidence["bias"].value)
    assert "100 kohm from P1.wiper to P1.top" in one.remedy  # four times 25k


@pytest.mark.parametrize(
    ("wires", "levels"),
    [
        # On the side of gnd a lifted wiper leaves more resistance in, or an open end.
        ("NEG --[R5 100k]-- BIAS\nBIAS -- P1.top\nP1.wiper --[R6 15k]-- gnd\n", []),
        (
            "NEG --[R5 100k]-- BIAS\nBIAS -- P1.top\nP1.wiper -- P1.top\n"
            "P1.bottom --[R6 20k]-- gnd\n",
            [],
        ),
        # On the side of the supply, wiper joined to an end: 12.5k more in 112.5k, 11 % less bias.
        (
            "NEG --[R5 68k]-- P1.top\nP1.wiper -- P1.bottom\nP1.bottom -- BIAS\n"
            "BIAS --[R6 27k]-- gnd\n",
            ["advice"],
        ),
        ("NEG --[R5 68k]-- P1.top\nP1.wiper -- BIAS\nBIAS --[R6 27k]-- gnd\n", ["advice"]),
    ],
)
def test_where_the_trimmer_is(
    wires: str, levels: list[str], review: Callable[[str], Review]
) -> None:
    looked = review(HEAD + "pot P1 25k at 50 %\n" + wires)
    assert [f.level for f in found(looked, "grid.bias-lost-with-wiper")] == levels


@pytest.mark.parametrize(("top", "count"), [("633k", 0), ("570k", 1)])
def test_a_bias_of_less_than_a_volt_is_none(
    top: str, count: int, review: Callable[[str], Review]
) -> None:
    """12.5k of 658k leave 0.95 V of 50 V, of 595k 1.05 V."""
    looked = review(HEAD + WIPER.format(top=top, low=""))
    assert len(found(looked, "grid.bias-lost-with-wiper")) == count


def test_the_remedy_does_what_it_says(review: Callable[[str], Review]) -> None:
    text = HEAD + WIPER.format(top="82k", low="--[R6 15k]")
    assert found(review(text), "grid.bias-lost-with-wiper")
    mended = review(text + "P1.wiper --[R7 100k]-- P1.top\n")
    assert found(mended, "grid.bias-lost-with-wiper") == []


# --- the range ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "level"),
    [
        ("", "notice"),  # down to 0 V
        ("--[R6 1k3]", "notice"),  # 1.3 of 13.8: 9.4 %
        ("--[R6 1k47]", "advice"),  # 1.47 of 13.97: 10.5 %
        ("--[R6 5k6]", "advice"),  # 5.6 of 18.1: 31 %
        ("--[R6 15k]", None),  # 15 of 27.5: 55 %
    ],
)
def test_the_range_of_the_trimmer(
    low: str, level: str | None, review: Callable[[str], Review]
) -> None:
    text = HEAD + WIPER.format(top="68k", low=low) + "P1.wiper --[R7 1M]-- P1.top\n"
    levels = [f.level for f in found(review(text), "grid.bias-set-away")]
    assert levels == ([] if level is None else [level])


SECOND = """tube V2 6V6GT
BIAS --[R8 100k]-- G2 --[R9 {up}]-- NEG
G2 --[R10 47k]-- V2.grid
V2.cathode -- gnd
B1 --[R11 2k2 10 W]-- V2.plate
B1 --[R12 1k 1 W]-- V2.screen
"""


@pytest.mark.parametrize(
    ("wires", "up", "rule"),
    [
        (
            "pot P1 25k at 50 %\nNEG --[R5 68k]-- P1.top\nP1.wiper -- P1.bottom\n"
            "P1.bottom -- BIAS\nBIAS --[R6 27k]-- gnd\n",
            *("1M", "grid.bias-lost-with-wiper"),
        ),
        (WIPER.format(top="68k", low="--[R6 5k6]"), "4M7", "grid.bias-set-away"),
    ],
)
def test_of_two_grids_the_one_that_loses_more_is_told(
    wires: str, up: str, rule: str, review: Callable[[str], Review]
) -> None:
    """V2 is held by a resistor to the supply as well."""
    looked = review(HEAD + wires + SECOND.format(up=up))
    (one,) = found(looked, rule)
    assert one.at == ("P1", "V1", "V2")
    bias = looked.solutions["warm"].wave("BIAS").dc
    assert one.evidence["bias"].value == pytest.approx(bias, rel=0.01)


# --- none at all --------------------------------------------------------------------------------


def test_no_bias_names_a_cathode_resistor(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("grid.no-bias", "wrong"), "grid.no-bias")
    assert (one.level, one.at[0]) == ("notice", "V1")
    assert -1.0 < one.evidence["grid"].value <= 0.5
    # 6V6GT at 250 V and -12.5 V: 45 + 4.5 mA, 253 ohm; E12 gives 270.
    assert one.remedy.startswith("Fit a cathode resistor of about 270 ohm")
    assert "tube.plate-dissipation at V1" in str(one.evidence["explains"])


def test_without_a_published_resistor_it_is_worked_out(review: Callable[[str], Review]) -> None:
    """6L6GC at 250 V: -14 V and 72 mA, 194 ohm."""
    text = HEAD.replace("6V6GT", "6L6GC").replace("2k2 10 W", "100 ohm 9 W") + "BIAS -- gnd\n"
    text = text.replace("gnd --+[E2 50 V]-- NEG\n", "")
    (one,) = found(review(text), "grid.no-bias")
    assert one.remedy.startswith("Fit a cathode resistor of about 180 ohm")


def test_the_measuring_resistor_across_the_bias(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("grid.no-bias/sense-resistor", "wrong"), "grid.no-bias")
    assert (one.evidence["plate_current"].value * 1000) > 90


@pytest.mark.parametrize("cathode", ["--[R9 270 ohm 5 W]-- gnd", "--[R9 47 ohm 5 W]-- gnd"])
def test_too_little_is_another_matter(cathode: str, review: Callable[[str], Review]) -> None:
    text = HEAD.replace("V1.cathode -- gnd", f"V1.cathode {cathode}") + "BIAS -- gnd\n"
    assert found(review(text), "grid.no-bias") == []


def test_a_small_tube_may_have_none(review: Callable[[str], Review]) -> None:
    text = (
        "tube V1 6J5\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 10k 5 W]-- V1.plate\n"
        "V1.grid --[R2 100k]-- gnd\nV1.cathode -- gnd\n"
    )
    assert found(review(text), "grid.no-bias") == []


# --- the time -----------------------------------------------------------------------------------


def test_two_seconds_are_too_slow(sample: Callable[[str, str], Review]) -> None:
    (one,) = found(sample("grid.bias-too-slow", "wrong"), "grid.bias-too-slow")
    # 82k and 27k in parallel, 20.3k, with 100 uF.
    assert one.evidence["time_constant"].value == pytest.approx(20.31e3 * 100e-6, rel=0.01)
    assert one.level == "advice"


def test_behind_a_bench_supply_nothing_is_quick(review: Callable[[str], Review]) -> None:
    text = HEAD + "NEG --[R5 82k]-- BIAS\nBIAS --[R6 27k]-- gnd\ngnd --+[C1 100 uF 50 V]-- BIAS\n"
    assert found(review(text), "grid.bias-too-slow") == []


# --- grid.bias-too-small --------------------------------------------------------------------------


def test_a_tenth_of_the_cathode_resistor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """6V6GT, 250 V and -12.5 V: in proportion to the screen's volts."""
    looked = sample("grid.bias-too-small", "wrong")
    one = only(looked, "grid.bias-too-small")
    assert (one.level, one.at, one.state) == ("notice", ("R4", "V1"), "warm")
    warm = looked.solutions["warm"].readings["V1"]
    # Of the two points on file 180 V / -8.5 V asks for a little less: 8.5 / 180 of the screen.
    assert one.evidence["published"].value == pytest.approx(8.5 / 180 * warm.screen_v, rel=1e-4)
    assert one.evidence["bias"].value == pytest.approx(-warm.grid_v, rel=1e-4)
    assert one.remedy.startswith("Make R4 as large as the sheet has it, about ")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("V1.cathode --[R4 33 ohm 2 W]-- gnd", "V1.cathode --[R4 330 ohm 2 W]-- gnd"),
        ("B1 -- T2.p1\nT2.p2 -- V1.plate", "B1 -- V1.plate"),  # its plate is a supply point
        ("V1.cathode --[R4 33 ohm 2 W]-- gnd", "V1.cathode --[R4 19 ohm 2 W]-- gnd"),  # measures
    ],
)
def test_what_is_no_small_bias(old: str, new: str, review: Callable[[str], Review]) -> None:
    text = (PAIRS / "grid.bias-too-small" / "wrong.tube").read_text("utf-8")
    assert text.count(old) == 1
    assert found(review(text.replace(old, new)), "grid.bias-too-small") == []


# --- stages that make their own bias ------------------------------------------------------------

FINAL = """B1 --+[E1 500 V]-- gnd
tube V1 6AQ5
tube V2 807
B1 --[R1 5k 20 W]-- V1.plate --[C1 100p 1000 V]-- V2.grid
V1.screen -- B2 --+[E2 200 V]-- gnd
V1.cathode -- gnd
V1.grid --[R2 47k]-- gnd
V1.grid --[C2 100p]-- IN
signal IN 5 V 7 MHz
V2.grid --[RFC1 2.5 mH 40 ohm]-- GL --[R3 22k 2 W]-- gnd
V2.cathode -- gnd
V2.screen --[R4 50k 5 W]-- B1
B1 --[RFC2 2.5 mH 40 ohm 50 mA]-- V2.plate --[C3 1n 2000 V]-- TANK --[L1 5 uH]-- gnd
"""


def test_a_driven_final_is_not_told_to_have_no_bias(review: Callable[[str], Review]) -> None:
    """What it draws without its drive is advice, and what its coils carry is left open."""
    looked = review(FINAL)
    assert [f.at[0] for f in found(looked, "grid.no-bias")] == ["V1"]
    own = [f for f in found(looked, "tube.plate-dissipation") if f.at == ("V2",)]
    assert [f.level for f in own] == ["advice"]
    assert "its figures are those without drive" in own[0].message
    assert own[0].remedy.startswith("Give it a bias besides its leak")
    said = {n.rule: n.reason for n in looked.not_judged if n.at in (("V2",), ("RFC2",))}
    assert said["grid.no-bias"] == (
        "it makes its bias of the drive of V1: its figures are those without drive"
    )
    assert said["supply.coil-overload"] == "it carries what V2 draws when V1 drives it: not known"


def test_without_a_drive_it_is(review: Callable[[str], Review]) -> None:
    looked = review(FINAL.replace("[C1 100p 1000 V]-- V2.grid", "[C1 100p 1000 V]-- X"))
    assert "V2" in [f.at[0] for f in found(looked, "grid.no-bias")]
    assert "supply.coil-overload" not in {n.rule for n in looked.not_judged}
