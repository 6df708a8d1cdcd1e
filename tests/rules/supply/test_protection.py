"""Fuses behind the transformer, and resistors ahead of what may arc."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SET = """mains 120 V 60 Hz
transformer T1
primary pri 120 V 5 ohm
winding ht 250 V ct 250 V 70 mA 180 ohm
winding fil 5 V 2 A
tube V1 5Y3GT heater T1.fil
RES --+[C1 10 uF 600 V]-- gnd
RES --[R1 10k 25 W]-- gnd
"""
PLATES = "T1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        (PLATES + "T1.ht.ct -- gnd\nV1:8 -- RES\n", True),
        (PLATES + "T1.ht.ct --[F2 0.16 A slow]-- gnd\nV1:8 -- RES\n", False),
        (PLATES + "T1.ht.ct -- gnd\nV1:8 --[F2 0.16 A slow]-- RES\n", False),
        (PLATES + "T1.ht.ct --[R9 10 2 W fusible]-- gnd\nV1:8 -- RES\n", False),
        (PLATES + "T1.ht.ct --[R9 10 2 W]-- gnd\nV1:8 -- RES\n", True),
        # Choke input: behind the choke (found).
        (PLATES + "T1.ht.ct -- gnd\nV1:8 --[L1 10 H 200 ohm]-- X --[F2 0.16 A]-- RES\n", False),
        # A fuse elsewhere is no fuse here.
        (PLATES + "T1.ht.ct -- gnd\nV1:8 -- RES\nT1.pri.1 --[F1 1 A]-- line\n", True),
    ],
)
def test_where_a_fuse_counts(wires: str, found: bool, review: Callable[[str], Review]) -> None:
    hits = [f for f in review(SET + wires).findings if f.rule == "supply.no-fuse-after-rectifier"]
    assert bool(hits) is found
    assert {f.level for f in hits} <= {"advice"}


@pytest.mark.parametrize(("half", "found"), [(47.5, 0), (52.5, 1)])
def test_from_a_hundred_volts_on(
    half: float, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = SET.replace("250 V ct 250 V", f"{half} V ct {half} V") + PLATES
    looked = review(text + "T1.ht.ct -- gnd\nV1:8 -- RES\n")
    only(looked, "supply.no-fuse-after-rectifier", count=found)


def test_the_size_proposed(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    looked = sample("supply.no-fuse-after-rectifier", "wrong")
    found = only(looked, "supply.no-fuse-after-rectifier")
    warm = looked.solutions["warm"]
    # All the plate current comes back through the tap, in gulps: rms above the mean.
    rms, mean = found.evidence["return_rms"].value, warm.readings["V1"].plate_ma / 1000
    assert mean < rms < 2.5 * mean
    size = min(f for f in (0.05, 0.063, 0.08, 0.1, 0.125, 0.16) if f >= 2 * rms)
    assert f"{size:g} A slow" in found.remedy


RIG = """type BIGPA like 807
rating plate-voltage 2000 V
tube V1 BIGPA
B1 --+[E1 {volts} V]-- gnd
B1 --[R9 1k 50 W]-- HT
HT --[C1 {farads} 2500 V]-- gnd
HT --[R8 {series} 25 W]-- TOP --[L1 2.5 mH 4 ohm air]-- V1.plate
V1.cathode -- gnd
V1.screen -- gnd
gnd --+[E2 50 V]-- V1.grid
"""


@pytest.mark.parametrize(
    ("volts", "farads", "series", "found"),
    [
        (1500, "16 uF", "1 ohm", True),
        (1500, "16 uF", "5.6 ohm", True),  # 9.6 ohm with the choke's 4
        (1500, "16 uF", "10 ohm", False),
        (1500, "10 uF", "1 ohm", False),
        (950, "16 uF", "1 ohm", False),
    ],
)
def test_a_kilovolt_ten_microfarads_ten_ohms(
    volts: int, farads: str, series: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = RIG.format(volts=volts, farads=farads, series=series)
    hits = [f for f in review(text).findings if f.rule == "supply.no-fault-limiting"]
    assert bool(hits) is found
    for f in hits:
        assert (f.level, f.at) == ("caution", ("C1", "V1"))
        assert f.evidence["series"].value == pytest.approx(float(series.split()[0]) + 4)
        assert f.evidence["energy"].value == pytest.approx(0.5 * 16e-6 * 1500**2, rel=2e-3)


def test_the_resistor_proposed_holds_the_arc_to_fifty_amperes(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample("supply.no-fault-limiting", "wrong"), "supply.no-fault-limiting")
    # Ipk = V / R: 1.49 kV over 8 ohm; 27 ohm is the E12 value next to 1490 / 50.
    volts = found.evidence["voltage"].value
    assert "186 A" in found.message
    assert volts / 8 == pytest.approx(186, rel=5e-3)
    assert found.evidence["resistor"].value in (27, 33)
    assert math.isclose(volts / found.evidence["resistor"].value, 50, rel_tol=0.15)


def test_inrush_of_a_switch_ahead_of_the_rectifier(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(
        sample("supply.switch-ahead-of-rectifier", "wrong"), "supply.switch-ahead-of-rectifier"
    )
    # Row 63: sqrt(2) E / Rs; half of 180 ohm, and 5 ohm of primary by the square of 250 / 120.
    least = 90 + 5 * (250 / 120) ** 2
    assert found.evidence["inrush"].value == pytest.approx(math.sqrt(2) * 250 / least, rel=1e-3)


@pytest.mark.parametrize(
    ("volts", "farads", "choke", "found"),
    [
        (1050, "16 uF", "2.5 mH", 1),
        (1500, "10.5 uF", "2.5 mH", 1),
        (1500, "16 uF", "0.475 H", 1),
        (1500, "16 uF", "0.525 H", 0),
    ],
)
def test_just_beyond_each_limit(
    volts: int,
    farads: str,
    choke: str,
    found: int,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    text = RIG.format(volts=volts, farads=farads, series="1 ohm").replace("2.5 mH", choke)
    only(review(text), "supply.no-fault-limiting", count=found)


@pytest.mark.parametrize(("jack", "found"), [("HT --[J1 jack]-- gnd\n", 1), ("", 0)])
def test_a_jack_right_on_the_capacitor(
    jack: str, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Nothing else is on its net that a current could come through."""
    text = "HT --+[E1 1500 V]-- gnd\nHT --[C1 16 uF 2500 V]-- gnd\n"
    only(review(text + jack), "supply.no-fault-limiting", count=found)
