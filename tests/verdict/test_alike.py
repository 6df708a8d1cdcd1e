"""What is said alike of symmetrical halves is told once."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIR = """B1 --+[E1 420 V 1 A]-- gnd
BIAS --+[E2 5 V]-- MINUS
BIAS -- gnd
tube V1 6L6GC
tube V2 6L6GC
pot P1 10k linear at 50 %
P1.top -- MINUS
P1.bottom -- gnd
P1.wiper --[R1 100k]-- V1.grid
P1.wiper --[R2 100k]-- V2.grid
B1 --[R3 100 ohm 20 W]-- V1.plate
B1 --[R4 100 ohm 20 W]-- V2.plate
B1 --[R5 4k7 5 W]-- V1.screen
B1 --[R6 4k7 5 W]-- V2.screen
V1.cathode -- gnd
V2.cathode -- gnd
B1 --[C1 22 uF 400 V]+-- gnd
"""


def test_a_pot_is_the_same_for_both_halves(review: Callable[[str], Review]) -> None:
    """The trimmer is no point: two tubes that hang on it are told of together."""
    found = [f for f in review(PAIR).findings if f.rule == "tube.plate-dissipation"]
    assert [f.at for f in found] == [("V1", "P1", "V2")]
    assert found[0].message.endswith("(the same at V2)")


CAPACITORS = """B1 --+[E1 520 V]-- gnd
B1 --+[C1 22 uF {first} V]-- gnd
B1 --+[C2 47 uF 500 V]-- gnd
B1 --[R1 100k 5 W]-- gnd
"""


def test_sizes_differ_and_figures_do_not(review: Callable[[str], Review]) -> None:
    looked = review(CAPACITORS.format(first=500))
    assert [f.at for f in looked.findings if f.rule == "capacitor.over-voltage"] == [("C1", "C2")]


def test_other_figures_are_another_finding(review: Callable[[str], Review]) -> None:
    looked = review(CAPACITORS.format(first=450))
    at = [f.at for f in looked.findings if f.rule == "capacitor.over-voltage"]
    assert sorted(at) == [("C1",), ("C2",)]
