"""De-rating, swing above the supply, and terminals behind capacitors, by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.rules.capacitor.margin import (
    LARGEST_SHARE,
    RATING_SHARE,
    SUPPLY_SHARE,
    usable_share,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


@pytest.mark.parametrize(
    ("volts", "rating", "found"),
    [
        # Found: 270 V x 1.2 = 324 V against 350 V x 0.8 = 280 V: reject, use 450 V.
        (270, 350, True),
        (270, 450, False),
        # The edge: 350 V x 0.8 / 1.2 = 233.3 V.
        (233, 350, False),
        (235, 350, True),
        # The largest made are held to 90 % (memory).
        (440, 500, False),
        (460, 500, True),
    ],
)
def test_the_strict_derating(
    volts: int, rating: int, found: bool, review: Callable[[str], Review]
) -> None:
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --+[C1 10 uF {rating} V]-- gnd\n"
    hits = [f for f in review(text).findings if f.rule == "capacitor.little-margin"]
    assert bool(hits) is found
    for f in hits:
        assert (f.level, f.at) == ("advice", ("C1",))
        assert f.evidence["dc"].value == pytest.approx(volts, rel=1e-4)
        assert {270: "450 V", 235: "400 V", 460: "two in series"}[volts] in f.remedy


def test_a_film_capacitor_is_not_derated(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = "B1 --+[E1 350 V]-- gnd\nB1 --[C1 100 nF 400 V]-- gnd\n"
    only(review(text), "capacitor.little-margin", count=0)


def test_ripple_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    # Found: the rating has to exceed DC plus the peak of the ripple.
    looked = sample("capacitor.over-voltage/ripple", "wrong")
    found = only(looked, "capacitor.over-voltage")
    warm = looked.solutions["warm"].wave("RES")
    assert warm.dc < 250 < warm.high
    assert found.evidence["peak"].value > 250
    # Upper bound of the ripple, I / (2 f C): crest less half of it is the DC at least.
    assert warm.high - warm.low < warm.dc / 1800 / (2 * 60 * 20e-6)


STAGE = """tube V1 6V6GT
B1 --+[E1 {volts} V]-- gnd
{load}
B1 --[R2 22k 5 W]-- V1.screen
V1.cathode --[R3 470 ohm 3 W]-- gnd
V1.grid --[R4 100k 0.5 W]-- gnd
"""
CHOKE = "B1 --[L1 2.5 mH 1 ohm air]-- V1.plate"


def stage(more: str, load: str = CHOKE, volts: int = 300) -> str:
    return STAGE.format(volts=volts, load=load) + more


@pytest.mark.parametrize(("rating", "found"), [(400, True), (560, True), (630, False)])
def test_a_choke_fed_plate_swings_to_twice_the_supply(
    rating: int, found: bool, review: Callable[[str], Review]
) -> None:
    tank = f"V1.plate --[C1 1 nF {rating} V]-- OUT --[L2 20 uH 1 ohm]-- gnd\n"
    looked = review(stage(tank))
    hits = [f for f in looked.findings if f.rule == "capacitor.no-room-for-swing"]
    assert bool(hits) is found
    cathode = looked.solutions["warm"].wave("V1.cathode").dc
    for f in hits:
        assert f.level == "notice"
        # 300 V at rest and 300 V less the cathode's voltage of swing.
        assert f.evidence["peak"].value == pytest.approx(600 - cathode, rel=1e-3)
        assert "630 V" in f.remedy


@pytest.mark.parametrize(("leak", "found"), [("1.2k", True), ("1.3k", False)])
def test_a_far_end_that_follows_the_plate(
    leak: str, found: bool, review: Callable[[str], Review]
) -> None:
    """2.5 mH / (R 1 nF) are 2.08 and 1.92 kohm, about the 2 kohm below which it hardly swings."""
    looked = review(stage(f"V1.plate --[C1 1 nF 400 V]-- OUT --[R5 {leak}]-- gnd\n"))
    assert any(f.rule == "capacitor.no-room-for-swing" for f in looked.findings) is found


def test_with_a_jack_behind_it_is_a_warning(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    looked = sample("capacitor.no-room-for-swing", "wrong")
    found = only(looked, "capacitor.no-room-for-swing")
    assert (found.level, found.at) == ("warning", ("C1",))
    assert 550 < found.evidence["peak"].value < 600


@pytest.mark.parametrize(
    "text",
    [
        # A resistor-fed plate stays below its supply.
        stage(
            "V1.plate --[C1 1 nF 400 V]-- OUT --[R5 10k]-- gnd\n", "B1 --[R1 4k7 10 W]-- V1.plate"
        ),
        # A filter capacitor holds the plate where it is: a follower behind a choke.
        stage("V1.plate --+[C1 47 uF 450 V]-- gnd\n"),
    ],
)
def test_plates_that_do_not_swing(
    text: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(text), "capacitor.no-room-for-swing", count=0)


JACK = "jack J1\nJ1.sleeve -- gnd\nV1.plate --[C1 1 nF 1000 V]-- OUT -- J1.tip\n"


@pytest.mark.parametrize(
    ("more", "load", "level"),
    [
        ("", CHOKE, "danger"),
        ("", "B1 --[R1 4k7 10 W]-- V1.plate", "caution"),
        ("OUT --[L2 2.5 mH 40 ohm]-- gnd\n", CHOKE, None),
        ("OUT --[R5 1M]-- gnd\n", CHOKE, None),
        ("OUT --[C2 10 nF 1000 V]-- gnd\n", CHOKE, "danger"),  # a capacitor is no path
    ],
)
def test_a_terminal_nothing_holds(
    more: str, load: str, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(stage(JACK + more, load))
    found = [f for f in looked.findings if f.rule == "capacitor.undrained-output"]
    assert [f.level for f in found] == ([level] if level else [])
    for f in found:
        assert f.at == ("C1", "J1")
        assert f.evidence["voltage"].value > 60


@pytest.mark.parametrize(
    ("farads", "drain"),
    [
        ("9.9 uF", "100 kohm to 1 Mohm"),
        ("10.1 uF", "82 kohm"),  # a second over 10.1 uF is 99 kohm, and the next below is it
        ("220 uF", "3.9 kohm"),
        ("2200 uF", "1 kohm"),
    ],
)
def test_a_large_capacitor_is_drained_within_a_second(
    farads: str, drain: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """Phones that are plugged in get what is not drained yet."""
    text = JACK.replace("[C1 1 nF 1000 V]", f"[C1 {farads} 450 V film]")
    found = only(review(stage(text, "B1 --[R1 4k7 10 W]-- V1.plate")), "capacitor.undrained-output")
    assert found.remedy == f"Put {drain} from OUT to gnd"


def test_below_sixty_volts_it_is_no_matter(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(stage(JACK, volts=55)), "capacitor.undrained-output", count=0)


CHOKED = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
B1 --[L1 2.5 mH 40 ohm air]-- V1.plate
B1 --[R2 22k 5 W]-- V1.screen
V1.cathode --[R3 470 ohm 3 W]-- gnd
V1.grid --[R4 100k 0.5 W]-- gnd
V1.plate --[C1 1 nF {rated} V]-- ANT
"""


@pytest.mark.parametrize(
    ("rated", "far", "standing"),
    [
        (450, "ANT --+[E2 100 V]-- gnd\n", None),  # 150 V and a swing of 240 V
        (350, "ANT --+[E2 100 V]-- gnd\n", 150),
        (400, "", 250),  # a far end that floats may be anywhere: gnd is taken
    ],
)
def test_what_stands_across_it_counts_from_its_far_end(
    rated: int,
    far: str,
    standing: float | None,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    looked = review(CHOKED.format(rated=rated) + far)
    found = only(looked, "capacitor.no-room-for-swing", count=int(standing is not None))
    if standing is not None:
        assert found.evidence["dc"].value == pytest.approx(standing, rel=0.01)


def test_from_500_volts_on_an_electrolytic_is_used_to_nine_tenths() -> None:
    below = RATING_SHARE.value / SUPPLY_SHARE.value
    assert (usable_share(495), usable_share(500)) == (below, LARGEST_SHARE.value)
    assert usable_share(475) == below
