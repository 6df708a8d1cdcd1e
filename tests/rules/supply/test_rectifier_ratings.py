"""Rectifier rules against data-sheet limits and hand arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.rectifiers import feeds, first_capacitors, least_ohms, rectifier_tubes
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.judge.figure import Figure
from coldcheck.rules.supply.charge import bleeder_for
from coldcheck.rules.supply.inverse import DIODE_VOLTS, inverse_voltage

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

HEAD = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  5 ohm
    winding ht    250 V ct 250 V  70 mA  180 ohm
    winding fil   5 V  2 A
tube V1 5Y3GT   heater T1.fil
T1.ht.ct -- gnd
"""
PLATES = "T1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"


def farads(rest: str) -> float:
    """What the rule takes for the first capacitor of V1."""
    circuit = build_circuit(parse_drawing(HEAD + PLATES + rest, "t"))
    assert circuit.problems == ()
    (_, section), *_ = rectifier_tubes(circuit)
    return sum(f for _, f in first_capacitors(circuit, section))


@pytest.mark.parametrize(
    ("rest", "microfarads"),
    [
        ("V1:8 --[C1 20 uF]-- gnd\n", 20),
        ("V1:2 --[C1 20 uF]-- gnd\n", 20),  # the other end of the filament
        ("V1:8 --[C1 20 uF]-- gnd\nV1:8 --[C2 20 uF]-- gnd\n", 40),
        ("V1:8 --[F1 0.25 A]-- A --[C1 20 uF]-- gnd\n", 20),
        ("V1:8 --[S1 switch]-- A --[C1 20 uF]-- gnd\n", 20),
        ("V1:8 --[R1 10 ohm]-- A --[C1 20 uF]-- gnd\n", 20),
        ("V1:8 --[R1 1k]-- A --[C1 20 uF]-- gnd\n", 0),
        ("V1:8 --[L1 8 H 200 ohm]-- A --[C1 20 uF]-- gnd\n", 0),
        ("V1:8 --[C1 100 uF]-- M --[C2 100 uF]-- gnd\n", 50),  # a series pair is half
        (
            "V1:8 --[C1 100 uF]-- M --[C2 100 uF]-- gnd\nV1:8 --[R1 220k]-- M --[R2 220k]-- gnd\n",
            50,
        ),
    ],
)
def test_what_counts_as_the_first_capacitor(rest: str, microfarads: float) -> None:
    assert farads(rest) == pytest.approx(microfarads * 1e-6)


def test_first_capacitor_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    name = "supply.first-capacitor-too-large"
    found = only(sample(name, "wrong"), name)
    assert (found.level, found.at, found.span.line) == ("notice", ("C1", "V1"), 17)
    # 5Y3GT: 20 uF, tubeofile.com 5Y3 (found).
    assert found.evidence == {"capacitance": Figure(pytest.approx(47e-6), "F")}
    assert found.limit == Figure(pytest.approx(20e-6), "F")
    assert found.excess == pytest.approx(2.35)
    assert "found" in found.source


@pytest.mark.parametrize(
    ("volts", "ohms"),
    [(250, 150), (300, 200), (350, 240), (275, 175), (325, 220), (125, 75), (500, 344.44)],
)
def test_least_supply_resistance_of_an_ez81(volts: float, ohms: float) -> None:
    # EZ81: 150 ohm at 250 V, 200 at 300, 240 at 350 (memory: Philips); 310 at 450 on file.
    table = ((250.0, 150.0), (300.0, 200.0), (350.0, 240.0), (450.0, 310.0))
    assert least_ohms(table, volts) == pytest.approx(ohms, abs=0.01)


def test_source_resistance_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    name = "supply.source-resistance-too-small"
    found = only(sample(name, "wrong"), name)
    # Half of 60 ohm, and the primary's 6 ohm by (250 / 230) squared.
    assert found.evidence["supply"].value == pytest.approx(30 + 6 * (250 / 230) ** 2, rel=1e-6)
    assert found.limit.value == pytest.approx(150)
    assert (found.at, found.state, found.span.line) == (("V1",), "drawing", 11)
    assert "120 ohm" in found.remedy  # 150 - 37.1 = 112.9, the next E12 value above


def test_series_resistors_and_the_mains_count() -> None:
    text = (
        "mains 117 V 60 Hz\ntube V1 35W4\nline --[F1 1 A]-- A --[R1 33 ohm 5 W]-- V1.plate\n"
        "neutral -- gnd\nV1.cathode --[C1 40 uF]-- gnd\n"
    )
    circuit = build_circuit(parse_drawing(text, "t"))
    (_, section), *_ = rectifier_tubes(circuit)
    (feed,) = feeds(circuit, section)
    assert (feed.volts, feed.ohms, feed.unknown) == (117.0, 33.0, ())


def test_an_unwritten_winding_resistance_is_not_judged(review: Callable[[str], Review]) -> None:
    text = (HEAD + PLATES).replace("  180 ohm", "") + (
        "V1:8 --+[C1 10 uF 450 V]-- gnd\nV1:8 --[R1 10k 25 W]-- gnd\n"
    )
    looked = review(text)
    name = "supply.source-resistance-too-small"
    assert name not in {f.rule for f in looked.findings}
    (said,) = [n for n in looked.not_judged if n.rule == name]
    assert said.at == ("V1",)
    assert "T1.ht" in said.reason


def test_inverse_voltage_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("supply.inverse-voltage", "wrong"), "supply.inverse-voltage")
    assert (found.level, found.at, found.state) == ("notice", ("D1",), "high line")
    # 2 sqrt(2) E (derived), E = 250 V, 10 % high: 778 V; the winding's own regulation (2.6 %)
    # and the diode's drop and the ripple pull in opposite directions.
    by_hand = 2 * math.sqrt(2) * 250 * 1.1
    assert found.evidence["inverse_peak"].value == pytest.approx(by_hand, rel=0.03)
    assert found.limit.value == 400.0
    assert found.also_in == ("warm", "low line")
    assert found.certainty == "certain"


@pytest.mark.parametrize(
    ("written", "limit"), [("375 V", 375.0), ("265 Vac", 374.8), ("395 V", None), ("280 Vac", None)]
)
def test_a_block_is_judged_once(
    written: str, limit: float | None, review: Callable[[str], Review]
) -> None:
    """Each diode blocks the crest, sqrt(2) E (derived); volts in AC are the rms they are for."""
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 5 ohm\n"
        f"winding ht 250 V 80 mA 80 ohm\nbridge BR1 {written} 1 A\nT1.ht.1 -- BR1.ac1\n"
        "T1.ht.2 -- BR1.ac2\nBR1.minus -- gnd\nBR1.plus -- B1\n"
        "B1 --+[C1 22 uF 500 V]-- gnd\nB1 --[R1 22k 10 W wirewound]-- gnd\n"
    )
    hits = [f for f in review(text).findings if f.rule == "supply.inverse-voltage"]
    hits = [f for f in hits if f.level != "advice"]
    assert [f.at for f in hits] == ([] if limit is None else [("BR1",)])
    for f in hits:
        assert f.limit.value == pytest.approx(limit, rel=1e-3)
        crest = math.sqrt(2) * 250 * 1.1
        assert f.evidence["inverse_peak"].value == pytest.approx(crest, rel=0.04)


def test_a_bridge_diode_sees_half_of_that(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 5 ohm\n"
        "winding ht 250 V 80 mA 80 ohm\n"
        "T1.ht.1 --[D1 diode 300 V]-> B1\nT1.ht.2 --[D2 1N4007]-> B1\n"
        "gnd --[D3 1N4007]-> T1.ht.1\ngnd --[D4 1N4007]-> T1.ht.2\n"
        "B1 --+[C1 22 uF 500 V]-- gnd\nB1 --[R1 22k 10 W wirewound]-- gnd\n"
    )
    found = only(review(text), "supply.inverse-voltage")
    # sqrt(2) E for a bridge (derived).
    assert found.evidence["inverse_peak"].value == pytest.approx(math.sqrt(2) * 250 * 1.1, rel=0.04)
    assert found.limit.value == 300.0
    assert "drawing" in found.source


def test_a_diode_without_a_rating_is_not_judged(review: Callable[[str], Review]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 5 ohm\n"
        "winding ht 250 V 80 mA 80 ohm\n"
        "T1.ht.2 -- gnd\nT1.ht.1 --[D1 silicon]-> B1\n"
        "B1 --+[C1 22 uF 500 V]-- gnd\nB1 --[R1 22k 10 W wirewound]-- gnd\n"
    )
    looked = review(text)
    said = [n for n in looked.not_judged if n.rule == "supply.inverse-voltage"]
    assert [n.at for n in said] == [("D1",)]


def test_the_1n4000_series() -> None:
    # JEDEC registration (memory).
    volts = [DIODE_VOLTS[f"1N400{n}"].value for n in range(1, 8)]
    assert volts == [50, 100, 200, 400, 600, 800, 1000]


def test_rectifier_overload_pair(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    looked = sample("supply.rectifier-overload", "wrong")
    direct = only(looked, "supply.rectifier-overload")
    assert (direct.at, direct.state, direct.level) == (("V1",), "high line", "notice")
    # In the steady state the capacitor takes no DC: all of it goes through the 1.6 kohm load.
    volts = looked.solutions["high line"].wave("RES").dc
    assert (direct.evidence["current"].value * 1000) == pytest.approx(1000 * volts / 1600, rel=2e-3)
    assert (direct.limit.value * 1000) == 125.0
    # The peaks beyond the rating come from the same load and are told with it.
    assert "supply.rectifier-overload at V1, V1.plate1, V1.plate2" in direct.evidence["explains"]


@pytest.mark.parametrize(
    ("farads", "start", "ohms"),
    [(47e-6, 350.0, 330e3), (100e-6, 450.0, 120e3), (470e-6, 385.0, 33e3), (10e-6, 300.0, 1.8e6)],
)
def test_the_bleeder_proposed_does_it_in_half_a_minute(
    farads: float, start: float, ohms: float
) -> None:
    chosen, watts = bleeder_for(farads, start)
    assert chosen == pytest.approx(ohms)
    assert chosen * farads * math.log(start / 60) <= 30.0
    assert watts == pytest.approx(start**2 / ohms)


def test_no_bleeder_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("supply.no-bleeder", "wrong"), "supply.no-bleeder")
    assert (found.level, found.state, found.at) == (
        "danger", "off, S1 thrown", ("R2", "R1", "S1", "C1"),
    )  # fmt: skip
    assert found.evidence["time"] == "never"
    assert found.span.line == 16


def test_a_supply_nobody_could_solve_is_not_judged(
    review: Callable[[str], Review], monkeypatch: pytest.MonkeyPatch
) -> None:
    from coldcheck.verdict import engine

    def fail(circuit: object) -> None:
        raise ArithmeticError

    monkeypatch.setattr(engine, "solve_states", fail)
    looked = review(HEAD + PLATES + "V1:8 --+[C1 47 uF 450 V]-- gnd\n")
    assert [f.rule for f in looked.findings if f.level != "advice"] == [
        "supply.first-capacitor-too-large"
    ]
    assert "supply.no-bleeder" in {n.rule for n in looked.not_judged}


@pytest.mark.parametrize(("volts", "found"), [(950, False), (1050, True)])
def test_a_uf4007_blocks_a_kilovolt(
    volts: int, found: bool, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 1M 2 W]-- gnd\ngnd --[D1 UF4007]-> B1\n"
    told = only(review(text), "supply.inverse-voltage", count=int(found))
    if found:
        assert told.remedy.startswith(
            "Look at its direction first: as drawn D1 never conducts. Use one rated 1.4 kV or more"
        )


@pytest.mark.parametrize(
    ("share", "level"), [(0.99, None), (1.01, "advice"), (1.09, "advice"), (1.11, "notice")]
)
def test_a_tenth_beyond_a_design_centre_rating_is_advice(
    share: float, level: str | None, review: Callable[[str], Review]
) -> None:
    """5Y3GT: 1400 V."""
    looked = review(HEAD + PLATES + "V1:8 -- RES\nRES --[R1 10k 20 W]-- gnd\n")
    warm = looked.solutions["warm"]
    readings = {**warm.readings, "V1": replace(warm.readings["V1"], inverse_v=1400 * share)}
    case = Case(looked.circuit, {"warm": replace(warm, readings=readings)})
    found = [o for o in inverse_voltage.judge(case) if o.at == ("V1",)]
    assert [o.level for o in found] == ([] if level is None else [level])
