"""Tubes in parallel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.parallel-without-stoppers"
HEAD = """tube V1 {type}
B1 --+[E1 120 V]-- gnd
B1 --[R1 22k 2 W]-- P
G --[R2 470k]-- gnd
"""
PLATES = "P -- V1A.plate\nP -- V1B.plate\n"
GRIDS = "G -- V1A.grid\nG -- V1B.grid\n"
OWN = "V1A.cathode --[R5 1k5]-- gnd\nV1B.cathode --[R6 1k5]-- gnd\n"
COMMON = "V1A.cathode -- V1B.cathode\nV1A.cathode --[R5 680 ohm]-- gnd\n"


@pytest.mark.parametrize(
    ("type_", "wires", "level"),
    [
        ("12AU7", PLATES + GRIDS + OWN, "advice"),
        ("6DJ8", PLATES + GRIDS + OWN, "notice"),  # 12.5 mA/V
        ("6DJ8", PLATES + "G --[R3 1k]-- V1A.grid\nG --[R4 1k]-- V1B.grid\n" + OWN, None),
        # The edges of what is usual, and below them.
        ("6DJ8", PLATES + "G --[R3 100 ohm]-- V1A.grid\nG --[R4 100 ohm]-- V1B.grid\n" + OWN, None),
        (
            "6DJ8",
            PLATES + "G --[R3 22 ohm]-- V1A.grid\nG --[R4 22 ohm]-- V1B.grid\n" + OWN,
            "notice",
        ),
        # One stopper before both grids is no help.
        ("6DJ8", PLATES + "G --[R3 1k]-- X\nX -- V1A.grid\nX -- V1B.grid\n" + OWN, "notice"),
        # Plates apart: two stages on one grid.
        ("6DJ8", "P -- V1A.plate\nB1 --[R7 22k 2 W]-- V1B.plate\n" + GRIDS + OWN, None),
        # Grids apart: a mixer.
        ("6DJ8", PLATES + "G -- V1A.grid\nV1B.grid --[R8 470k]-- gnd\n" + OWN, None),
    ],
)
def test_who_has_a_stopper(
    type_: str, wires: str, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(HEAD.format(type=type_) + wires)
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    found = [f for f in looked.findings if f.rule == RULE]
    assert [(f.level, f.at) for f in found] == ([(level, ("V1A", "V1B"))] if level else [])


@pytest.mark.parametrize(
    ("type_", "level"),
    [
        ("6N1P", "advice"),  # 4.35 mA/V and 2.2 W (sheet)
        ("12AT7", "advice"),  # 5.5 mA/V: as in every reverb's driver
        ("6922", "notice"),  # 12.5 mA/V
        ("MY", "advice"),  # a 12AU7, 2.2 mA/V, of 4.75 W
        ("YOUR", "notice"),  # and of 5.25 W
    ],
)
def test_what_takes_off_easily(type_: str, level: str, review: Callable[[str], Review]) -> None:
    own = "".join(
        f"type {name} like 12AU7\nrating plate-dissipation {watts} W\n"
        for name, watts in (("MY", 4.75), ("YOUR", 5.25))
    )
    looked = review(own + HEAD.format(type=type_) + PLATES + GRIDS + OWN)
    assert [f.level for f in looked.findings if f.rule == RULE] == [level]


def test_steep_tubes_in_two_bulbs_want_stoppers_sooner(review: Callable[[str], Review]) -> None:
    """6AB4, half a 12AT7: 5.5 mA/V (sheet)."""
    one = "tube {0} 6AB4\nP -- {0}.plate\nG -- {0}.grid\n{0}.cathode --[R2{1} 220 ohm]-- gnd\n"
    head = HEAD.replace("tube V1 {type}\n", "")
    looked = review(head + one.format("V1", 1) + one.format("V2", 2))
    assert [f.level for f in looked.findings if f.rule == RULE] == ["notice"]


def test_a_tube_of_which_the_plate_is_not_known_is_passed_over(
    review: Callable[[str], Review],
) -> None:
    looked = review("tube V1 3XY1\nB --+[E1 90 V]-- gnd\nB -- V1.plate1\nV1.grid --[R1 1M]-- gnd\n")
    assert [n for n in looked.not_judged if n.kind.broken] == []


def test_a_pentode_of_less_than_4_ma_per_volt_is_small(review: Callable[[str], Review]) -> None:
    """6BJ6: 3.8 mA/V and 3 W (sheet)."""
    one = (
        "tube {0} 6BJ6\nP -- {0}.plate\nG -- {0}.grid\nB1 --[R1{1} 100k]-- {0}.screen\n"
        "{0}.suppressor -- {0}.cathode\n{0}.cathode --[R2{1} 82 ohm]-- gnd\n"
    )
    head = HEAD.replace("tube V1 {type}\n", "")
    looked = review(head + one.format("V1", 1) + one.format("V2", 2))
    assert [(f.at, f.level) for f in looked.findings if f.rule == RULE] == [
        (("V1", "V2"), "advice")
    ]


@pytest.mark.parametrize(("ohms", "found"), [("209 ohm", True), ("231 ohm", False)])
def test_small_resistors_at_the_plates_part_nothing(
    ohms: str, found: bool, review: Callable[[str], Review]
) -> None:
    wires = f"P -- V1A.plate\nP --[R7 {ohms}]-- V1B.plate\n"
    looked = review(HEAD.format(type="6DJ8") + wires + GRIDS + OWN)
    assert bool([f for f in looked.findings if f.rule == RULE]) is found


def test_a_common_bias_resistor_is_split(review: Callable[[str], Review]) -> None:
    """Each of two alone draws half, so it wants twice the resistance: 1.36 kohm for 680 ohm."""
    looked = review(HEAD.format(type="12AU7") + PLATES + GRIDS + COMMON)
    (found,) = [f for f in looked.findings if f.rule == RULE]
    assert "R5 is the bias of all of them" in found.message
    assert "1.36 kohm" in found.remedy


def test_three_in_a_row_are_one_finding(review: Callable[[str], Review]) -> None:
    third = "tube V2 12AU7\nP -- V2A.plate\nG -- V2A.grid\nV2A.cathode --[R9 1k5]-- gnd\n"
    looked = review(HEAD.format(type="12AU7") + third + PLATES + GRIDS + OWN)
    (found,) = [f for f in looked.findings if f.rule == RULE]
    assert set(found.at) == {"V1A", "V1B", "V2A"}
    assert found.evidence["in_parallel"].value == 3


PLATE = "signal.parallel-plate-on-supply"


def test_a_plate_on_the_supply_end(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(PLATE, "wrong"), PLATE)
    assert (found.at, found.level) == (("V1B.plate", "V1A"), "notice")
    assert found.remedy == "Take V1B.plate to where V1A.plate is"


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        # The other grid at rest: the second half of a cathode-coupled stage.
        ("D --[R3 1k]-- V1B.grid", "gnd --[R3 1k]-- V1B.grid"),
        # A follower beside an amplifier, its cathode an output.
        (
            "V1A.cathode -- K -- V1B.cathode",
            "V1A.cathode -- K\nV1B.cathode --[R9 1k]-- gnd\nV1B.cathode --[C9 1 uF 250 V]-- OUT",
        ),
        ("[R3 1k]", "[R3 22k1]"),
    ],
)
def test_halves_that_do_not_work_as_one(
    written: str, instead: str, changed: Callable[[str, str, str, str], Review]
) -> None:
    found = [f for f in changed(PLATE, "wrong", written, instead).findings if f.rule == PLATE]
    assert found == []
