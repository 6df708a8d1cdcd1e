"""Two triodes, one upon the other, and how they share the supply."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.stack-starved"


def test_the_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    looked = sample(RULE, "wrong")
    found = only(looked, RULE)
    assert (found.at, found.state, found.level) == (("R5", "V1B", "V1A"), "warm", "notice")
    warm = looked.solutions["warm"]
    low = warm.wave("V1A.plate").dc - warm.wave("V1A.cathode").dc
    assert found.evidence["across"].value == pytest.approx(low, rel=1e-4)
    whole = 320 - warm.wave("V1A.cathode").dc
    assert found.evidence["share"].value == pytest.approx(low / whole, rel=1e-4)
    assert found.remedy.startswith("Take R5 to FOOT, ")
    mended = sample(RULE, "right").solutions["warm"]
    assert 0.3 < mended.wave("V1A.plate").dc / 320 < 0.7


CASCODE = """tube V1 6DJ8
B1 --+[E1 250 V]-- gnd
signal IN 0.01 V 1 kHz
IN --[C1 100 nF 400 V film]-- V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 330 ohm]-- gnd
V1A.plate -- V1B.cathode
B1 --[R3 220k]-- G2 --[R4 {held}]-- gnd
G2 --[C2 1 uF 400 V film]-- gnd
G2 --[R5 1k]-- V1B.grid
B1 --[R6 22k 2 W]-- V1B.plate
"""


@pytest.mark.parametrize(("supply", "told"), [("B1 -- V1B.plate", True), ("", False)])
def test_only_a_plate_that_is_on_a_supply_makes_a_stack(
    supply: str, told: bool, review: Callable[[str], Review]
) -> None:
    """A grid at 2.3 V lets the lower plate have about three volts of 250."""
    text = CASCODE.format(held="2k") + supply + "\n"
    if supply:
        text = text.replace("B1 --[R6 22k 2 W]-- V1B.plate\n", "")
    found = [f for f in review(text).findings if f.rule == RULE]
    assert bool(found) is told
    assert all("share the supply about half" in f.remedy or "Take R4" in f.remedy for f in found)


@pytest.mark.parametrize("held", ["27k", "100k", "200k"])
def test_a_cascode_with_its_grid_up_is_sound(held: str, review: Callable[[str], Review]) -> None:
    text = CASCODE.format(held=held).replace("--[R6 22k 2 W]--", "--")
    looked = review(text)
    warm = looked.solutions["warm"]
    share = (warm.wave("V1A.plate").dc - warm.wave("V1A.cathode").dc) / (
        250 - warm.wave("V1A.cathode").dc
    )
    assert bool([f for f in looked.findings if f.rule == RULE]) is (share < 0.1 or share > 0.9)
