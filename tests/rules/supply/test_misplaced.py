"""Two chokes with no capacitor between them, and a doubler with gnd on its middle."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
CHOKES, DOUBLER = "supply.choke-unfiltered", "supply.doubler-off-its-end"


def count(looked: Review, rule: str) -> int:
    assert looked.readable
    return sum(f.rule == rule for f in looked.findings)


def test_the_first_capacitor_on_the_wrong_side(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample(CHOKES, "wrong"), CHOKES)
    assert (found.at, found.level, found.state) == (("C1", "L1", "L2"), "notice", "drawing")
    assert found.evidence["capacitor"].value == pytest.approx(20e-6)
    assert found.remedy == "Take C1 from MID to gnd, or fit another capacitor there"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        # A capacitor at the rectifier and one between is the usual filter; 100 nF filters nothing.
        ("MID --[L2", "MID --+[C9 8 uF 600 V]-- gnd\nMID --[L2", 0),
        ("MID --[L2", "MID --[C9 100 nF 1000 V]-- gnd\nMID --[L2", 1),
        # A small one against interference is no reservoir; a choke for radio filters nothing.
        ("RES --+[C1 20 uF 700 V film]", "RES --[C1 100 nF 1000 V]", 0),
        ("L2 6 H 120 ohm", "L2 10 mH 20 ohm", 0),
        ("[L2 6 H 120 ohm 160 mA insulation 2500 V]", "[R9 120 ohm 5 W]", 0),
    ],
)
def test_what_makes_it_one(old: str, new: str, told: int, review: Callable[[str], Review]) -> None:
    text = (PAIRS / CHOKES / "wrong.tube").read_text("utf-8")
    assert old in text
    assert count(review(text.replace(old, new)), CHOKES) == told


def test_the_middle_of_a_doubler_on_gnd(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    looked = sample(DOUBLER, "wrong")
    found = only(looked, DOUBLER)
    assert (found.at, found.level) == (("T1.ht.2", "C2", "LOW"), "notice")
    assert "Take gnd from T1.ht.2 to LOW" in found.remedy
    half = looked.solutions["warm"].wave("B1").dc
    whole = sample(DOUBLER, "right").solutions["warm"].wave("B1").dc
    assert whole == pytest.approx(2 * half, rel=0.1)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        # Something uses the negative half: two supplies are meant.
        ("LOW --[D2", "LOW --[R20 47k 1 W]-- NEG --[R21 10k]-- gnd\nLOW --[D2", 0),
        ("T1.ht.2 --+[C2 47 uF 250 V]-- LOW\n", "", 0),
        ("T1.ht.2 -- gnd", "LOW -- gnd", 0),
    ],
)
def test_two_supplies_that_are_used(
    old: str, new: str, told: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / DOUBLER / "wrong.tube").read_text("utf-8")
    assert old in text
    assert count(review(text.replace(old, new)), DOUBLER) == told
