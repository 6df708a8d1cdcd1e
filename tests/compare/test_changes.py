"""Comparing revisions: the circuit counts, not how it is written down."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.compare.changes import Comparison, compare
from coldcheck.compare.nets import colours, paired
from coldcheck.drawing import parse_drawing
from coldcheck.report.pages.comparison import verdict
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ruling import USUAL

if TYPE_CHECKING:
    from coldcheck.verdict.review import Review

STAGE = """\
drawing "one stage"
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 0.5 W]-- V1A.plate --[C1 22 nF 400 V]-- OUT
OUT --[R4 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C2 25 uF 25 V]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
"""


def review(text: str) -> Review:
    return review_drawing(parse_drawing(text, "a.tube"), date(2026, 6, 1))


@pytest.fixture(scope="module")
def stage() -> Review:
    return review(STAGE)


def changed(stage: Review, *edits: tuple[str, str]) -> Comparison:
    text = STAGE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    return compare(stage, review(text))


def hows(found: Comparison) -> set[tuple[str, str]]:
    return {(p.how, p.name) for p in found.parts}


def test_a_drawing_equals_itself(stage: Review) -> None:
    found = compare(stage, stage)
    assert found.same_circuit
    assert (found.parts, found.points, found.findings) == ((), (), ())


def shuffled(text: str, seed: int) -> str:
    """Other names for the author's points, other order, other direction of two-point wires."""
    chance = random.Random(seed)
    names = {"B1": f"B{chance.randint(10, 99)}", "OUT": f"X{chance.randint(10, 99)}"}
    head, *lines = text.splitlines()
    lines = [re.sub(r"\b(B1|OUT)\b", lambda m: names[m[0]], line) for line in lines]
    tubes = [t for t in lines if t.startswith("tube")]
    wires = [t for t in lines if not t.startswith("tube")]
    chance.shuffle(wires)
    turned = [
        re.sub(r"^(\S+) --\[(R[^\]]*)\]-- (\S+)$", r"\3 --[\2]-- \1", w)
        if chance.random() < 0.5 else w for w in wires
    ]  # fmt: skip
    return "\n".join([head, *tubes, *turned]) + "\n"


@settings(max_examples=12)
@given(st.integers(0, 10_000))
def test_the_same_circuit_written_differently_compares_as_equal(seed: int) -> None:
    found = compare(review(STAGE), review(shuffled(STAGE, seed)))
    assert found.same_circuit
    assert found.points == ()
    assert found.findings == ()


def test_a_value_that_changed(stage: Review) -> None:
    found = changed(stage, ("R2 1k5", "R2 820 ohm"))
    assert hows(found) == {("changed", "R2")}
    assert (found.parts[0].old, found.parts[0].new) == ("resistor 1.5 kohm", "resistor 820 ohm")
    # less bias, more current: the plate falls, and most of all moves
    assert found.points[0].point == "V1A.plate"
    assert (found.points[0].new_dc or 0) < (found.points[0].old_dc or 0)
    assert [m.by for m in found.points] == sorted((m.by for m in found.points), reverse=True)


def test_a_part_added_removed_renamed_rewired(stage: Review) -> None:
    assert ("added", "R9") in hows(changed(stage, ("OUT --[R4", "B1 --[R9 1M]-- gnd\nOUT --[R4")))
    assert ("removed", "C2") in hows(changed(stage, ("V1A.cathode --+[C2 25 uF 25 V]-- gnd\n", "")))
    assert hows(changed(stage, ("R3 1M", "R33 1M"))) == {("renamed", "R33")}
    moved = changed(stage, ("V1A.grid --[R3 1M]-- gnd", "V1A.grid --[R3 1M]-- V1A.cathode"))
    assert ("rewired", "R3") in hows(moved)


def test_turning_a_polarised_part_is_a_change_and_a_resistor_is_not(stage: Review) -> None:
    turned = changed(stage, ("--+[C2 25 uF 25 V]--", "--[C2 25 uF 25 V]+--"))
    assert hows(turned) == {("rewired", "C2")}
    assert (
        hows(changed(stage, ("V1A.cathode --[R2 1k5]-- gnd", "gnd --[R2 1k5]-- V1A.cathode")))
        == set()
    )


def test_another_tube_in_the_socket(stage: Review) -> None:
    found = changed(stage, ("V1 12AX7", "V1 12AU7"))
    assert [(p.how, p.name, p.old, p.new) for p in found.parts] == [
        ("changed", "V1", "tube 12AX7", "tube 12AU7")
    ]


def test_findings_new_gone_worse_and_better(stage: Review) -> None:
    low = STAGE.replace("C1 22 nF 400 V", "C1 22 nF 160 V")
    lower = STAGE.replace("C1 22 nF 400 V", "C1 22 nF 63 V")

    def of(old: str, new: str) -> list[str]:
        found = compare(review(old), review(new))
        return [c.how for c in found.findings if c.finding.rule == "capacitor.over-voltage"]

    assert of(STAGE, low) == ["new"]
    assert of(low, STAGE) == ["gone"]
    assert of(low, lower) == ["worse"]
    assert of(lower, low) == ["better"]
    assert compare(review(STAGE), review(low)).at(USUAL).stopping
    assert not compare(review(low), review(STAGE)).at(USUAL).stopping


def test_a_drawing_that_cannot_be_read_cannot_be_compared(stage: Review) -> None:
    with pytest.raises(ValueError, match="can be read"):
        compare(stage, review("B1 --[R1\n"))


def test_nets_pair_up_without_any_name(stage: Review) -> None:
    text = re.sub(r"\b([RCE])(\d)\b", r"\g<1>7\2", STAGE).replace("V1", "V8")
    text = re.sub(r"\bB1\b", "HT", text).replace("OUT", "NEXT")
    other = review(text)
    assert stage.circuit is not None
    assert other.circuit is not None
    nets = paired(stage.circuit, other.circuit)
    assert nets["B1"] == "HT"
    assert nets["OUT"] == "NEXT"
    assert nets["V1A.plate"] == "V8A.plate"
    assert sorted(colours(stage.circuit).values()) == sorted(colours(other.circuit).values())


def test_a_new_revision_that_cannot_be_decided_stops_the_change() -> None:
    dead = review("A --[R1 10k]-- gnd\n")
    found = compare(dead, dead)
    assert found.at(USUAL).stopping == ()
    assert found.at(USUAL).stops
    assert not found.at(replace(USUAL, holds_undecided=False)).stops
    assert verdict(found.at(USUAL)).startswith("undecided: nothing is powered")


def test_the_gap_and_the_impedances_of_an_output_transformer_count() -> None:
    text = STAGE + "output T2 5k : 8 ohm 250 ohm gapped 30 mA\nB1 -- T2.p1\nT2.s1 -- gnd\n"
    for old, new in (("30 mA", "60 mA"), ("gapped 30 mA", ""), (": 8 ohm", ": 4 ohm")):
        found = compare(review(text), review(text.replace(old, new)))
        assert ("changed", "T2") in hows(found)


def test_the_coupling_of_coils_counts() -> None:
    text = STAGE + (
        "transformer T5 coupling 2 %\n    primary a 1 mH\n    winding b 1 mH\n"
        "T5.a.1 -- gnd\nT5.b.1 -- gnd\n"
    )
    found = compare(review(text), review(text.replace("2 %", "5 %")))
    assert ("changed", "T5") in hows(found)
