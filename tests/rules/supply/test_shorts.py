"""Shorted windings, switches ahead of rectifiers, zener power."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import Blame

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

HEAD = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  10 ohm
    winding ht    120 V ct 120 V  80 mA  120 ohm
    winding warm  6.3 V  2 A
B1 --+[C1 22 uF 500 V]-- gnd
B1 --[R1 22k 10 W wirewound]-- gnd
"""
BRIDGE = (
    "T1.ht.1 --[D1 1N4007]-> B1\nT1.ht.2 --[D2 1N4007]-> B1\n"
    "gnd --[D3 1N4007]-> T1.ht.1\ngnd --[D4 1N4007]-> T1.ht.2\n"
)


@pytest.mark.parametrize(
    ("wires", "through"),
    [
        (BRIDGE, set()),
        (BRIDGE + "T1.ht.ct -- gnd\n", {"D3 and D4"}),
        (BRIDGE + "T1.ht.ct --[F1 1 A]-- gnd\n", {"F1, D3 and D4"}),
        (BRIDGE + "T1.ht.ct --[R9 1k 5 W]-- gnd\n", set()),
        # Full wave with the tap as the return, and half wave: nothing shorted.
        ("T1.ht.ct -- gnd\nT1.ht.1 --[D1 1N4007]-> B1\nT1.ht.2 --[D2 1N4007]-> B1\n", set()),
        # One of two diodes of a tapped winding turned: 240 V through both of them.
        (
            "T1.ht.ct -- gnd\nT1.ht.1 <-[D1 1N4007]-- B1\nT1.ht.2 --[D2 1N4007]-> B1\n",
            {"D2 and D1"},
        ),
        # The second diode the wrong way round: from end to end through both.
        (
            "T1.ht.ct --[R9 10k 5 W]-- gnd\nT1.ht.1 --[D1 1N4007]-> B1\n"
            "B1 --[D2 1N4007]-> T1.ht.ct\n",
            {"D1 and D2"},
        ),
    ],
)
def test_a_way_round_the_winding(
    wires: str, through: set[str], review: Callable[[str], Review]
) -> None:
    looked = review(HEAD + wires)
    assert not [n for n in looked.not_judged if n.kind.broken]
    found = [f for f in looked.findings if f.rule == "supply.winding-shorted"]
    assert {f.evidence["through"] for f in found} == through
    assert all(f.at[0] == "T1.ht" and f.level == "notice" for f in found)


@pytest.mark.parametrize(
    ("case", "diode", "remedy"),
    [
        ("end-on-gnd", "D3", "Take T1.ht.2 off gnd: a bridge has its return"),
        ("doubler", "D2", "Take T1.ht.2 off gnd: in a doubler it goes to MID"),
    ],
)
def test_the_lead_that_is_on_gnd_is_named(
    case: str, diode: str, remedy: str, sample: Callable[[str, str], Review]
) -> None:
    rule = "supply.winding-shorted"
    (found,) = sample(f"{rule}/{case}", "wrong").findings
    assert (found.rule, found.at) == (rule, ("T1.ht", "T1.ht.2", diode))
    assert found.blame is Blame.SLIP
    assert found.remedy.startswith(remedy)
    assert not sample(f"{rule}/{case}", "right").findings


def test_a_tap_on_gnd_is_named(sample: Callable[[str, str], Review]) -> None:
    (found,) = [
        f
        for f in sample("supply.winding-shorted", "wrong").findings
        if f.rule == "supply.winding-shorted"
    ]
    assert found.at == ("T1.ht", "T1.ht.ct", "D3", "D4")
    assert found.message.endswith("since T1.ht.ct is on gnd")


TUBE = HEAD + "tube V1 6X4  heater T1.warm\nT1.warm.2 -- gnd\nV1.cathode -- B1\n"


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("T1.ht.ct --[S1 switch]-- gnd\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n", True),
        ("T1.ht.ct -- gnd\nT1.ht.1 --[S1 switch]-- V1.plate1\nT1.ht.2 -- V1.plate2\n", True),
        (
            "T1.ht.ct -- gnd\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"
            "B1 --[S1 switch]-- B2 --[R2 10k 10 W]-- gnd\n",
            False,
        ),
    ],
)
def test_where_the_standby_switch_is(
    wires: str, found: bool, review: Callable[[str], Review]
) -> None:
    hits = [
        f for f in review(TUBE + wires).findings if f.rule == "supply.switch-ahead-of-rectifier"
    ]
    assert [(f.at, f.level) for f in hits] == ([(("S1",), "advice")] if found else [])


def zener(series: str, power: str) -> str:
    return (
        f"B1 --+[E1 250 V]-- gnd\nB1 --[R1 {series} 10 W wirewound]-- REG\n"
        f"gnd --[D1 zener 150 V {power}]-> REG\n"
    )


@pytest.mark.parametrize(
    ("series", "power", "level"),
    # (250 - 150) V / R * 150 V: 1.5 W at 10k, 3.19 W at 4k7.
    [
        ("10k", "5 W", None),
        ("10k", "2 W", "advice"),
        ("10k", "1 W", "notice"),
        ("4k7", "5 W", "advice"),
        ("4k7", "10 W", None),
    ],
)
def test_zener_power(
    series: str, power: str, level: str | None, review: Callable[[str], Review]
) -> None:
    found = [f for f in review(zener(series, power)).findings if f.rule == "supply.zener-overload"]
    assert [f.level for f in found] == ([level] if level else [])
    ohms = {"10k": 10e3, "4k7": 4.7e3}[series]
    for f in found:
        # The zener's own resistance raises its voltage a little.
        assert f.evidence["power"].value == pytest.approx(100 / ohms * 150, rel=0.03)


def test_a_zener_without_a_rating_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(zener("10k", ""))
    assert [n.at for n in looked.not_judged if n.rule == "supply.zener-overload"] == [("D1",)]


def test_zener_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("supply.zener-overload", "wrong"), "supply.zener-overload")
    # 100 V / 5.6 kohm less the 1 mA of R2, times 150 V.
    assert found.evidence["power"].value == pytest.approx((100 / 5600 - 1e-3) * 150, rel=0.02)
    assert (found.at, found.state, found.span.line) == (("D1",), "warm", 6)


def test_a_zener_before_the_tubes_draw_with_the_mains_high(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = (
        "mains 120 V 60 Hz tolerance 10 %\ntransformer T1\nprimary pri 120 V 5 ohm\n"
        "winding ht 200 V 60 mA 100 ohm\nwinding warm 6.3 V 1 A\ntube V1 6V6GT heater T1.warm\n"
        "T1.warm.1 -- gnd\nT1.ht.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> B1\n"
        "B1 --+[C1 47 uF 450 V]-- gnd\nB1 --[R1 6k8 5 W]-- REG\n"
        "gnd --[D2 zener 150 V 2 W]-> REG\nREG -- V1.screen\nB1 -- V1.plate\n"
        "V1.grid --[R2 100k]-- gnd\nV1.cathode --[R3 1k 3 W]-- gnd\n"
    )
    looked = review(text)
    found = only(looked, "supply.zener-overload")
    assert found.state == "cold"
    # Row 61: Izmax = (Vin max - Vz) / R with no load, 1.1 times the supply of the cold state.
    supply = looked.solutions["cold"].wave("B1").dc
    by_hand = 150 * (1.1 * supply - 150) / 6800
    assert found.evidence["power"].value == pytest.approx(by_hand, rel=0.03)
    assert found.level == ("notice" if by_hand > 2 else "advice")
