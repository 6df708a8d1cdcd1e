"""What an ohmmeter reads with the power off."""

from math import exp, inf, log

import numpy as np
import pytest

from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.chart.silicon import Silicon
from coldcheck.circuit.paths import NO_CHANGE, Change, resistance

LADDER = """\
B1 --+[E1 250 V]-- gnd
B1 --[R1 10k]-- B2 --[R2 47k]-- B3 --[R3 150k]-- gnd
B1 --+[C1 10 uF 450 V]-- gnd
B2 --+[C2 22 uF 450 V]-- gnd
B3 --+[C3 4.7 uF 450 V]-- gnd
"""


def test_sources_count_as_unplugged(circuit):
    meter = Ohmmeter(circuit(LADDER))
    assert meter.read("B1").nominal == pytest.approx(207e3)
    assert meter.read("B3").nominal == pytest.approx(150e3)


def test_agrees_with_the_tracing_of_paths(harbour):
    """On every net; apart from heaters, which are cold here and hot there."""
    circuit, checked = harbour.circuit, 0
    for net in circuit.graph.nodes:
        traced = resistance(circuit, net)
        if traced is not None and (traced == inf or traced > 1000):
            assert harbour.meter.read(net).nominal == pytest.approx(traced, rel=1e-3)
            checked += 1
    assert checked >= 12


@pytest.mark.parametrize("net", ["B1", "B2", "B3"])
def test_settling_time_against_the_response_itself(circuit, net):
    """Elmore's time is the area above the rising reading, here summed from its own exponentials.

    C dv/dt + G v = i on the three nets, with one ampere of the meter into the net.
    """
    meter = Ohmmeter(circuit(LADDER))
    g1, g2, g3 = 1 / 10e3, 1 / 47e3, 1 / 150e3
    g = np.array([[g1, -g1, 0], [-g1, g1 + g2, -g2], [0, -g2, g2 + g3]])
    c = np.diag([10e-6, 22e-6, 4.7e-6])
    at = ["B1", "B2", "B3"].index(net)
    drive = np.eye(3)[at]
    end = np.linalg.solve(g, drive)
    area = np.linalg.solve(g, c @ end)[at]  # integral of (end - v) over all time
    assert meter.charging(net).seconds == pytest.approx(area / end[at], rel=1e-9)


def test_one_capacitor_settles_as_its_exponential(circuit):
    meter = Ohmmeter(circuit("B1 --[R1 100k]-- gnd\nB1 --+[C1 10 uF 50 V]-- gnd\n"))
    charging = meter.charging("B1")
    assert charging.seconds == pytest.approx(1.0)
    assert 1 - exp(-charging.seconds * log(100)) == pytest.approx(0.99)


def test_nothing_but_a_capacitor_never_settles(circuit):
    meter = Ohmmeter(circuit("A1 --+[C1 10 uF 50 V]-- gnd\nA1 --[R1 1k]-- A2\n"))
    for net in ("A1", "A2"):
        assert meter.read(net).infinite
        assert meter.charging(net).seconds == inf
        assert meter.charging(net).names == ("C1",)


def test_the_right_polarity_for_an_electrolytic(circuit):
    """A bias supply: + on gnd, so the + lead of the meter goes to gnd."""
    text = "NEG --[R1 47k]-- gnd\ngnd --+[C1 47 uF 100 V]-- NEG\n"
    text += "B1 --[R2 47k]-- gnd\nB1 --+[C2 47 uF 100 V]-- gnd\n"
    text += "A1 --[R3 47k]-- A2\ngnd --+[C3 47 uF 100 V]-- A1\n"
    meter = Ohmmeter(circuit(text))
    assert meter.charging("NEG").backwards == ("C1",)
    assert meter.charging("B1").backwards == ()
    assert meter.charging("A2").backwards == ("C3",)


def test_heaters_lamps_and_speakers_cold(circuit):
    """6.3 V / 0.3 A = 21 ohm, a sixth 3.5 (a quarter to a seventh); lamp 42 / 10."""
    text = "tube V1 12AX7\nV1.h1 -- A1\nV1.h2 -- A1\nV1.tap -- gnd\n"
    text += "A2 --[PL1 lamp 6.3 V 0.15 A]-- gnd\nA3 --[LS1 speaker 8 ohm]-- gnd\n"
    meter = Ohmmeter(circuit(text))
    heater = meter.read("A1")
    assert heater.nominal == pytest.approx(3.5)
    assert (heater.low, heater.high) == pytest.approx((3.0, 5.25))
    assert meter.read("A2").nominal == pytest.approx(4.2)
    assert meter.read("A3").nominal == pytest.approx(6.4)


def test_an_unknown_value_leaves_what_does_not_depend_on_it(circuit):
    text = "A1 --[R1 1k]-- A2 --[R2 ?]-- gnd\nA1 --[R3 10k]-- gnd\nA4 --[R4 2k]-- A1\n"
    text += "A5 --[R5 3k]-- gnd\n"
    meter = Ohmmeter(circuit(text))
    found = meter.read("A1")
    assert found.nominal is None
    assert found.low == pytest.approx(1 / (1 / 900 + 1 / 9000))
    assert found.high == pytest.approx(11e3)
    assert meter.read("A5").nominal == pytest.approx(3e3)
    assert meter.read("A4", "A1").nominal == pytest.approx(2e3)


def test_switches_thrown_and_tubes_pulled(circuit):
    text = "A1 --[S1 switch]-- A2 --[R1 1k]-- gnd\ntube V1 12AX7\n"
    text += "A3 --[V1 heater]-- gnd\nV1A.grid -- gnd\n"
    drawn = circuit(text)
    assert Ohmmeter(drawn, NO_CHANGE).read("A1").nominal == pytest.approx(1e3)
    assert Ohmmeter(drawn, Change(thrown=frozenset({"S1"}))).read("A1").infinite
    assert not Ohmmeter(drawn).read("A3").infinite
    assert Ohmmeter(drawn, Change(pulled=frozenset({"V1"}))).read("A3").infinite


def test_a_coil_without_a_resistance_is_taken_and_said(circuit):
    """20 ohm a henry; half to twice."""
    meter = Ohmmeter(circuit("A1 --[L1 8 H]-- gnd\n"))
    found = meter.read("A1")
    assert (found.low, found.nominal, found.high) == pytest.approx((80, 160, 320))
    ((_, cold),) = meter.through("A1")
    assert cold.assumed


# -- diodes -------------------------------------------------------------------------------


def turned_on(drawn, net):
    silicon = Silicon(Ohmmeter(drawn))
    return tuple(set(silicon.turned_on(net, plus_on_point=p)) for p in (True, False))


def test_a_diode_across_a_resistor(circuit):
    drawn = circuit("A1 --[R1 100k]-- gnd\nA1 --[D1 1N4007]-> gnd\n")
    assert turned_on(drawn, "A1") == ({"D1"}, set())


def test_a_bridge_conducts_with_minus_on_the_supply(circuit):
    """Both legs, from gnd through two diodes in series each; nothing the other way round."""
    text = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n"
    text += "    winding ht 250 V 50 ohm\n"
    text += "gnd --[D1 1N4007]-> T1.ht.1 --[D2 1N4007]-> B1\n"
    text += "gnd --[D3 1N4007]-> T1.ht.2 --[D4 1N4007]-> B1\n"
    text += "B1 --[R1 100k]-- gnd\n"
    assert turned_on(circuit(text), "B1") == (set(), {"D1", "D2", "D3", "D4"})


def test_a_diode_behind_nothing_is_not_named(circuit):
    drawn = circuit("A1 --[R1 1k]-- gnd\nA1 --[D1 1N4007]-> A2\nA2 --[C1 1 uF]-- gnd\n")
    assert turned_on(drawn, "A1") == (set(), set())


def test_a_diode_that_takes_next_to_nothing_is_not_named(circuit):
    """10 M behind 1 k: a thousandth of the current."""
    drawn = circuit("A1 --[R1 1k]-- gnd\nA1 --[D1 1N4007]-> A2 --[R2 10M]-- gnd\n")
    assert turned_on(drawn, "A1") == (set(), set())


def test_a_channel_that_conducts_by_itself(circuit):
    """From the drain of a JFET the meter sees its channel, 3.25 V / 6 mA, and the 1k behind it."""
    text = (
        "B --+[E1 24 V]-- gnd\ntransistor Q1 2N5457\nB --[R1 10k]-- D -- Q1.drain\n"
        "Q1.gate --[R2 1M]-- gnd\nQ1.source --[R3 1k 1 %]-- gnd\nD --[C1 1 uF]-- gnd\n"
    )
    drawn = circuit(text)
    row = Bench(drawn).row_of("D", drawn.points["D"])
    assert row.ohms.nominal == pytest.approx(1000 + 3.25 / 6e-3)
    assert row.ohms.low == pytest.approx(990 + 0.3 * 3.25 / 6e-3)
    assert row.ohms.high == pytest.approx(1010 + 10 * 3.25 / 6e-3)
    assert [n.names for n in row.notes if n.kind == "own-channel"] == [("Q1",)]
    assert not [n for n in row.notes if n.kind in ("unknown-part", "climbs")]
    far = Bench(drawn).row_of("B", drawn.points["B"])
    assert far.ohms.nominal == pytest.approx(11_000 + 3.25 / 6e-3)
    assert [n.names for n in far.notes if n.kind == "own-channel"] == [("Q1",)]


@pytest.mark.parametrize(("kind", "ohms"), [("DN2540", 25.0), ("LND150", 1000.0)])
def test_a_depletion_type_has_its_published_resistance(circuit, kind, ohms):
    text = f"transistor Q1 {kind}\nD -- Q1.drain\nQ1.gate -- Q1.source -- gnd\n"
    drawn = circuit(text)
    assert Ohmmeter(drawn).read(drawn.points["D"]).nominal == pytest.approx(ohms)


def test_a_gate_that_nothing_holds_leaves_its_channel_open(circuit):
    text = "transistor Q1 J201\nD -- Q1.drain\nQ1.gate --[C1 1n]-- gnd\nQ1.source -- gnd\n"
    drawn = circuit(text)
    row = Bench(drawn).row_of("D", drawn.points["D"])
    assert row.ohms.nominal is None
    assert [n.names for n in row.notes if n.kind == "own-channel"] == [("Q1",)]
