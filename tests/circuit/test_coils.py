"""Transformers for signals and coils: what their windings become."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.units import magnitude


def made(text):
    """The circuit of a drawing without problems."""
    drawing = parse_drawing(text)
    circuit = build_circuit(drawing)
    assert (drawing.problems, circuit.problems) == ((), ())
    return circuit


def henries(circuit):
    return {c.name: magnitude(c.henries, "henry") for c in circuit.coils()}


def test_turns_and_one_inductance_give_the_others():
    """L goes by the square of the turns (any textbook): 12 H and 1:3 are 108 H."""
    circuit = made(
        "transformer T1 gapped\n winding pri 1 turn 12 H\n winding sec 3 turns ct 3 turns\n"
    )
    assert henries(circuit) == pytest.approx({"T1.pri": 12.0, "T1.sec": 432.0})
    assert [b.name for _, b in circuit.coil_sets["T1"].branches] == [
        "T1.pri", "T1.sec.1-ct", "T1.sec.ct-2",
    ]  # fmt: skip
    assert not circuit.coil_sets["T1"].coils[0].assumed


@pytest.mark.parametrize(
    ("first", "second", "ratio"),
    [
        ("1 turn", "3 turns", 3.0),
        ("impedance 600", "impedance 60k", 10.0),
        ("1.2 mH", "4.8 mH", 2.0),
        ("2 turns 1 H", "5 turns 9 H", 2.5),
    ],
)
def test_the_ratio_by_each_measure(first, second, ratio):
    """Turns as written; of impedances and inductances the root of their ratio."""
    circuit = made(f"transformer T1\n winding a {first}\n winding b {second}\n")
    one, other = circuit.coils()
    assert other.turns / one.turns == pytest.approx(ratio)


def test_an_impedance_is_the_reactance_at_twenty_hertz():
    circuit = made("transformer T1\n winding a impedance 10k\n winding b impedance 40k\n")
    assert henries(circuit) == pytest.approx({"T1.a": 79.577, "T1.b": 318.31}, rel=1e-4)
    assert all(c.assumed for c in circuit.coils())


def test_the_largest_of_bare_turns_has_a_hundred_henries():
    circuit = made("transformer T1\n winding a 1 turn\n winding b 5 turns\n")
    assert henries(circuit) == pytest.approx({"T1.a": 4.0, "T1.b": 100.0})


@pytest.mark.parametrize(
    ("head", "size", "coupling"),
    [
        ("", "12 H", 1.0),
        ("", "1.2 mH", None),
        ("", "20 turns 10 mH", None),
        ("", "20 turns 10.1 mH", 1.0),
        ("ungapped", "1.2 mH", 1.0),
        ("coupling 2 %", "1.2 mH", 0.02),
        ("coupling 90 %", "12 H", 0.9),
    ],
)
def test_only_iron_couples_without_a_word(head, size, coupling):
    circuit = made(f"transformer T1 {head}\n winding a {size}\n winding b {size}\n")
    assert circuit.coil_sets["T1"].coupling == coupling


def test_taps_share_the_turns():
    circuit = made(
        "transformer L1\n winding t 20/100 turns 150 uH 5 ohm dot 2\n"
        "transformer T2\n winding m impedance 50/200/800\n"
    )
    (tank,), (mic,) = (s.coils for s in circuit.coil_sets.values())
    assert [share for share, _ in tank.parts] == pytest.approx([0.2, 0.8])
    assert [magnitude(b.resistance, "ohm") for _, b in tank.parts] == pytest.approx([1.0, 4.0])
    assert [share for share, _ in mic.parts] == pytest.approx([0.25, 0.25, 0.5])
    assert [lead for lead, _ in mic.leads] == ["1", "50", "200", "2"]
    assert tank.parts[0][1].a == circuit.net("L1.t.20")  # the dot is towards lead 2


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("transformer T1\n winding a 1 turn\n winding b 10 H\n", "turns, as a has"),
        ("transformer T1\n winding a 6.3 V\n winding b 3 turns\n", "volts"),
        ("transformer T1 gapped\n winding a 6.3 V\n", "windings by turns"),
    ],
)
def test_what_does_not_go_together(text, expected):
    (problem,) = build_circuit(parse_drawing(text)).problems
    assert problem.expected.startswith(expected)
