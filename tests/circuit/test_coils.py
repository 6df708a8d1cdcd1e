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


UNKNOWN = "transformer T1{}\n winding a {}\n winding b ?\n"


@pytest.mark.parametrize("size", ["?", "? turns", "? mH", "impedance ?", "? ct", "? ct ? 12 ohm"])
def test_a_coil_of_unknown_size_has_none_to_compare(size):
    circuit = made(UNKNOWN.format("", size))
    coils = circuit.coil_sets["T1"]
    assert not coils.sized
    assert not coils.iron
    assert coils.coupling is None
    assert henries(circuit) == pytest.approx({"T1.a": 1e-3, "T1.b": 1e-3})
    assert all(c.assumed and c.unsized for c in coils.coils)


def test_iron_is_said_where_no_size_says_it():
    circuit = made(UNKNOWN.format(" gapped", "? 210 ohm"))
    coils = circuit.coil_sets["T1"]
    assert coils.iron
    assert coils.coupling == 1.0
    assert henries(circuit) == pytest.approx({"T1.a": 10.0, "T1.b": 10.0})


def test_one_coil_may_be_known():
    circuit = made(UNKNOWN.format("", "1.2 mH"))
    a, b = circuit.coils()
    assert (a.unsized, b.unsized) == (False, True)
    assert magnitude(a.henries, "henry") == pytest.approx(1.2e-3)


def test_what_is_asked_beside_a_size_is_left_out():
    (coil,) = made("transformer T1\n winding a 3 turns ? H ? ohm\n").coils()
    assert not coil.unsized
    assert coil.resistance is None


MAINS = "mains 120 V 60 Hz\ntransformer T1\n primary p {}\n winding lt {} ct\n winding x 5 V\n"


@pytest.mark.parametrize("asked", ["?", "? V"])
def test_volts_that_are_not_written_are_those_of_what_is_across_them(asked):
    """Halves in parallel, as where tubes of one heater share the winding."""
    text = MAINS.format(asked, asked) + "tube V1 12AX7 heater T1.lt\ntube V2 6V6GT heater T1.lt\n"
    circuit = made(text)
    windings = {w.name: w for w in circuit.windings()}
    assert magnitude(windings["T1.p"].volts, "volt") == 120.0
    assert magnitude(windings["T1.lt"].volts, "volt") == pytest.approx(6.3)
    assert [w.taken for w in windings.values()] == [True, True, False]
    assert circuit.tubes["V1"].heater.mode == "parallel"


def test_heaters_by_their_leads_say_a_windings_volts_too():
    text = MAINS.format("?", "?") + "tube V1 25L6\nT1.lt.1 -- V1.h1\nV1.h2 -- T1.lt.2\n"
    (lt,) = (w for w in made(text).windings() if w.name == "T1.lt")
    assert magnitude(lt.volts, "volt") == 25.0


def test_nothing_is_taken_where_heaters_disagree_or_primaries_are_two():
    text = MAINS.format("?\n primary q ?", "?")
    text += "tube V1 25L6 heater T1.lt\ntube V2 6V6GT heater T1.lt\n"
    assert [w.volts for w in made(text).windings()][:3] == [None, None, None]


def test_a_spring_tank_has_its_impedances_at_a_kilohertz_and_no_coupling():
    circuit = made("reverb TK1 8 ohm 0.8 ohm : 2k25\n")
    tank = circuit.coil_sets["TK1"]
    assert (tank.springs, tank.coupling, tank.sized) == (True, 0.0, True)
    assert henries(circuit) == pytest.approx(
        {"TK1.drive": 1.273e-3, "TK1.recovery": 0.3581}, rel=1e-3
    )
    assert [c.primary for c in tank.coils] == [True, False]
    assert magnitude(tank.coils[0].resistance, "ohm") == 0.8
    assert tank.coils[1].resistance is None


def test_the_leads_of_a_tank_are_also_called_as_they_are_marked():
    circuit = made("reverb TK1 8 ohm : ?\nA -- TK1.in1\nB -- TK1.out2\n")
    assert circuit.net("A") == circuit.net("TK1.drive.1")
    assert circuit.net("B") == circuit.net("TK1.recovery.2")
    assert not circuit.coil_sets["TK1"].sized
