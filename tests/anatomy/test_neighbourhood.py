"""The small helpers of the tube-side rules: preferred values, words, neighbourhoods."""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.anatomy import neighbourhood as places
from coldcheck.anatomy.reach import Ways
from coldcheck.circuit import build_circuit, preferred
from coldcheck.drawing import parse_drawing, wording


def circuit(text: str):
    return build_circuit(parse_drawing(text, "t.tube"))


@pytest.mark.parametrize(
    ("given_ohms", "nearest"),
    [(43421.0, 47e3), (34568.0, 33e3), (84.0, 82.0), (9.7, 10.0), (1.0, 1.0), (912e3, 1e6)],
)
def test_preferred(given_ohms, nearest) -> None:
    assert preferred.preferred(given_ohms) == pytest.approx(nearest)


@given(st.floats(1e-3, 1e8))
def test_a_preferred_value_is_at_most_half_a_step_away(number) -> None:
    # The widest step of E12 is 10 to 12 or 15 to 18: a factor of 1.22, half of it 1.11.
    ratio = preferred.preferred(number) / number
    assert 1 / 1.12 < ratio < 1.12


def test_words() -> None:
    assert wording.listed(["V1", "V2", "V3", "V2"]) == "V1, V2 and V3"
    assert wording.listed(["V1"]) == "V1"
    assert wording.listed([]) == ""
    assert wording.volts(0.01) == "0 V"
    assert wording.volts(-12.34) == "-12.3 V"
    assert wording.ohms(0.0) == "0 ohm"


def test_sources_are_shorts_for_resistances() -> None:
    found = circuit("A --[R1 10k]-- B\nB --+[E1 50 V]-- gnd\nA --[C1 1 uF 50 V]-- X\n")
    shorted = places.sources_shorted(found)
    assert places.ohms_between(shorted, "A") == pytest.approx(10e3)
    assert places.ohms_between(shorted, "X") == inf
    assert places.ohms_between(found, "A") == inf


def test_metal_knows_no_open_switch_and_no_unknown_value() -> None:
    graph = places.metal(
        circuit("A --[S1 switch open]-- gnd\nB --[R1 ?]-- gnd\nC --[F1 fuse 1 A]-- gnd\n")
    )
    assert places.nearest(graph, "A", "gnd") is None
    assert places.nearest(graph, "B", "gnd") is None
    assert places.nearest(graph, "C", "gnd") == 0.0


def test_feeding_stops_at_gnd_and_at_capacitors() -> None:
    found = circuit(
        "B1 --+[E1 250 V]-- gnd\nB1 --[R1 10k]-- A\nX --[R2 10k]-- gnd\nB1 --[C1 1 uF 400 V]-- Y\n"
        "Y --[R3 1M]-- Z\n"
    )
    ways = Ways.of(found)
    assert [ways.fed(n) for n in ("B1", "A", "X", "Y")] == [True, True, False, False]
    assert ways.returned(["X"])
    assert not ways.returned(["Y"])
