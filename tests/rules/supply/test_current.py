"""Input chokes and gas regulators."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
CHOKE = """mains {hertz} 120 V
transformer T1
primary pri 120 V 3 ohm
winding ht 300 V ct 300 V 200 mA 60 ohm
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RAW
T1.ht.2 --[D2 1N4007]-> RAW
RAW --[L1 10 H 100 ohm]-- B1
B1 --+[C1 40 uF 600 V]-- gnd
B1 --[R1 {load} 100 W wirewound]-- gnd
"""


BELOW = "supply.choke-below-critical"


def choke(load: str, hertz: int = 60) -> str:
    return CHOKE.replace("{hertz} 120 V", f"120 V {hertz} Hz").format(load=load)


@pytest.mark.parametrize(
    ("hertz", "load", "stops"),
    [
        # Critical load of 10 H: 11.3 kohm at 60 Hz, 9.42 kohm at 50 Hz (derived, R = 6 pi f L).
        (60, "9k1", False),
        (60, "15k", True),
        (50, "7k5", False),
        (50, "12k", True),
    ],
)
def test_the_critical_load(
    hertz: int, load: str, stops: bool, review: Callable[[str], Review]
) -> None:
    looked = review(choke(load, hertz))
    found = [f for f in looked.findings if f.rule == "supply.choke-below-critical"]
    assert bool(found) is stops
    for f in found:
        assert (set(f.at), f.level) == ({"L1", "R1"}, "notice")
        ohms = {"15k": 15e3, "12k": 12e3}[load]
        assert f.limit.value == pytest.approx(ohms / (18.8496 * hertz), rel=2e-3)


def test_a_choke_behind_a_capacitor_is_another_matter(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = choke("47k") + "RAW --+[C2 20 uF 600 V]-- gnd\n"
    only(review(text), "supply.choke-below-critical", count=0)


def test_choke_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    looked = sample("supply.choke-below-critical", "wrong")
    found = only(looked, "supply.choke-below-critical")
    assert found.limit.value == pytest.approx(30e3 / 1131, rel=2e-3)
    # Below critical the output climbs from 0.9 E towards 1.41 E (found), E = 300 V.
    assert looked.solutions["warm"].wave("B1").dc > 1.15 * 0.9 * 300
    mended = sample("supply.choke-below-critical", "right").solutions["warm"].wave("B1").dc
    assert mended == pytest.approx(0.9 * 300, rel=0.06)


GLOW = "tube V1 0A2\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 {ohms} 10 W wirewound]-- V1.plate\n"


@pytest.mark.parametrize(
    ("ohms", "limit"),
    [
        # 0A2: 5 to 30 mA (found) at 150 V: 150 V across the resistor.
        ("33k", 5.0),
        ("22k", None),
        ("5k6", None),
        ("4k7", 30.0),
    ],
)
def test_the_window_of_a_gas_regulator(
    ohms: str, limit: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(GLOW.format(ohms=ohms) + "V1.cathode -- gnd\n")
    found = [f for f in looked.findings if f.rule == "supply.regulator-current"]
    assert [f.limit.value * 1000 for f in found] == pytest.approx([limit] if limit else [])
    for f in found:
        resistance = {"33k": 33.0, "4k7": 4.7}[ohms]
        assert (f.evidence["current"].value * 1000) == pytest.approx(150 / resistance, rel=0.03)
        assert ("smaller" in f.remedy) is (limit == 5.0)


@pytest.mark.parametrize(("farads", "count"), [("100 nF", 0), ("1 uF", 1)])
def test_a_capacitor_right_across_it(
    farads: str, count: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = GLOW.format(ohms="10k") + f"V1.cathode -- gnd\nV1.plate --[C1 {farads} 250 V]-- gnd\n"
    only(review(text), "supply.regulator-current", count=count)


def test_regulator_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("supply.regulator-current", "wrong"), "supply.regulator-current")
    assert (found.at, found.level, found.state) == (("V1", "R1"), "notice", "warm")
    assert (found.evidence["current"].value * 1000) == pytest.approx(100 / 22, rel=0.02)


def test_in_standby_it_counts_where_a_capacitor_is_beyond_its_rating(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """Load off, 100 kohm left: 1131 ohm a henry (60 Hz) make it 88 H, and C1 is told with it."""
    looked = sample("supply.choke-below-critical/standby", "wrong")
    found = only(looked, "supply.choke-below-critical")
    assert (found.state, found.at) == ("standby S1", ("L1", "R1"))
    assert found.level == "caution"  # at high line C1 is beyond its surge voltage
    assert found.limit.value == pytest.approx(100e3 / 1131, rel=5e-3)
    assert "capacitor.over-voltage at C1" in found.evidence["explains"]
    assert looked.solutions["warm"].wave("B1").dc == pytest.approx(0.9 * 300, rel=0.06)


def test_a_bleeder_a_decade_too_large_lets_an_unloaded_supply_soar(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """12 H at 50 Hz: 6 pi 50 12 = 11.3 kohm. 0.9 of 310 V with the load, towards 1.41 without."""
    found = only(sample("supply.choke-below-critical/unloaded", "wrong"), BELOW)
    assert (found.at, found.level, found.state) == (("R1", "L1"), "notice", "standby S2")
    assert found.evidence["rise"].value == pytest.approx(1.41 / 0.9, rel=0.06)
    assert "11.3 kohm is critical" in found.message
    assert "10 kohm would suit R1" in found.remedy


@pytest.mark.parametrize(
    ("old", "new", "count"),
    [
        # One that is to drain the capacitor and no more: 10k would burn 6.8 W in it.
        ("R1 100k 25 W", "R1 100k 5 W", 0),
        # Not twice what is critical, or ten times that and more: no slip of a decade.
        ("R1 100k", "R1 22k", 0),
        ("R1 100k", "R1 150k", 0),
        ("R1 100k", "R1 30k", 1),
        ("R1 100k 25 W", "R1 100k", 0),
    ],
)
def test_a_bleeder_rated_for_what_a_tenth_would_burn(
    old: str, new: str, count: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / BELOW / "unloaded" / "wrong.tube").read_text("utf-8")
    found = [f for f in review(text.replace(old, new)).findings if f.rule == BELOW]
    assert len(found) == count


@pytest.mark.parametrize("volts", [440, 480])
def test_a_supply_that_soars_in_standby_within_its_ratings_is_meant(
    volts: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / "supply.choke-below-critical" / "standby" / "wrong.tube").read_text("utf-8")
    looked = review(text.replace("40 uF 350 V", f"40 uF {volts} V"))
    crest = 1.1 * looked.solutions["standby S1"].wave("B1").high  # the mains 10 % high
    found = [f.rule for f in looked.findings if f.rule == "supply.choke-below-critical"]
    assert bool(found) is (crest > volts)


@pytest.mark.parametrize(("load", "stops"), [("10932 ohm", 0), ("10955 ohm", 1)])
def test_two_percent_of_the_mean_is_nothing(
    load: str, stops: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """The least current is 2.12 % of the mean, and 1.91 %, by the solver."""
    only(review(choke(load)), "supply.choke-below-critical", count=stops)


@pytest.mark.parametrize(("load", "stops"), [("9k1", 0), ("15k", 1)])
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("RAW --[L1 10 H 100 ohm]-- B1", "B1 --[L1 10 H 100 ohm]-- RAW"),
        # A few nanofarads against interference leave it a choke input.
        ("B1 --+[C1", "RAW --[C9 10 nF 1000 V]-- gnd\nB1 --+[C1"),
        (
            "T1.ht.1 --[D1 1N4007]-> RAW\nT1.ht.2 --[D2 1N4007]-> RAW\n",
            "tube V1 GZ34\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\nV1.cathode -- RAW\n",
        ),
    ],
)
def test_however_the_input_is_drawn(
    old: str,
    new: str,
    load: str,
    stops: int,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    only(review(choke(load).replace(old, new)), "supply.choke-below-critical", count=stops)


def test_the_bleeder_that_is_all_the_load_is_named(review: Callable[[str], Review]) -> None:
    """10 H at 60 Hz holds up to 11.3 kohm (R = 6 pi f L): of 82 kohm one bleeder is all."""
    looked = review(choke("82k"))
    (found,) = (f for f in looked.findings if f.rule == "supply.choke-below-critical")
    assert found.at == ("L1", "R1")
    assert "a load of 82 kohm, which is R1 alone, needs about 72.5 H" in found.message
