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


@pytest.mark.parametrize(
    ("held", "told"),
    [("1k", True), ("4k7", True), ("10k", False), ("100k", False)],
)
def test_a_cascode_whose_grid_is_too_low(
    held: str, told: bool, review: Callable[[str], Review]
) -> None:
    """With the upper grid at 5.2 V the lower plate has some volts more; 5 % of 250 are 12.5."""
    text = CASCODE.format(held=held).replace("6DJ8", "12AX7")
    found = [f for f in review(text).findings if f.rule == RULE]
    assert bool(found) is told
    assert [f.at for f in found] == [("R4", "V1B", "V1A")] * told
    for f in found:  # of the whole supply, the load's share and all, but for the cathode's volt
        share = f.evidence["across"].value / 250
        assert f.evidence["share"].value == pytest.approx(share, rel=0.01)
        assert "of 250 V over both V1A gets" in f.message


@pytest.mark.parametrize(("load", "used_up"), [("22k 2 W", False), ("1M", True)])
def test_above_a_load_the_upper_one_may_be_used_up(
    load: str, used_up: bool, review: Callable[[str], Review]
) -> None:
    """Behind 1 Mohm 250 V give a quarter of a milliampere: next to nothing over the upper one."""
    looked = review(CASCODE.format(held="100k").replace("R6 22k 2 W", f"R6 {load}"))
    assert not [f for f in looked.findings if f.rule == RULE]
    warm = looked.solutions["warm"]
    upper = warm.wave("V1B.plate").dc - warm.wave("V1B.cathode").dc
    assert (upper < 0.05 * 250) is used_up


@pytest.mark.parametrize(("held", "told"), [("3M3", False), ("10M", True)])
def test_without_a_load_the_upper_one_wants_its_share_too(
    held: str, told: bool, review: Callable[[str], Review]
) -> None:
    """Its grid at 250 x 10 / 10.22 = 245 V and its cathode a little above: 5 V of 250 are 2 %.

    With 3.3 Mohm the grid is at 234 V, and 5 % of the supply are 12.5 V.
    """
    text = CASCODE.format(held=held).replace("--[R6 22k 2 W]--", "--")
    found = [f for f in review(text.replace("R2 330 ohm", "R2 1M")).findings if f.rule == RULE]
    assert [f.at for f in found] == [("R4", "V1B", "V1A")] * told
    assert all("V1B gets" in f.message for f in found)


def test_a_load_that_leads_to_no_supply_makes_no_stack(review: Callable[[str], Review]) -> None:
    text = CASCODE.format(held="2k").replace("B1 --[R6 22k 2 W]--", "X --[R6 22k 2 W]--")
    assert [f for f in review(text).findings if f.rule == RULE] == []


@pytest.mark.parametrize("held", ["27k", "100k", "200k"])
def test_a_cascode_with_its_grid_up_is_sound(held: str, review: Callable[[str], Review]) -> None:
    text = CASCODE.format(held=held).replace("--[R6 22k 2 W]--", "--")
    looked = review(text)
    warm = looked.solutions["warm"]
    share = (warm.wave("V1A.plate").dc - warm.wave("V1A.cathode").dc) / (
        250 - warm.wave("V1A.cathode").dc
    )
    assert bool([f for f in looked.findings if f.rule == RULE]) is (share < 0.05 or share > 0.95)
