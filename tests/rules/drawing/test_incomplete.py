"""Half a drawing: one finding that lists what is missing, and no row of alarms beside it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

SAMPLES = Path(__file__).parents[3] / "samples"
RULE = "drawing.incomplete"


def part(name: str, start: str, end: str | None) -> str:
    """A sample without the lines from ``start`` to ``end`` (a blank line when ``None``)."""
    text = (SAMPLES / f"{name}.tube").read_text("utf-8")
    first = text.index(start)
    last = text.index("\n\n", first) if end is None else text.index(end)
    kept = (text[:first] + text[last:]).splitlines(keepends=True)
    return "".join(line for line in kept if not line.startswith("expect"))


def serious(review: Review) -> list[Finding]:
    return list(review.at_or_above("notice"))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (
            "harbour-light",
            ["B2 or LIFT (with V1A.plate)", "B1 (with V2.plate and V2.screen)", "V3 is declared"],
        ),
        ("breakwater", ["B3 (with V1A.plate and V1B.plate)", "B2 (with V2.screen and V3.screen)"]),
        ("low-tide", ["B2 (with V1.plate and V1.screen)", "V3 is declared"]),
        ("night-watch", ["B2 (with V1A.plate and V1B.plate)", "V3 is declared"]),
        ("signal-mast", ["BL (with V1B.plate)", "BR (with V2B.plate)", "loose ends at B1"]),
    ],
)
def test_without_its_power_supply(
    name: str, words: list[str], review: Callable[[str], Review]
) -> None:
    looked = review(part(name, "# high tension", None))
    (one,) = serious(looked)
    assert (one.rule, one.level) == (RULE, "notice")
    for expected in words:
        assert expected in one.message
    assert "T1.ht" in one.remedy
    assert "tube.no-plate-supply at V2" in str(one.evidence["explains"])


def test_expectations_that_cannot_be_met_yet_are_no_alarm(review: Callable[[str], Review]) -> None:
    text = part("harbour-light", "# high tension", None)
    (one,) = serious(review(text + "expect V2.cathode = 13 V within 10 %\n"))
    assert "intent.not-met at V2.cathode" in str(one.evidence["explains"])


@pytest.mark.parametrize(
    ("start", "end", "words"),
    [
        ("# volume control", "# Worked out", ["P1, T2, V1 and V2 are declared and not wired"]),
        ("# output stage", "# Worked out", ["T2 and V2 are declared and not wired"]),
        ("# volume control", "# output stage", ["P1 and V1", "loose ends at DRV"]),
    ],
)
def test_without_a_stage(
    start: str, end: str, words: list[str], review: Callable[[str], Review]
) -> None:
    (one,) = serious(review(part("harbour-light", start, end)))
    assert one.rule == RULE
    for expected in words:
        assert expected in one.message


@pytest.mark.parametrize(
    ("name", "start", "words"),
    [
        ("breakwater", "# bias: half wave", "nothing gives BIAS (with V2.grid and V3.grid)"),
        ("breakwater", "# phase splitter", "no direct current reaches the plate, grid and cathode"),
        ("galley", "\n# detector", "nothing gives AVC (with V2.grid and V1.grid3)"),
        ("galley", "\n# output", "T1 and V4 are declared and not wired"),
    ],
)
def test_without_a_block(
    name: str, start: str, words: str, review: Callable[[str], Review]
) -> None:
    found = [f for f in serious(review(part(name, start, None))) if f.rule == RULE]
    assert len(found) == 1
    assert words in found[0].message


@pytest.mark.parametrize("start", ["\n# converter", "\n# IF amplifier"])
def test_a_tube_left_out_beside_others_is_advice(
    start: str, review: Callable[[str], Review]
) -> None:
    looked = review(part("galley", start, None))
    (one,) = [f for f in looked.findings if f.rule == RULE]
    assert one.level == "advice"
    assert serious(looked) == []


STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate
{more}
"""


def test_a_plate_load_and_nothing_else(review: Callable[[str], Review]) -> None:
    (one,) = serious(review(STAGE.format(more="")))
    assert (one.rule, one.at) == (RULE, ("V1A",))
    assert "the grid and cathode of V1A are not wired" in one.message
    told = str(one.evidence["explains"])
    assert "grid.no-return at V1A" in told
    assert "tube.no-cathode-path at V1A" in told


def test_one_missing_lead_is_a_mistake_of_its_own(review: Callable[[str], Review]) -> None:
    looked = review(STAGE.format(more="V1A.cathode --[R2 1k5]-- gnd"))
    assert [f.rule for f in serious(looked)] == ["grid.no-return"]


def test_one_tube_that_nothing_feeds_beside_a_supply(review: Callable[[str], Review]) -> None:
    text = STAGE.format(more="V1A.grid --[R3 1M]-- gnd\nV1A.cathode --[R2 1k5]-- gnd")
    looked = review(text + "tube V2 6J5\nB3 --[R4 47k]-- V2.plate\nB3 --[R7 1M]-- gnd\n"
                    "V2.grid --[R5 1M]-- gnd\nV2.cathode --[R6 1k]-- gnd\n")  # fmt: skip
    assert [f.rule for f in serious(looked)] == ["tube.no-plate-supply"]


def test_a_supply_point_of_two_tubes_that_nothing_feeds(review: Callable[[str], Review]) -> None:
    text = STAGE.format(more="V1A.grid --[R3 1M]-- gnd\nV1A.cathode --[R2 1k5]-- gnd")
    for name in ("2", "3"):
        text += (
            f"tube V{name} 6J5\nB3 --[R{name}4 47k]-- V{name}.plate\nV{name}.grid --[R{name}5 1M]"
            f"-- gnd\nV{name}.cathode --[R{name}6 1k]-- gnd\n"
        )
    (one,) = serious(review(text))
    assert one.rule == RULE
    assert "no supply feeds B3 (with V2.plate and V3.plate)" in one.message


def test_a_missing_leak_of_two_grids_is_not_a_missing_line(
    review: Callable[[str], Review],
) -> None:
    text = "B1 --+[E1 250 V]-- gnd\nsignal IN 1 V 1 kHz\nIN --[C1 22 nF 400 V]-- G\n"
    for n in "12":
        text += (
            f"tube V{n} 6J5\nB1 --[R{n}1 47k]-- V{n}.plate\nV{n}.cathode --[R{n}2 1k]-- gnd\n"
            f"G --[R{n}3 1k]-- V{n}.grid\n"
        )
    assert [(f.rule, f.at) for f in serious(review(text))] == [
        ("grid.no-return", ("V1", "R13", "R23", "V2"))
    ]


def test_advice_explains_no_danger(review: Callable[[str], Review]) -> None:
    """A fuse far too large stays a caution although a tube is not wired."""
    text = (SAMPLES / "galley.tube").read_text("utf-8").replace("fuse 0.5 A", "fuse 5 A")
    first = text.index("\n# IF amplifier")
    text = text[:first] + text[text.index("\n\n", first) :]
    looked = review("".join(x for x in text.splitlines(True) if not x.startswith("expect")))
    assert [f.level for f in looked.findings if f.rule == "mains.fuse-too-large"] == ["caution"]
    assert [f.level for f in looked.findings if f.rule == RULE] == ["advice"]


def test_a_tube_with_only_a_heater_is_said_and_no_more(review: Callable[[str], Review]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 10 ohm\nwinding warm 6.3 V ct 2 A\n"
        "tube V1 6V6GT heater T1.warm\nT1.warm.ct -- gnd\n"
    )
    looked = review(text)
    assert serious(looked) == []
    said = {n.at: n.reason for n in looked.not_judged if n.rule == RULE}
    assert said[("V1",)].startswith("only its heater is drawn")


def test_a_false_lead_over_the_heater_line_is_no_supply(review: Callable[[str], Review]) -> None:
    """B1 leads through the lift divider to the heater winding, which feeds nobody."""
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 10 ohm\nwinding warm 6.3 V ct 2 A\n"
        "tube V1 6J5 heater T1.warm\nB1 --[R1 68k]-- LIFT\nLIFT --[R2 15k]-- gnd\n"
        "LIFT -- T1.warm.ct\nB1 --[R3 47k]-- V1.plate\nV1.grid --[R4 1M]-- gnd\n"
        "V1.cathode --[R5 1k]-- gnd\n"
    )
    (one,) = serious(review(text))
    assert one.rule == RULE
    assert "no supply feeds B1 or LIFT (with V1.plate)" in one.message


@pytest.mark.parametrize("landmark", ["gnd", "chassis", "earth"])
def test_a_plate_on_a_landmark_lacks_no_line(
    landmark: str, review: Callable[[str], Review]
) -> None:
    text = f"tube V1 6V6GT\nV1.plate -- {landmark}\nV1.screen -- gnd\nV1.cathode -- gnd\n"
    looked = review(text + "V1.grid --[R1 1M]-- gnd\n")
    assert [f for f in looked.findings if f.rule == RULE] == []
    assert not any(n.kind.broken for n in looked.not_judged)


STAGES = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R9 100k 2 W]-- gnd
{first} --[R1 100k]-- V1A.plate
{second} --[R2 100k]-- V1B.plate
V1A.cathode --[{low}]-- gnd
V1A.grid --[{leak}]-- gnd
V1B.cathode --[R5 1k5]-- gnd
V1B.grid --[R6 1M]-- gnd
"""


def told(looked: Review) -> list[str]:
    return [f.message for f in looked.findings if f.rule == RULE]


def test_where_no_plate_at_all_is_fed_the_wires_to_the_supply_are_missing(
    review: Callable[[str], Review],
) -> None:
    parts = {"low": "R3 1k5", "leak": "R4 1M"}
    (message,) = told(review(STAGES.format(first="B2", second="B3", **parts)))
    assert "no supply feeds B2 (with V1A.plate) and B3 (with V1B.plate)" in message
    assert told(review(STAGES.format(first="B1", second="B3", **parts))) == []


def test_electrodes_that_only_capacitors_reach(review: Callable[[str], Review]) -> None:
    parts = {"low": "C3 1 uF 50 V", "leak": "C4 10 nF 400 V"}
    (message,) = told(review(STAGES.format(first="B1", second="B1", **parts)))
    assert "no direct current reaches the grid and cathode of V1A" in message
    # With a grid leak the cathode alone is without a path, which another rule tells.
    assert (
        told(review(STAGES.format(first="B1", second="B1", low=parts["low"], leak="R4 1M"))) == []
    )


def test_the_supply_that_is_not_wired_is_named(review: Callable[[str], Review]) -> None:
    (one,) = serious(review(part("harbour-light", "# high tension", None)))
    assert "(of the supply: T1.ht and V3)" in one.remedy


@pytest.mark.parametrize(
    ("wires", "where"),
    [
        ("V1A.plate --[R8 1k]-- P\nP -- V1A.plate\n", "R8 has both ends on V1A.plate"),
        ("gnd --[R8 1k]-- gnd\n", "R8 has both ends on gnd"),
    ],
)
def test_a_part_with_a_wire_across_it(
    wires: str, where: str, review: Callable[[str], Review]
) -> None:
    text = STAGES.format(first="B1", second="B1", low="R3 1k5", leak="R4 1M")
    found = [f.message for f in review(text + wires).findings if f.rule == "drawing.shorted-part"]
    assert found == [where]
