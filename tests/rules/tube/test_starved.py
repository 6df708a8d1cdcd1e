"""Screens with a fraction of the volts their tubes are made for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "tube.screen-starved"


def test_the_screen_of_an_if_stage(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """A 6BA6 is published with 100 V on its screen; 470k leaves less than half of that."""
    looked = sample(RULE, "wrong")
    found = only(looked, RULE)
    assert (found.at, found.level, found.state) == (("R3", "V1"), "notice", "warm")
    screen = looked.solutions["warm"].wave("V1.screen").dc
    assert found.evidence["left"].value == pytest.approx(screen / 250, rel=1e-6)
    assert found.limit.value == pytest.approx(75)
    assert "47 kohm looks likelier for R3" in found.remedy


def test_the_screen_of_an_output_tube_behind_a_stage(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{RULE}/output", "wrong"), RULE)
    assert (found.at, found.level) == (("V2", "V2.screen", "R4"), "notice")
    assert found.evidence["share"].value < 0.8
    assert found.remedy == "Feed the screen from B1, ahead of R4"


@pytest.mark.parametrize("part", ["F1 fuse 0.1 A 250 V", "M1 meter 10 mA 5 ohm", "PL1 #47"])
def test_what_has_no_ohms_in_the_way_to_a_screen(
    part: str, review: Callable[[str], Review]
) -> None:
    """It broke down at the amperes of a fuse."""
    drawn = (PAIRS / RULE / "wrong.tube").read_text("utf-8")
    assert "V1.screen" in drawn
    looked = review(drawn.replace("V1.screen", "S", 1) + f"\nS --[{part}]-- V1.screen\n")
    assert looked.readable
    assert not [n for n in looked.not_judged if n.kind.broken]


@pytest.mark.parametrize(
    ("pair", "old", "new", "told"),
    [
        # A load resistor makes it an audio stage, which works with a fraction.
        ("", "B1 -- IF1.pri.2", "B1 --[R9 22k 1 W]-- V1.plate", 0),
        # A tenth of 68k would give the screen 200 V: small on purpose, or wrong by less.
        ("", "R3 470k", "R3 68k", 0),
        # A limiter has little on its plate as well.
        ("", "B1 -- IF1.pri.2", "V1.screen -- IF1.pri.2", 0),
        # A dropper of the screen's own, and one from which no stage is fed.
        ("/output", "B1 --[R4 33k 1 W]-- B2", "B1 --[R4 2k2 1 W]-- B2", 0),
        ("/output", "B2 --[R5 100k 0.5 W]", "B1 --[R5 100k 0.5 W]", 0),
    ],
)
def test_screens_that_are_meant(
    pair: str, old: str, new: str, told: int, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / f"{RULE}{pair}" / "wrong.tube").read_text("utf-8")
    assert old in text
    looked = review(text.replace(old, new))
    assert sum(f.rule == RULE for f in looked.findings) == told
