"""Preferred values: the series of IEC 60063, the old round ones, and what is in neither."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.drawing.kinds import PartKind
from coldcheck.rules.drawing.values import E24, in_series, nearest_values

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

# IEC 60063, E96: check points, k = 0, 1, 2, 33, 95 (memory).
E96 = (100, 102, 105, 221, 976)


@pytest.mark.parametrize("number", E96)
def test_e96(number: int) -> None:
    assert in_series(number * 10.0, PartKind.RESISTOR)


def test_e24_is_not_the_rounded_formula() -> None:
    """The formula gives 26, 29, 32, 35, 38, 42, 46 and 83 where the standard differs."""
    formula = {round(10 * 10 ** (k / 24)) for k in range(24)}
    assert formula - set(E24) == {26, 29, 32, 35, 38, 42, 46, 83}
    assert set(E24) - formula == {27, 30, 33, 36, 39, 43, 47, 82}
    assert set(E24) >= {10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82}  # E12


@given(st.sampled_from(E24), st.integers(-14, 6))
def test_every_decade(digits: int, decade: int) -> None:
    for kind in (PartKind.RESISTOR, PartKind.CAPACITOR, PartKind.POT):
        assert in_series(digits * 10.0**decade, kind)


@given(st.floats(1e-12, 1e8))
def test_the_neighbours_are_on_both_sides(value: float) -> None:
    below, above = nearest_values(value)
    assert below <= value * 1.0002
    assert above > below
    assert in_series(below, PartKind.RESISTOR)
    assert in_series(above, PartKind.RESISTOR)


@pytest.mark.parametrize(
    ("value", "kind", "good"),
    [
        (74e3, PartKind.RESISTOR, False),
        (480e3, PartKind.RESISTOR, False),
        (26e3, PartKind.RESISTOR, False),
        (44e3, PartKind.RESISTOR, False),
        (250e3, PartKind.RESISTOR, True),  # old American values (memory)
        (0.05e-6, PartKind.CAPACITOR, True),
        (8e-6, PartKind.CAPACITOR, True),
        (64e-6, PartKind.CAPACITOR, True),
        (64e3, PartKind.RESISTOR, False),
        (919.0, PartKind.RESISTOR, False),  # E192 has 920 there
        (920.0, PartKind.RESISTOR, True),
        (34.8e3, PartKind.RESISTOR, True),
        (1234.0, PartKind.RESISTOR, False),
        (900e3, PartKind.RESISTOR, True),  # dividers by ten and by a hundred
        (9.9e6, PartKind.RESISTOR, True),
        (900e-12, PartKind.CAPACITOR, False),
    ],
)
def test_single_values(value: float, kind: PartKind, good: bool) -> None:
    assert in_series(value, kind) is good


def test_the_advice(sample: Callable[[str, str], Review]) -> None:
    looked = sample("drawing.value-in-no-series", "wrong")
    (one,) = [f for f in looked.findings if f.rule == "drawing.value-in-no-series"]
    assert (one.level, one.at) == ("advice", ("R3",))
    assert one.evidence["value"].value == pytest.approx(74e3)
    assert "68 kohm and 75 kohm" in one.remedy


@pytest.mark.parametrize(("word", "count"), [("variable ganged", 0), ("trimmer", 0), ("mica", 1)])
def test_what_a_hand_sets_is_in_no_series(
    word: str, count: int, review: Callable[[str], Review]
) -> None:
    text = f"A --+[E1 9 V]-- gnd\nA --[R1 1k]-- gnd\nA --[C1 420p {word}]-- gnd\n"
    found = [f for f in review(text).findings if f.rule == "drawing.value-in-no-series"]
    assert len(found) == count


def test_a_pot_counts_as_a_whole_and_an_open_value_is_left_alone(
    review: Callable[[str], Review],
) -> None:
    text = (
        "pot P1 500k at 37 %\npot P2 74k at 50 %\nB1 --+[E1 100 V]-- gnd\nB1 -- P1.top\n"
        "P1.bottom -- gnd\nB1 -- P2.top\nP2.bottom -- gnd\nB1 --[R1 ?]-- gnd\n"
    )
    found = [f.at for f in review(text).findings if f.rule == "drawing.value-in-no-series"]
    assert found == [("P2",)]
