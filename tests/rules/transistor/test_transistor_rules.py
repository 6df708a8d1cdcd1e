"""Rules of transistors against hand calculations."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.model import Review


def told(looked: Review, rule: str) -> list:
    assert looked.readable
    return [f for f in looked.findings if f.rule == rule]


PASS = (
    "B1 --+[E1 400 V 0.2 A]-- gnd\ntransistor Q1 {type}\nB1 -- Q1.drain\n"
    "REF --+[E2 {ref} V]-- gnd\nREF --[R3 1k]-- Q1.gate\n"
    "Q1.source --[Z1 zener 12 V 0.5 W]-> Q1.gate\nQ1.source --[R4 {load} 50 W]-- gnd\n"
)


def passing(kind: str = "IRF840", ref: float = 203.2, load: str = "20k") -> str:
    return PASS.format(type=kind, ref=ref, load=load)


@pytest.mark.parametrize(("ref", "found"), [(2.0, True), (8.5, False)])
def test_volts_across(ref: float, found: bool, review: Callable[[str], Review]) -> None:
    """IRF740: 400 V (memory). 405 V less what the source stands at, the gate less 3 V or so."""
    text = passing("IRF740", ref).replace("E1 400 V", "E1 405 V").replace("Z1 zener", "Z1 zener")
    hits = told(review(text), "transistor.over-voltage")
    assert [f.at for f in hits] == [("Q1",)] * found
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(405, abs=0.5)
        assert f.limit.value == 400
        assert "memory" in f.source


@pytest.mark.parametrize(
    ("mounted", "load", "watts", "limit"),
    [
        ("heatsink 20 K/W", "8k", 5.0, 4.651),
        ("heatsink 20 K/W", "9k", None, None),
        ("", "20k", None, None),
        ("", "250 ohm", 160.0, 125.0),
        ("heatsink 0.1 K/W", "600 ohm", 66.7, 62.5),
    ],
)
def test_heat(
    mounted: str, load: str, watts: float | None, limit: float | None,
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    """200 V across, 200 V over the load; (150 - 50) K over 1.0 + 0.5 + the sink's K/W."""
    looked = review(passing(f"IRF840 {mounted}", load=load).replace("50 W", "500 W"))
    hits = told(looked, "transistor.dissipation")
    assert len(hits) == (watts is not None)
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(watts, rel=0.02)
        assert f.limit.value == pytest.approx(limit, rel=1e-3)


@pytest.mark.parametrize(("load", "said"), [("20k", True), ("50k", False)])
def test_heat_without_a_sink(load: str, said: bool, review: Callable[[str], Review]) -> None:
    """2 W are too much for 62 K/W, (150 - 50) / 62 = 1.6 W, and no heat sink is written."""
    looked = review(passing(load=load))
    hits = [n for n in looked.not_judged if n.rule == "transistor.dissipation"]
    assert bool(hits) is said
    assert all("1.61 W" in n.reason for n in hits)


def test_a_case_without_a_tab_is_judged_alone(review: Callable[[str], Review]) -> None:
    """2N7000: 312 K/W (memory), 0.32 W; 20 V at 20 mA are 0.4 W."""
    text = passing("2N7000", 21.9, "1k").replace("E1 400 V", "E1 40 V")
    (f,) = told(review(text), "transistor.dissipation")
    assert f.limit.value == pytest.approx(100 / 312, rel=1e-3)
    assert f.evidence["used"].value == pytest.approx(0.4, rel=0.03)


@pytest.mark.parametrize(("rating", "found"), [("19 V", True), ("21 V", False)])
def test_a_type_of_the_drawings_own(
    rating: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = (
        f"type MINE like 2N7000\n    rating gate-source-voltage {rating}\ntransistor Q1 MINE\n"
        "B --+[E1 20 V 1 A]-- gnd\nB --[R1 1k]-- Q1.gate\nB --[R2 1k 1 W]-- Q1.drain\n"
        "Q1.source -- gnd\n"
    )
    hits = told(review(text), "transistor.gate-over-voltage")
    assert bool(hits) is found
    assert all("drawing" in f.source for f in hits)


JFET = (
    "B --+[E1 {supply} V 0.1 A]-- gnd\ntransistor Q1 {kind}\nB --[R1 1k]-- Q1.drain\n"
    "Q1.gate --[R2 1M]-- {gate}\nQ1.source --[R3 1k]-- gnd\n{more}"
)


def jfet(kind: str, supply: float, gate: str = "gnd", more: str = "") -> str:
    return JFET.format(kind=kind, supply=supply, gate=gate, more=more)


@pytest.mark.parametrize(("supply", "found"), [(24.0, False), (29.0, True)])
def test_a_jfet_has_its_volts_at_its_gate(
    supply: float, found: bool, review: Callable[[str], Review]
) -> None:
    """2N5457: 25 V (memory); its gate is at gnd and 1k takes some 1.2 V."""
    hits = told(review(jfet("2N5457", supply)), "transistor.over-voltage")
    assert bool(hits) is found
    for f in hits:
        assert "from drain or source to gate" in f.message
        assert f.evidence["used"].value == pytest.approx(supply - 1.2, abs=0.1)
        assert f.limit.value == 25


@pytest.mark.parametrize(("volts", "found"), [(24, False), (26, True)])
def test_a_gate_far_from_the_source(
    volts: int, found: bool, review: Callable[[str], Review]
) -> None:
    """The drain is shorted to the source, as for a diode: both are the same volts from the gate."""
    more = f"gnd --+[E2 {volts} V]-- N\n"
    text = jfet("2N5457", 0.5, "N", more).replace("Q1.drain\n", "Q1.drain -- Q1.source\n")
    hits = told(review(text), "transistor.over-voltage")
    assert bool(hits) is found


@pytest.mark.parametrize(("ohms", "found"), [("2k4", False), ("2k", True)])
def test_a_gate_that_conducts(ohms: str, found: bool, review: Callable[[str], Review]) -> None:
    """2N5457: 10 mA (memory); the supply of 24 V less 0.7 V over its resistor and 10 ohm."""
    text = jfet("2N5457", 24.0, "B").replace("R2 1M", f"R2 {ohms} 1 W").replace("R3 1k", "R3 10")
    hits = told(review(text), "transistor.overload")
    assert bool(hits) is found
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(23.1 / 2000, rel=0.02)
        assert f.limit.value == 0.01


def test_what_a_jfet_is_not_asked(review: Callable[[str], Review]) -> None:
    """It has no insulation to puncture, and no base; its heat is judged as others' is."""
    text = jfet("2N5457", 24.0).replace("R2 1M", "R2 10k").replace("R3 1k", "R3 10")
    looked = review(text + "gnd --[C1 10n 100 V]-- Q1.gate\n")
    names = ("gate-over-voltage", "gate-unprotected", "no-gate-stopper", "base-reversed")
    assert not [f for f in looked.findings if f.rule in {f"transistor.{n}" for n in names}]
    assert not looked.not_judged


def test_a_jfets_gate_that_floats(review: Callable[[str], Review]) -> None:
    text = jfet("2N5457", 24.0).replace("Q1.gate --[R2 1M]-- gnd", "Q1.gate --[C2 10n 100 V]-- gnd")
    assert [f.at for f in told(review(text), "transistor.gate-no-return")] == [("Q1",)]


@pytest.mark.parametrize(("ohms", "found"), [("54 ohm", True), ("60 ohm", False)])
def test_current(ohms: str, found: bool, review: Callable[[str], Review]) -> None:
    """BS170: 0.5 A and 5 ohm at 10 V on its gate (memory): 31 V over 54 + 5 or 60 + 5 ohm."""
    text = (
        "B --+[E1 31 V 1 A]-- gnd\nG --+[E2 10 V]-- gnd\ntransistor Q1 BS170\n"
        f"B --[R1 {ohms} 50 W]-- Q1.drain\nG --[R2 100]-- Q1.gate\nQ1.source -- gnd\n"
    )
    looked = review(text)
    hits = told(looked, "transistor.overload")
    assert bool(hits) is found
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(31 / (54 + 5), rel=0.02)


@pytest.mark.parametrize(
    ("parts", "found"),
    [
        ("", True),
        ("Q1.source --[Z1 zener 12 V]-> Q1.gate\n", False),
        ("Q1.source --[Z1 zener 12 V]-> M <-[Z2 zener 12 V]-- Q1.gate\n", False),
        ("Q1.source --[R9 1M]-- Q1.gate\n", True),
    ],
)
def test_what_protects_a_gate(parts: str, found: bool, review: Callable[[str], Review]) -> None:
    text = (
        "B --+[E1 300 V 0.1 A]-- gnd\nG --+[E2 100 V]-- gnd\ntransistor Q1 IRF840\n"
        "B -- Q1.drain\nG --[R1 1k]-- Q1.gate\nQ1.source --[R2 20k 5 W]-- gnd\n"
        "Q1.source --+[C1 10 uF 450 V]-- gnd\n"
    )
    hits = told(review(text + parts), "transistor.gate-unprotected")
    assert bool(hits) is found
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(100, rel=0.01)
        assert f.limit.value == 20


@pytest.mark.parametrize(("farads", "found"), [("0.9 uF", False), ("1.1 uF", True)])
def test_what_holds_a_source(farads: str, found: bool, review: Callable[[str], Review]) -> None:
    text = passing().replace("Q1.source --[Z1 zener 12 V 0.5 W]-> Q1.gate\n", "")
    looked = review(text + f"Q1.source --[C1 {farads} 630 V]-- gnd\n")
    assert bool(told(looked, "transistor.gate-unprotected")) is found


@pytest.mark.parametrize(("ohms", "found"), [("9 ohm", True), ("11 ohm", False)])
def test_a_gate_stopper(ohms: str, found: bool, review: Callable[[str], Review]) -> None:
    looked = review(passing().replace("R3 1k", f"R3 {ohms}"))
    assert bool(told(looked, "transistor.no-gate-stopper")) is found


def test_a_gate_that_floats(review: Callable[[str], Review]) -> None:
    looked = review(passing().replace("REF --[R3 1k]-- Q1.gate", "REF --[C3 10n 400 V]-- Q1.gate")
                    .replace("Q1.source --[Z1 zener 12 V 0.5 W]-> Q1.gate\n", ""))  # fmt: skip
    assert [f.at for f in told(looked, "transistor.gate-no-return")] == [("Q1",)]


@pytest.mark.parametrize(("volts", "found"), [(5.9, False), (6.1, True)])
def test_a_base_pulled_the_wrong_way(
    volts: float, found: bool, review: Callable[[str], Review]
) -> None:
    """2N2222A: 6 V (memory); no current flows, so all of it is across the junction."""
    text = (
        f"B --+[E1 20 V]-- gnd\ngnd --+[E2 {volts} V]-- N\ntransistor Q1 2N2222A\n"
        "N --[R1 1k]-- Q1.base\nB --[R2 1k 1 W]-- Q1.collector\nQ1.emitter -- gnd\n"
    )
    hits = told(review(text), "transistor.base-reversed")
    assert bool(hits) is found
    for f in hits:
        assert f.evidence["used"].value == pytest.approx(volts, rel=1e-3)


def test_volts_of_a_bipolar_one(review: Callable[[str], Review]) -> None:
    """BC547: 45 V (memory), cut off with 60 V on its collector."""
    text = (
        "B --+[E1 60 V]-- gnd\ntransistor Q1 BC547\nB --[R2 10k 1 W]-- Q1.collector\n"
        "Q1.base --[R1 1k]-- gnd\nQ1.emitter -- gnd\n"
    )
    (f,) = told(review(text), "transistor.over-voltage")
    assert "from collector to emitter" in f.message
    assert f.limit.value == 45


@pytest.mark.parametrize(
    ("up", "down", "words"),
    [
        ("collector", "emitter", "Keep the base"),
        ("emitter", "collector", "Exchange Q1.emitter and Q1.collector"),
    ],
)
def test_a_transistor_that_stands_on_its_head(
    up: str, down: str, words: str, review: Callable[[str], Review]
) -> None:
    """BC547: 6 V from emitter to base (memory). 12 V on the emitter, and the collector below."""
    text = (
        "B --+[E1 12 V]-- gnd\ntransistor Q1 BC547\n"
        f"B --[R2 1k]-- Q1.{up}\nQ1.{down} --[R3 1k]-- gnd\n"
        "Q1.base --[R1 10k]-- N --[R4 100k]-- gnd\nN --[E2 10 V]+-- gnd\n"
    )
    (found,) = told(review(text), "transistor.base-reversed")
    assert found.remedy.startswith(words)
    assert ("look exchanged" in found.message) is (up == "emitter")
