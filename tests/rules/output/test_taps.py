"""Screens on taps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

TEXT = """output T2 6k6 ct taps 43 % : 8 ohm  200 ohm
tube V1 EL34
tube V2 EL34
B1 --+[E1 350 V]-- gnd
B1 -- T2.ct
gnd --+[E2 32 V]-- BIAS
{0} --[R1 47 ohm 1 W]-- V1.plate
{1} -- V2.plate
{2} --[R3 1k 3 W]-- V1.screen
{3} -- V2.screen
V1.grid --[R5 220k]-- BIAS
V2.grid --[R6 220k]-- BIAS
V1.suppressor -- V1.cathode
V2.suppressor -- V2.cathode
V1.cathode -- gnd
V2.cathode -- gnd
T2.s2 -- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
"""


@pytest.mark.parametrize(
    ("leads", "at"),
    [
        (("T2.p1", "T2.p2", "T2.u1", "T2.u2"), []),
        (("T2.u1", "T2.u2", "T2.p1", "T2.p2"), ["V1", "V2"]),
        (("T2.p1", "T2.p2", "T2.u2", "T2.u1"), ["V1.screen", "V2.screen"]),
        (("T2.p1", "T2.u2", "T2.u1", "T2.p2"), ["V2"]),
        (("T2.p1", "T2.p2", "T2.p1", "T2.p2"), []),  # triodes
        (("T2.p1", "T2.p2", "T2.p2", "T2.u2"), ["V1"]),
        (("T2.p1", "T2.p2", "B1", "B1"), []),
        (("T2.u1", "T2.u2", "B1", "B1"), []),  # a lower load, no swap
    ],
)
def test_each_connection(
    leads: tuple[str, ...], at: list[str], review: Callable[[str], Review]
) -> None:
    looked = review(TEXT.format(*leads))
    found = [f for f in looked.findings if f.rule == "output.taps-swapped"]
    assert [p for f in found for p in f.at if p.startswith("V")] == at
    assert {f.level for f in found} <= {"notice"}


def test_crossed_screens_are_one_finding_that_leaves_the_plates(
    review: Callable[[str], Review],
) -> None:
    looked = review(TEXT.format("T2.p1", "T2.p2", "T2.u2", "T2.u1"))
    (found,) = [f for f in looked.findings if f.rule == "output.taps-swapped"]
    assert found.at == ("V1.screen", "V2.screen", "R3", "T2")
    assert "V1.screen by R3 on T2.u2 and V2.screen on T2.u1" in found.message
    assert found.remedy.startswith("Exchange what is on T2.u2 and T2.u1. Leave the plates")
