"""The values a drawing writes, and the same drawing with others written."""

from __future__ import annotations

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.model import Chain
from coldcheck.drawing.valued import Value, amount_of, valued, values
from coldcheck.drawing.values import Amount, BadValue

TEXT = """
mains 230 V 50 Hz
pot P1 100k at 30 %
B --+[E1 24 V]-- gnd
B --[R1 4k7 1 W]-- C --[L1 5 H 120 ohm]-- gnd
C --[C1 22n 400 V]-- gnd
C --[R2 ?]-- D --[D1 1N4007]-> gnd
gnd --[Z1 zener 12 V]-> D
D --[LED1]-> gnd
B --[F1 fuse 0.5 A]-- F
"""


@pytest.fixture
def drawing():
    found = parse_drawing(TEXT)
    assert not found.problems
    return found


def test_all_that_has_a_value_in_the_order_of_the_text(drawing) -> None:
    found = values(drawing)
    assert list(found) == ["mains", "P1", "E1", "R1", "L1", "C1", "R2", "Z1", "F1"]
    assert found["R1"] == Value("resistor", 4700, "ohm")
    assert found["C1"] == Value("capacitor", pytest.approx(22e-9), "farad")
    assert found["R2"] == Value("resistor", None, "ohm")
    assert {str(found[n]) for n in ("mains", "P1", "L1", "R2")} == {"230 V", "30 %", "5 H", "?"}


@pytest.mark.parametrize(
    ("name", "given", "read"),
    [
        ("R1", "680", Amount(680, "ohm")),
        ("R1", 680, Amount(680, "ohm")),
        ("C1", "47 nF", Amount(pytest.approx(47e-9), "farad")),
        ("P1", "25 %", Amount(25, "percent")),
        ("P1", 25, Amount(25, "percent")),
        ("P1", "250 kohm", Amount(250e3, "ohm")),
        ("mains", "240 Vac", Amount(240, "volt", ac=True)),
    ],
)
def test_a_value_is_read_as_the_drawing_reads_it(drawing, name, given, read) -> None:
    assert amount_of(values(drawing)[name], given) == read


@pytest.mark.parametrize(
    ("name", "given"), [("R1", "1 uF"), ("E1", "24 Vac"), ("P1", "250"), ("P1", 100.5), ("L1", 0)]
)
def test_what_is_none_is_refused(drawing, name, given) -> None:
    with pytest.raises(BadValue):
        amount_of(values(drawing)[name], given)


def test_nothing_but_the_values_is_written_anew(drawing) -> None:
    new = {"R1": Amount(1e3, "ohm"), "R2": Amount(2e3, "ohm"), "P1": Amount(90, "percent")}
    other = valued(drawing, {**new, "mains": Amount(240, "volt")})
    found = values(other)
    assert [found[n].number for n in ("R1", "R2", "P1", "mains")] == [1e3, 2e3, 90, 240]
    assert {n: v for n, v in found.items() if n not in (*new, "mains")} == {
        n: v for n, v in values(drawing).items() if n not in (*new, "mains")
    }
    parts = {x.name: x for s in other.statements if isinstance(s, Chain) for x in s.links if x}
    assert parts["R1"].power.m_as("watt") == 1
    assert parts["R2"].unknown == frozenset()
    assert (other.lines, other.file) == (drawing.lines, drawing.file)
    assert valued(drawing, {}) == drawing
