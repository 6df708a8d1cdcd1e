"""Fingerprints: the same after edits that have nothing to do with a finding, others after ones
that change its cause.
"""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing

STATEMENTS = (
    'drawing "Wet Slate: a stage with a good many mistakes"',
    "tube V1 12AX7",
    "tube V2 12AX7",
    "B1 --+[E1 250 V]-- gnd",
    "B1 --[R1 100k 0.05 W]-- V1A.plate --[C1 22 nF 100 V]-- V1B.grid",
    "V1A.cathode --[R2 1k5]-- gnd",
    "V1A.cathode --+[C2 25 uF 25 V]-- gnd",
    "V1A.grid --[R3 1M]-- gnd",
    "B1 --[R4 47k]-- --[R5 47k]-- V1B.plate",
    "V1B.cathode --[R6 100k]-- gnd",
    "gnd --+[C3 10 uF 300 V]-- B1",
    "B1 --[R7 1k]-- LOOSE",
    "V2A.plate -- V2B.plate --[R8 100k 1 W]-- B1",
    "V2A.cathode -- V2B.cathode --[R9 1k5]-- gnd",
    "V2A.grid -- V2B.grid",
    "B1 --[R10 220k 0.01 W]-- FAR --[R11 10k]-- gnd",
)
UNRELATED = (
    "# a remark",
    "",
    "   ",
    "FAR --[R40 1M]-- gnd",
    "NEW --[R41 10k]-- FAR",
    "tube V7 6C4\nV7.plate --[R42 100k 1 W]-- B1\nV7.cathode -- gnd\nV7.grid --[R43 1M]-- gnd",
    "expect FAR above 1 V",
)


@cache
def marks(text: str, file: str = "a.tube") -> frozenset[tuple[str, tuple[str, ...], str]]:
    """(rule, places, fingerprint) of everything found, but for what was put in."""
    looked = review_drawing(parse_drawing(text, file), date(2026, 1, 1))
    assert looked.readable, looked.findings
    return frozenset((f.rule, tuple(sorted(f.at)), f.fingerprint) for f in looked.findings)


def prints(text: str, file: str = "a.tube") -> frozenset[str]:
    return frozenset(mark for _, _, mark in marks(text, file))


BASE = "\n".join(STATEMENTS) + "\n"
CHEAP = settings(max_examples=12, database=None)


def test_the_drawing_has_something_to_tell() -> None:
    assert len(prints(BASE)) == len(marks(BASE))
    assert len({rule for rule, _, _ in marks(BASE)}) >= 6


@CHEAP
@given(st.permutations(STATEMENTS[1:]), st.sampled_from(["b.tube", "deep/er/ä.tube"]))
def test_reordered_statements_and_a_renamed_file(order: list[str], file: str) -> None:
    assert prints("\n".join([*order, STATEMENTS[0]]), file) == prints(BASE)


@CHEAP
@given(st.lists(st.tuples(st.integers(0, len(STATEMENTS)), st.sampled_from(UNRELATED)),
                max_size=5, unique_by=lambda item: item[1]))  # fmt: skip
def test_what_is_put_in_beside_changes_no_fingerprint(added: list[tuple[int, str]]) -> None:
    lines = list(STATEMENTS)
    for place, text in added:
        lines.insert(place, text)
    assert prints(BASE) <= prints("\n".join(lines))


@CHEAP
@given(st.sampled_from(["Q", "HERE", "B+9", "x1"]))
def test_a_renamed_point_only_touches_what_is_on_it(name: str) -> None:
    def elsewhere(text: str, point: str) -> frozenset[str]:
        near = {"R10", "R11", point}
        return frozenset(mark for _, at, mark in marks(text) if not near & set(at))

    renamed = BASE.replace(" FAR ", f" {name} ")
    assert elsewhere(BASE, "FAR") == elsewhere(renamed, name)
    assert len(elsewhere(BASE, "FAR")) > 5


@CHEAP
@given(st.sampled_from([("100k 0.05 W", "120k 0.05 W"), ("22 nF 100 V", "47 nF 63 V"),
                        ("220k 0.01 W", "270k 0.02 W"), ("250 V]", "260 V]")]),
       st.sampled_from(["  ", "   "]))  # fmt: skip
def test_other_values_of_the_same_mistake(change: tuple[str, str], blanks: str) -> None:
    edited = BASE.replace(*change).replace(" --[", f"{blanks}--[")
    assert prints(edited) == prints(BASE)


# -- and the other way ------------------------------------------------------------------


def of(text: str, rule: str, place: str) -> str:
    found = [mark for name, at, mark in marks(text) if name == rule and place in at]
    assert len(found) == 1, sorted(marks(text))
    return found[0]


@pytest.mark.parametrize(
    ("rule", "place", "old", "new"),
    [
        # the resistor is moved to another point
        ("resistor.over-power", "R10", "-- FAR --[R11", "-- NEAR --[R11"),
        ("resistor.over-power", "R1", "B1 --[R1 ", "B1 --[R99 10]-- B2 --[R1 "),
        # so is the capacitor
        ("capacitor.reversed", "C3", "gnd --+[C3 10 uF 300 V]-- B1",
         "gnd --+[C3 10 uF 300 V]-- FAR"),
        # another tube in the socket
        ("grid.no-return", "V2A", "tube V2 12AX7", "tube V2 12AU7"),
    ],
)  # fmt: skip
def test_another_cause_is_another_finding(rule: str, place: str, old: str, new: str) -> None:
    assert BASE.count(old) == 1
    assert of(BASE, rule, place) != of(BASE.replace(old, new), rule, place)


@CHEAP
@given(
    st.sampled_from(["1 kohm", "1 H", "1 uF 400 V"]), st.sampled_from(["B1", "FAR", "V1A.cathode"])
)
def test_kind_and_point_of_a_shorted_part(value: str, point: str) -> None:
    first = f"{BASE}B1 --[X7 1 kohm]-- B1\n"
    edited = f"{BASE}{point} --[X7 {value}]-- {point}\n"
    same = of(first, "drawing.shorted-part", "X7") == of(edited, "drawing.shorted-part", "X7")
    assert same is (edited == first)
