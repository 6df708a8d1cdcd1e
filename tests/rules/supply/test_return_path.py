"""Rectifiers whose current has no way back, and those that give to nobody."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.open-rectifier"
HEAD = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht {ht} 80 mA 160 ohm
    winding warm 6.3 V 1 A
T1.warm.1 -- gnd
"""
LOAD = "RES --+[C1 47 uF 500 V]-- gnd\nRES --[R1 15k 20 W]-- gnd\n"
TAPPED, PLAIN = "230 V ct 230 V", "230 V"
TUBE = "tube V1 6X4 heater T1.warm\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"


@pytest.mark.parametrize(
    ("winding", "wires", "at", "message"),
    [
        (
            PLAIN,
            "T1.ht.1 --[D1 1N4007]-> RES\n",
            ("T1.ht", "D1"),
            "D1 leads current out of T1.ht and nothing brings it back: T1.ht.2 is not wired",
        ),
        (
            TAPPED,
            TUBE + "V1.cathode -- RES\n",
            ("T1.ht", "V1"),
            "V1 leads current out of T1.ht and nothing brings it back: T1.ht.ct is not wired",
        ),
        (TAPPED, TUBE + "V1.cathode -- RES\nT1.ht.ct -- gnd\n", (), ""),
        (
            TAPPED,
            "T1.ht.1 --[D1 1N4007]-> RES\n",
            ("T1.ht", "D1"),
            "D1 leads current out of T1.ht and nothing brings it back: T1.ht.ct is not wired",
        ),
        # Nothing is free: the lead that no rectifier is on, which leads to a resistor's loose end.
        (
            TAPPED,
            TUBE + "V1.cathode -- RES\nT1.ht.ct --[R2 10 ohm]-- X\n",
            ("T1.ht", "V1"),
            "V1 leads current out of T1.ht and nothing brings it back: T1.ht.ct has no return",
        ),
        (
            PLAIN,
            "T1.ht.1 --[R2 10 ohm]-- X\nT1.ht.2 --[D1 1N4007]-> RES\n",
            ("T1.ht", "D1"),
            "D1 leads current out of T1.ht and nothing brings it back: T1.ht.1 has no return",
        ),
        (
            PLAIN,
            "T1.ht.2 --[R2 10 ohm]-- X\nRES --[D1 1N4007]-> T1.ht.1\n",
            ("T1.ht", "D1"),
            "D1 leads current into T1.ht and nothing brings it back: T1.ht.2 has no return",
        ),
        # A triode with AC on its plate rectifies; a grid takes no current.
        (
            PLAIN,
            "tube V2 12AU7\nT1.ht.1 -- V2A.plate\nV2A.cathode --[R2 10k]-- gnd\nV2A.grid -- gnd\n",
            ("T1.ht", "V2"),
            "V2 leads current out of T1.ht and nothing brings it back: T1.ht.2 is not wired",
        ),
        (
            PLAIN,
            "tube V2 12AU7\nT1.ht.1 -- V2A.grid\nV2A.cathode --[R2 10k]-- gnd\nRES -- V2A.plate\n",
            (),
            "",
        ),
        # A filament and the winding that heats it are no load, a capacitor to another point is.
        (
            TAPPED,
            "transformer T2\n    primary pri 120 V 5 ohm\n    winding fil 5 V 2 A\n"
            "tube V1 5Y3GT heater T2.fil\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"
            "T1.ht.ct -- gnd\n",
            ("V1",),
            "V1: nothing is wired to its f1, where a rectifier gives its output",
        ),
        (TAPPED, TUBE + "T1.ht.ct -- gnd\nV1.cathode --[C9 8 uF 450 V]-- X\n", (), ""),
        # A capacitor on the winding is a way of another kind (a doubler).
        (PLAIN, "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[C9 47 uF 400 V]+-- gnd\n", (), ""),
        (
            TAPPED,
            TUBE + "T1.ht.ct -- gnd\n",
            ("V1",),
            "V1: nothing is wired to its cathode, where a rectifier gives its output",
        ),
    ],
)
def test_what_has_no_way_back(
    winding: str, wires: str, at: tuple[str, ...], message: str, review: Callable[[str], Review]
) -> None:
    looked = review(HEAD.format(ht=winding) + LOAD + wires)
    found = [(f.at, f.message) for f in looked.findings if f.rule == RULE]
    assert found == ([(at, message)] if at else [])
