"""Where a plate rests on its load line: decade slips in cathodes and plates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.tube.idle_point import idles_at_an_end

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.idles-at-an-end"
STAGE = """tube V1 {type}
B1 --+[E1 250 V]-- gnd
signal IN 0.1 V
IN -- V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 {cathode}]-- gnd
B1 --[R3 {load} 5 W]-- V1A.plate --[C1 100 nF]-- {out} --[R4 1M]-- gnd
"""


@pytest.mark.parametrize(
    ("kind", "cathode", "load", "remedy"),
    [
        ("12AX7", "1k5", "100k", None),
        ("12AX7", "3k3", "220k", None),
        ("12AU7", "820", "22k", None),
        ("12AX7", "15k", "100k", "R2 (15 kohm) looks ten times too large: try 1.5 kohm"),
        ("12AX7", "1k5", "10k", "R3 (10 kohm) looks ten times too small: try 100 kohm"),
        ("12AX7", "150", "10M", "R3 (10 Mohm) looks ten times too large: try 1 Mohm"),
    ],
)
def test_decades(
    kind: str, cathode: str, load: str, remedy: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(STAGE.format(type=kind, cathode=cathode, load=load, out="OUT"))
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    # The engine folds it under a positive grid; the rule itself is asked here.
    found = list(idles_at_an_end.judge(Case(looked.circuit, looked.solutions)))
    assert [f.remedy for f in found] == ([remedy] if remedy else [])
    for f in found:
        assert (f.level, f.at[0]) == ("notice", "V1A")
        # Kirchhoff: the share is the drop over what is between cathode and supply.
        warm = looked.solutions["warm"]
        plate, low = warm.wave("V1A.plate").dc, warm.wave("V1A.cathode").dc
        assert f.evidence["share"].value == pytest.approx((250 - plate) / (250 - low))
        assert not 0.1 <= f.evidence["share"].value <= 0.95


@pytest.mark.parametrize(
    ("bias", "tail", "remedy"),
    [
        ("1k5", "56k", "Return R1 to FOOT instead of gnd: the tail lifts the cathode off it"),
        ("56k", "1k5", "R2 (56 kohm) looks ten times too large: try 5.6 kohm"),
    ],
)
def test_a_leak_that_the_tail_leaves_behind(
    bias: str, tail: str, remedy: str, review: Callable[[str], Review]
) -> None:
    """A split load rests a volt or so above its tail; its grid has to be lifted with it."""
    text = STAGE.format(type="12AX7", cathode=bias, load="56k", out="OUT").replace(
        f"[R2 {bias}]-- gnd", f"[R2 {bias}]-- FOOT --[R9 {tail} 1 W]-- gnd"
    )
    looked = review(text)
    (found,) = idles_at_an_end.judge(Case(looked.circuit, looked.solutions))
    assert found.remedy == remedy
    # Both resistors carry the current: the cathode stands as far above gnd as the grid is below it.
    current = found.evidence["current"].value
    assert looked.solutions["warm"].wave("V1A.cathode").dc == pytest.approx(57.5e3 * current, 0.01)


def test_a_usual_load_is_not_blamed_for_too_much_bias(review: Callable[[str], Review]) -> None:
    text = STAGE.format(type="12AX7", cathode="1k5", load="100k", out="OUT").replace(
        "IN -- V1A.grid --[R1 1M]-- gnd",
        "IN --[C9 22 nF 400 V film]-- V1A.grid --[R1 1M]-- BIAS\ngnd --+[E2 3 V]-- BIAS",
    )
    looked = review(text)
    (found,) = idles_at_an_end.judge(Case(looked.circuit, looked.solutions))
    assert found.remedy.startswith("Bring the grid of V1A nearer to its cathode, which it is 3")


def test_a_direct_coupled_grid_is_left_alone(review: Callable[[str], Review]) -> None:
    """The second stage rests where the first one puts it."""
    text = STAGE.format(type="12AX7", cathode="1k5", load="100k", out="LAST").replace(
        "--[C1 100 nF]--", "-- V1B.grid\nV1B.cathode --[R7 1M]-- gnd\nB1 --[R8 10k]-- V1B.plate "
        "--[C1 100 nF]--"
    )  # fmt: skip
    assert [f for f in review(text).findings if f.rule == RULE] == []


def test_a_screen_that_is_too_high_lays_the_plate_down(
    sample: Callable[[str, str], Review],
) -> None:
    (found,) = [f for f in sample(f"{RULE}/screen", "wrong").findings if f.rule == RULE]
    assert (found.level, found.at, found.state) == ("notice", ("V1", "R5", "R3", "R2"), "warm")
    assert found.remedy.startswith("Bring the screen of V1 down (a larger R5 than 47 kohm)")
    # Ohm's law: 1.083 mA through 220 kohm is 238 V; cathode at 2.9 V: 238 / 247 = 0.966.
    assert found.evidence["share"].value == pytest.approx(
        found.evidence["current"].value * 220e3 / 247, rel=0.01
    )
