"""Shapes: the same under other names and in another order, another for another position."""

from __future__ import annotations

from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of
from coldcheck.verdict.shapes import Shapes, shapes_of

SUPPLY = "mains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V\n    winding warm 6.3 V\n"
STAGE = (
    "tube V1 12AX7 heater T1.warm\nB1 --+[E1 250 V]-- gnd\n"
    "B1 --[R1 100k]-- V1A.plate\nB1 --[R2 100k]-- V1B.plate\n"
    "V1A.cathode --[R3 1k5]-- gnd\nV1B.cathode --[R4 1k5]-- gnd\n"
    "V1A.grid --[R5 1M]-- gnd\nV1B.grid --[R6 1M]-- gnd\nV1A.cathode --+[C1 25 uF]-- gnd\n"
)


def shapes(text: str) -> Shapes:
    return shapes_of(circuit_of(parse_drawing(text)))


def test_names_and_order_and_values_are_no_part_of_it() -> None:
    before = shapes(SUPPLY + STAGE)
    other = STAGE.replace("R1 100k", "R91 82k").replace("B1", "HT").replace("C1", "C7")
    after = shapes(SUPPLY + "".join(sorted(other.splitlines(keepends=True), reverse=True)))
    for old, new in (("R1", "R91"), ("B1", "HT"), ("C1", "C7"), ("V1", "V1"), ("T1", "T1")):
        assert before.of(old) == after.of(new)
    assert before.of("V1A.cathode") == after.of("V1A.cathode")


def test_another_position_is_another_shape() -> None:
    found = shapes(SUPPLY + STAGE)
    assert len({found.of(p) for p in ("R1", "R2", "R3", "R4", "R5", "R6", "C1", "E1")}) == 8
    assert found.of("V1A") != found.of("V1B")
    assert found.of("T1.warm") != found.of("T1")
    assert found.of("nowhere") == "nowhere"


def test_a_part_turned_round_is_another() -> None:
    turned = STAGE.replace("V1A.cathode --+[C1 25 uF]-- gnd", "V1A.cathode --[C1 25 uF]+-- gnd")
    assert shapes(SUPPLY + STAGE).of("C1") != shapes(SUPPLY + turned).of("C1")
