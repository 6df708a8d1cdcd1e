"""Pilot lamps by their numbers."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.lamps import LAMPS
from coldcheck.circuit.tubes import tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.lines import without_comment


@pytest.mark.parametrize(
    ("number", "volts", "amps"),
    [
        # A list of lamps for coin-operated games, a web page (read).
        ("47", 6.3, 0.15), ("447", 6.3, 0.15), ("86", 6.3, 0.20), ("455", 6.5, 0.5),
        # Labels of lamps (from memory): 0.15 A brown bead, 0.25 A blue, 0.5 A white, 0.06 A pink.
        ("40", 6.3, 0.15), ("44", 6.3, 0.25), ("46", 6.3, 0.25), ("41", 2.5, 0.5),
        ("49", 2.0, 0.06), ("1847", 6.3, 0.15), ("1815", 14.0, 0.2), ("1819", 28.0, 0.04),
    ],
)  # fmt: skip
def test_lamps_as_lists_have_them(number: str, volts: float, amps: float) -> None:
    assert LAMPS[number] == (volts, amps)


@pytest.mark.parametrize("kind", ["35Z5GT", "35W4"])
def test_the_lamp_of_a_series_string_takes_its_current(kind: str) -> None:
    """The data sheets of these rectifiers name No. 40 or 47 for their tap (from memory)."""
    (amps,) = {way.amps.value for way in tube_type(kind).heaters}
    assert LAMPS["40"][1] == LAMPS["47"][1] == pytest.approx(amps)


@pytest.mark.parametrize("bracket", ["PL1 #47", "DS1 lamp 47", "PL1 #47 6.3 V", "X1 bulb #47"])
def test_a_number_stands_for_its_figures(bracket: str) -> None:
    circuit = build_circuit(parse_drawing(f"B --+[E1 6.3 V]-- gnd\nB --[{bracket}]-- gnd"))
    assert not circuit.problems
    (lamp,) = (b for b in circuit.branches.values() if b.part and b.part.type)
    assert lamp.value is not None
    assert lamp.value.m_as("ohm") == pytest.approx(6.3 / 0.15)


@pytest.mark.parametrize(
    ("bracket", "rule"),
    [
        ("PL1 #9999", "drawing.unknown-type"),
        ("PL1 #9999 6.3 V", "drawing.unknown-type"),
        ("PL1 #47 12 V", "drawing.bad-value"),
        ("PL1 #47 6.3 V 250 mA", "drawing.bad-value"),
        ("PL1 #9999 6.3 V 150 mA", ""),
        ("PL1 #9999 42 ohm", ""),
        ("PL1 #44 6.8 V", ""),  # the 6.8 V of a 6 to 8 V lamp: within a tenth
        ("PL1 #44 7 V", "drawing.bad-value"),
    ],
)
def test_what_is_said_beside_a_number_agrees_with_it(bracket: str, rule: str) -> None:
    circuit = build_circuit(parse_drawing(f"A --[{bracket}]-- B"))
    assert [p.rule for p in circuit.problems if "single" not in p.rule] == ([rule] if rule else [])


@pytest.mark.parametrize(
    ("line", "read"),
    [
        ("A --[PL1 #47]-- B  # see #44 [1]", "A --[PL1 #47]-- B"),
        ("A --[PL1 #47 6.3 V]-- B", "A --[PL1 #47 6.3 V]-- B"),
        ("A --[R1 10k]-- B #47", "A --[R1 10k]-- B"),
        ("A --[R1 10k #47", "A --[R1 10k"),
        ("A --[R1 10k # 47]-- B", "A --[R1 10k"),
        ("#47 A --[R1 10k]-- B", ""),
        ('drawing "lamp [ #47 ]" # x', 'drawing "lamp [ #47 ]"'),
    ],
)
def test_where_the_sign_begins_a_comment(line: str, read: str) -> None:
    assert without_comment(line) == read


@pytest.mark.parametrize("bracket", ["R1 10k #47", "C1 #47", "LS1 8 ohm #47"])
def test_only_lamps_have_numbers(bracket: str) -> None:
    assert parse_drawing(f"A --[{bracket}]-- B").problems
