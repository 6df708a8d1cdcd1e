"""Switches that break a choke's current or an output tube's bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

CHOKE = """mains 120 V 60 Hz
transformer T1
primary pri 120 V 3 ohm
winding ht 250 V ct 250 V 100 mA 160 ohm
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RAW
T1.ht.2 --[D2 1N4007]-> RAW
"""
LOAD = "B1 --+[C1 47 uF 600 V]-- gnd\nB1 --[R1 5k6 25 W wirewound]-- gnd\n"


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("RAW --[L1 10 H 200 ohm]-- CUT --[S1 switch]-- B1\n", True),
        # Switch ahead of the choke: the same current, the same spark.
        ("RAW --[S1 switch]-- CUT --[L1 10 H 200 ohm]-- B1\n", True),
        # A bleeder, a capacitor or a catch diode takes the current over.
        ("RAW --[L1 10 H 200 ohm]-- CUT --[S1 switch]-- B1\nCUT --[R2 22k 10 W]-- gnd\n", False),
        ("RAW --[L1 10 H 200 ohm]-- CUT --[S1 switch]-- B1\nCUT --+[C2 1 uF 600 V]-- gnd\n", False),
        (
            "RAW --[S1 switch]-- CUT --[L1 10 H 200 ohm]-- B1\ngnd --[D3 1N4007]-> CUT\n",
            False,
        ),
        # Behind the capacitor: only the load goes.
        ("RAW --[L1 10 H 200 ohm]-- B1\nB1 --[S1 switch]-- B2 --[R3 10k 20 W]-- gnd\n", False),
        # A coil for radio frequencies holds next to nothing.
        ("RAW --[L1 2.5 mH 20 ohm]-- CUT --[S1 switch]-- B1\n", False),
    ],
)
def test_what_takes_the_current_over(
    wires: str, found: bool, review: Callable[[str], Review]
) -> None:
    looked = review(CHOKE + LOAD + wires)
    assert [n for n in looked.not_judged if n.kind.broken] == []
    hits = [f for f in looked.findings if f.rule == "supply.choke-opened"]
    assert bool(hits) is found
    for f in hits:
        assert (f.level, f.at, f.state) == ("advice", ("L1", "S1"), "standby S1")  # 7.6 mJ
        amps = f.evidence["current"].value
        assert f.evidence["energy"].value == pytest.approx(0.5 * 10 * amps**2)
        # 0.9 x 250 V less the choke's drop over 5.6 kohm: some 39 mA.
        assert amps == pytest.approx(225 / 5.8e3, rel=0.05)


BIAS = """B1 --+[E1 250 V]-- gnd
tube V1 6V6GT
B1 -- V1.plate
B1 --[R1 22k 3 W]-- V1.screen
V1.cathode -- gnd
V1.grid --[R2 82k 0.5 W]-- BIAS
BIAS --[R3 10k 0.5 W]-- gnd
gnd --+[E2 40 V]-- NEG
"""


def test_with_the_plate_still_up_it_is_a_warning(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = BIAS + "NEG --[S1 switch standby]-- NEG2 --[R4 10k 0.5 W]-- BIAS\n"
    looked = review(text)
    found = only(looked, "supply.bias-switched")
    assert (found.level, found.at, found.state) == ("warning", ("S1", "V1"), "standby S1")
    # 40 V over 10k and 10k.
    assert found.evidence["bias_warm"].value == pytest.approx(-20, rel=0.01)
    assert abs(found.evidence["bias_standby"].value) < 1
    assert found.evidence["plate_standby"].value == pytest.approx(250, rel=1e-3)
    # What the tube then draws is told with it.
    assert "tube.plate-dissipation" not in {f.rule for f in looked.findings}


@pytest.mark.parametrize(
    "more",
    [
        "NEG --[R4 10k 0.5 W]-- BIAS\n",
        # The switch cuts something else.
        "NEG --[R4 10k 0.5 W]-- BIAS\nB1 --[S1 switch]-- X --[R5 22k 5 W]-- gnd\n",
        # A switch that only trims: three quarters are left.
        "NEG --[R4 10k 0.5 W]-- BIAS\nBIAS --[S1 switch open]-- X --[R5 39k]-- gnd\n",
    ],
)
def test_bias_that_stays(
    more: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(BIAS + more), "supply.bias-switched", count=0)


def test_both_cut_is_a_notice(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("supply.bias-switched", "wrong"), "supply.bias-switched")
    assert (found.level, found.at) == ("notice", ("S1", "V1"))
    assert found.evidence["plate_standby"].value < 50
    right = sample("supply.bias-switched", "right").solutions["standby S1"]
    assert right.wave("V1.grid").dc < -15


@pytest.mark.parametrize(("load", "found"), [("105k", 0), ("95k", 1)])
def test_a_milliampere_makes_no_spark(
    load: str, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """100 V over them: 0.95 mA and 1.05 mA."""
    text = "B0 --+[E1 100 V]-- gnd\nB0 --[L1 10 H 100 ohm]-- CUT --[S1 switch]-- B1\n"
    only(review(text + f"B1 --[R1 {load}]-- gnd\n"), "supply.choke-opened", count=found)


@pytest.mark.parametrize(("volts", "found"), [(5.7, 0), (6.3, 1)])
def test_three_volts_are_a_fixed_bias(
    volts: float, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Halved by R4 and R3."""
    text = BIAS.replace("E2 40 V", f"E2 {volts} V")
    text += "NEG --[S1 switch standby]-- NEG2 --[R4 10k 0.5 W]-- BIAS\n"
    only(review(text), "supply.bias-switched", count=found)


@pytest.mark.parametrize(("load", "found"), [("3k3", 1), ("10k", 0)])
def test_a_triode_whose_plate_stands_it(
    load: str, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Half a 12AU7, rated 2.75 W, with its grid at 0 V: some 8 kohm on 250 V.

    Over 3.3 kohm it has 22 mA and 175 V, 4 W; over 10 kohm 13 mA and 116 V, 1.6 W.
    """
    text = BIAS.replace("6V6GT", "12AU7").replace("B1 --[R1 22k 3 W]-- V1.screen\n", "")
    text = text.replace("V1.", "V1A.").replace("E2 40 V", "E2 16 V")
    text = text.replace("B1 -- V1A.plate", f"B1 --[R1 {load} 5 W]-- V1A.plate")
    text += "NEG --[S1 switch standby]-- NEG2 --[R4 10k 0.5 W]-- BIAS\n"
    only(review(text), "supply.bias-switched", count=found)


BATTERY = """tube V1 DL94
BP --+[E1 90 V 20 ohm]-- BM
AP --+[E2 1.5 V]-- gnd
switch S1 dpst 250 V 1 A
BP -- S1.a.common
S1.a.1 -- B1
AP -- S1.b.common
S1.b.1 -- FP
FP -- V1:1 -- V1:7
V1:5 -- gnd
BM --[R1 {ohms} 0.5 W]-- gnd
{more}output T1 10k : 4 ohm
B1 -- T1.p1
T1.p2 -- V1.plate
B1 -- V1.screen
V1.grid --[R2 1M]-- BM
T1.s2 --[LS1 speaker 4 ohm]-- T1.s1
"""


@pytest.mark.parametrize(
    ("more", "count"),
    [("", 0), ("gnd --+[C1 50 uF 25 V]-- BM\n", 0)],
)
def test_a_bias_that_the_plate_current_makes_itself_goes_and_comes_with_it(
    more: str, count: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(BATTERY.format(ohms="470", more=more))
    assert looked.solutions["warm"].wave("BM").dc < -3  # V: there is a bias to lose
    assert looked.solutions["standby S1"].wave("BM").dc > -0.1
    only(looked, "supply.bias-switched", count=count)
