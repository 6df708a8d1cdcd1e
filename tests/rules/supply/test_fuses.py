"""Fuses: what they carry, the stroke at switch-on (C V^2 / 2R), the voltage they break."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.supply.inrush import charging, mains_charging

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

LOAD = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 1 ohm
    winding out 12 V 0.01 ohm
line --[F1 4 A slow]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
T1.out.2 -- gnd
T1.out.1 --[F2 {fuse}]-- A
A --[R1 12 ohm 50 W]-- gnd
"""


def of(looked: Review, rule: str, place: str) -> list[Finding]:
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == rule and f.at[0] == place]


@pytest.mark.parametrize(("amps", "blows"), [(0.97, True), (1.03, False)])
def test_twelve_volts_across_twelve_ohms_is_one_ampere(
    amps: float, blows: bool, review: Callable[[str], Review]
) -> None:
    looked = review(LOAD.format(fuse=f"{amps} A slow"))
    found = of(looked, "supply.fuse-too-small", "F2")
    assert bool(found) is blows
    for finding in found:
        assert finding.level == "notice"
        assert finding.evidence["current_rms"].value == pytest.approx(1.0, rel=1e-2)


@pytest.mark.parametrize(
    ("rated", "level"), [(5.9, "notice"), (6.1, "advice"), (11.5, "advice"), (12.5, None)]
)
def test_a_blown_fuse_has_the_whole_winding_across_it(
    rated: float, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(LOAD.format(fuse=f"4 A slow {rated} V"))
    found = of(looked, "supply.fuse-voltage", "F2")
    assert [f.level for f in found] == ([level] if level else [])
    for finding in found:
        assert finding.evidence["voltage_rms"].value == pytest.approx(12.0, rel=1e-2)


def test_in_the_mains_lead_it_is_a_caution(review: Callable[[str], Review]) -> None:
    text = LOAD.format(fuse="4 A slow").replace("F1 4 A slow", "F1 4 A slow 32 V")
    (found,) = of(review(text), "supply.fuse-voltage", "F1")
    assert found.level == "caution"
    assert found.evidence["voltage_rms"].value == pytest.approx(120.0, rel=1e-2)
    assert found.remedy == "Use a fuse made for 120 V or more"


def test_only_one_behind_the_rectifier_has_a_better_place(
    changed: Callable[[str, str, str, str], Review],
) -> None:
    """F2 of the pair is at the winding, where there is none with less; behind D1 there is."""
    rule, at_the_winding = (
        "supply.fuse-voltage",
        "--[F2 0.063 A slow 32 V]-- HOT --[D1 1N4007]-> B1",
    )
    behind = "--[D1 1N4007]-> HOT --[F2 0.063 A slow 32 V]-- B1"
    (found,) = of(changed(rule, "wrong", at_the_winding, behind), rule, "F2")
    assert found.remedy.endswith("in the winding's tap instead of the rectified supply")
    (found,) = of(changed(rule, "wrong", "HOT", "WARM"), rule, "F2")
    assert found.remedy == "Use a fuse made for 193 V or more"


BOX = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 4 ohm
    winding ht 240 V 100 ohm
line --[F1 {first}]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[F2 {second}]-- A --[D1 1N4007]-> B1
B1 --+[C1 100 uF 500 V]-- gnd
B1 --[R1 100k 5 W]-- gnd
"""


def by_hand(volts: float) -> float:
    """I2t in the winding: 100 ohm, and 4 ohm seen through twice the turns, 16 ohm."""
    return 100e-6 * volts**2 / (2 * 116)


@pytest.mark.parametrize(
    ("fuse", "level"),
    [
        # 240 V rms is 339 V at the crest, 330 V with the load: 0.0471 A2s. Slow may melt at 2 s
        # times the square of its rating (0.1534 A) and surely does at 30 s (0.0396 A); fast at
        # 0.16 s (0.5425 A) and 5 s (0.0970 A).
        ("0.155 A slow", None),
        ("0.152 A slow", "advice"),
        ("0.0400 A slow", "advice"),
        ("0.0392 A slow", "notice"),
        ("0.55 A fast", None),
        ("0.535 A fast", "advice"),
        ("0.098 A fast", "advice"),
        ("0.096 A fast", "notice"),
        ("0.152 A", "advice"),  # nothing said: taken as slow
    ],
)
def test_the_stroke_that_fills_the_reservoir(
    fuse: str, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(BOX.format(first="5 A slow", second=fuse))
    held = looked.solutions["warm"].wave("B1").dc
    found = of(looked, "supply.fuse-too-small", "F2")
    assert held == pytest.approx(330, rel=1e-2)
    assert by_hand(held) == pytest.approx(0.0471, rel=1e-2)
    assert [f.level for f in found] == ([] if level is None else [level])
    for finding in found:
        assert finding.state == "switching on"
        assert str(finding.evidence["i2t"]) == f"{by_hand(held):.3g} A2s"


@pytest.mark.parametrize(("amps", "level"), [(0.31, None), (0.303, "advice")])
def test_in_the_primary_it_counts_by_the_square_of_the_turns(
    amps: float, level: str | None, review: Callable[[str], Review]
) -> None:
    """Four times as much: 0.188 A2s, 0.307 A at two seconds; no rating, so no core's stroke."""
    looked = review(BOX.format(first=f"{amps} A slow", second="5 A slow"))
    found = of(looked, "supply.fuse-too-small", "F1")
    assert [f.level for f in found] == ([] if level is None else [level])


def test_a_thermistor_in_the_lead_takes_the_stroke(review: Callable[[str], Review]) -> None:
    """Cold 100 ohm on 4 in the primary: 104 x 4 + 100 = 516 ohm, less than a fourth of it."""
    text = BOX.format(first="0.16 A slow", second="5 A slow")
    bare = of(review(text), "supply.fuse-too-small", "F1")
    with_it = text.replace("-- T1.pri.1", "-- Q --[RT1 100 ohm 2 ohm 1 A]-- T1.pri.1")
    assert [f.level for f in bare] == ["advice"]
    assert math.sqrt(4 * 100e-6 * 330**2 / (2 * 516) / 2) < 0.16
    assert of(review(with_it), "supply.fuse-too-small", "F1") == []


RATED = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding warm 6.3 V 4 A
line --[F1 {fuse}]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
T1.warm.2 -- gnd
T1.warm.1 --[PL1 lamp 6.3 V 4 A]-- gnd
"""


@pytest.mark.parametrize(("amps", "level"), [(0.41, None), (0.40, "advice")])
def test_the_first_half_cycle_of_a_core(
    amps: float, level: str | None, review: Callable[[str], Review]
) -> None:
    """25.2 VA is 0.21 A: 0.6 s x 0.0441 = 0.02646 A2s; fast at 0.16 s: 0.4067 A."""
    found = of(review(RATED.format(fuse=f"{amps} A fast")), "supply.fuse-too-small", "F1")
    assert [f.level for f in found] == ([] if level is None else [level])


def test_the_fuse_that_is_advised_stands_the_reservoirs(review: Callable[[str], Review]) -> None:
    """120 V half-wave into 1000 uF: what carries milliamperes needs a fuse for the stroke."""
    text = BOX.format(first="3 A slow", second="5 A slow").replace("C1 100 uF", "C1 1000 uF")
    (found,) = of(review(text), "mains.fuse-too-large", "F1")
    # 10 x 0.188 A2s: the square root of 0.94 is 0.97 A, the next size 1 A.
    assert "Use 1 A slow" in found.remedy
    mended = review(text.replace("F1 3 A", "F1 1 A"))
    assert of(mended, "supply.fuse-too-small", "F1") == []
    assert of(mended, "mains.fuse-too-large", "F1") == []


BRIDGED = """mains 120 V 60 Hz tolerance 0.001 %
transformer T1
    primary pri 120 V 1 ohm
    winding ht 120 V 1 ohm
line --[F1 4 A slow]-- T1.pri.1
T1.pri.2 -- neutral
earth -- gnd
T1.ht.1 --[D1 1N4007]-> RAW
T1.ht.2 --[D2 1N4007]-> RAW
gnd --[D3 1N4007]-> T1.ht.1
gnd --[D4 1N4007]-> T1.ht.2
RAW --[F2 4 A slow]-- RES
RES --+[C1 100 uF 250 V]-- gnd
RES --[R1 10k 10 W]-- gnd
"""


def test_a_bridges_reservoir_is_charged_through_both_fuses(
    review: Callable[[str], Review],
) -> None:
    """C V^2 / 2 over the 2 ohm of both windings (one to one): 100 uF at some 170 V is 0.72 A2s."""
    looked = review(BRIDGED)
    case = Case(looked.circuit, looked.solutions)
    volts = looked.solutions["warm"].wave("RES").dc
    for fuse in ("F1", "F2"):
        assert charging(case, looked.circuit.branches[fuse]) == pytest.approx(
            100e-6 * volts**2 / 2 / 2, rel=0.01
        )


def test_a_rectifier_tube_makes_no_stroke(review: Callable[[str], Review]) -> None:
    tube = (
        "tube V1 GZ34\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- gnd\nV1.cathode -- RAW\nRAW --[F2 4 A slow]"
    )
    head, _, tail = BRIDGED.partition("T1.ht.1 --[D1")
    looked = review(head + tube + tail.partition("RAW --[F2 4 A slow]")[2])
    assert mains_charging(Case(looked.circuit, looked.solutions)) == 0
