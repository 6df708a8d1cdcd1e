"""Droppers and windings that leave stages a fraction of their supply."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
DROPPER, WINDING = "supply.dropper-starves", "supply.winding-too-low"


def count(looked: Review, rule: str) -> int:
    assert looked.readable
    return sum(f.rule == rule for f in looked.findings)


def test_a_dropper_a_decade_too_large(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """Two stages of 100k and some 130k each, 115k together: of 300 V 330k leaves a quarter."""
    looked = sample(DROPPER, "wrong")
    found = only(looked, DROPPER)
    left = looked.solutions["warm"].wave("B2").dc
    assert (found.at, found.level, found.state) == (("R1", "B2"), "notice", "warm")
    assert left == pytest.approx(300 * 115 / 445, rel=0.1)
    assert found.evidence["takes"].value == pytest.approx(1 - left / 300, rel=1e-6)
    assert "33 kohm would leave" in found.remedy


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("R1 330k", "R1 47k", 0),
        # What goes to gnd there makes it the upper half of a divider.
        ("signal IN", "B2 --[R9 47k 1 W]-- gnd\nsignal IN", 0),
        ("signal IN", "tube V9 0A2\nB2 -- V9.plate\nV9.cathode -- gnd\nsignal IN", 0),
        # So much that a tenth would not do either: another matter.
        ("R1 330k", "R1 3M3", 0),
    ],
)
def test_what_is_no_starving_dropper(
    old: str, new: str, told: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / DROPPER / "wrong.tube").read_text("utf-8")
    assert old in text
    assert count(review(text.replace(old, new)), DROPPER) == told


def test_the_volts_of_the_whole_for_those_of_a_side(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """240 V with a tap is 120 V a side: about 150 V of 450 V."""
    looked = sample(WINDING, "wrong")
    found = only(looked, WINDING)
    assert (found.at, found.level, found.state) == (
        ("T1.ht", "C1", "C2", "C3"), "notice", "warm",
    )  # fmt: skip
    most = looked.solutions["warm"].wave("RES").dc / 450
    assert found.evidence["share"].value == pytest.approx(most, rel=1e-6)
    assert found.evidence["side"].value == pytest.approx(120)
    assert "240 V ct 240 V" in found.remedy


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("450 V", "250 V", 0),  # capacitors for what they get
        ("240 V ct", "300 V ct", 0),
        ("C3 16 uF 450 V", "C3 16 uF 350 V", 1),
    ],
)
def test_capacitors_that_were_bought_for_it(
    old: str, new: str, told: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / WINDING / "wrong.tube").read_text("utf-8")
    assert old in text
    assert count(review(text.replace(old, new)), WINDING) == told
