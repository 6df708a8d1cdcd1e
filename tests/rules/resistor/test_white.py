"""A follower over a tube that it steers itself: its plate resistor senses, and is no load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

WHITE = """tube V1 12BH7A
B1 --+[E1 270 V]-- gnd
signal IN 1 V 1 kHz
IN --[C1 220n 630 V film]-- V1A.grid
B1 --[R1 470k]-- V1A.grid --[R2 390k]-- gnd
B1 --[R3 470 ohm 1 W]-- V1A.plate --[C2 220n 630 V film]-- V1B.grid --[R4 470k]-- gnd
V1B.cathode --[R5 330 ohm 1 W]-- gnd
V1B.plate -- {below}
V1A.cathode --+[C3 100 uF 250 V]-- OUT --[R6 4k7]-- gnd
"""
LOADS = ("resistor.unlikely-value", "tube.idles-at-an-end")


@pytest.mark.parametrize(
    ("below", "more", "fires"),
    [
        ("V1A.cathode", "", False),
        ("X", "B1 --[R7 22k 2 W]-- X\nV1A.cathode --[R8 22k 2 W]-- gnd\n", True),
    ],
)
def test_a_small_resistor_senses_only_over_the_tube_it_steers(
    below: str, more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """The same 470 ohm ahead of an ordinary second stage are a lost k."""
    looked = review(WHITE.format(below=below) + more)
    assert any(f.rule in LOADS and "R3" in f.at for f in looked.findings) is fires


def test_its_output_capacitor_is_emptied_by_the_tube_below(review: Callable[[str], Review]) -> None:
    """Cold it is empty; warm the tube below is across it, until it is pulled."""
    looked = review(WHITE.format(below="V1A.cathode"))
    (left,) = [f for f in looked.findings if f.rule == "supply.no-bleeder" and "C3" in f.at]
    assert left.level == "advice"
    assert left.message.endswith("nothing drains it but V1B while hot and in the socket")
