"""What a scope's ground clip would do."""

import pytest

from coldcheck.bench.instruments.clip import clip_on, mains_side


def clip(bench, point):
    circuit = bench.circuit
    return clip_on(circuit, circuit.points[point], bench.sources, bench.meter)


def test_gnd_that_is_earthed(harbour):
    found = clip(harbour, "gnd")
    assert (found.kind, found.allowed) == ("earthed", True)


def test_gnd_without_an_earth_in_the_drawing(bench):
    found = clip(bench("B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n"), "gnd")
    assert (found.kind, found.allowed) == ("unearthed", True)


def test_a_live_common_takes_no_clip(galley):
    assert "gnd" in mains_side(galley.circuit)
    for point in ("gnd", "RES", "HOT"):
        found = clip(galley, point)
        assert (found.kind, found.allowed) == ("live common", False)


def test_the_mains_side(harbour):
    assert "gnd" not in mains_side(harbour.circuit)
    for point in ("line", "neutral", "FUSED", "T1.pri.1"):
        assert clip(harbour, point).kind == "mains"


def test_a_divider_by_hand(bench):
    """50 V behind 500 ohm: 100 mA. The capacitor on it empties itself."""
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 1k]-- gnd\nM --+[C1 10 uF 100 V]-- gnd\n"
    found = clip(bench(text), "M")
    assert (found.kind, found.allowed) == ("short", False)
    assert found.volts_dc == pytest.approx(50, rel=1e-3)
    assert found.dc_amps == pytest.approx(0.1, rel=1e-3)
    assert found.ac_amps == 0
    assert found.discharges == ("C1",)


def test_the_winding_of_a_lifted_heater(harbour):
    """31.7 V behind 22 k in parallel with 150 k and 10 k: 1.6 mA; 3.25 V AC: 12 mA.

    The AC flows through half the winding, the lift's capacitor (10 uF: 265 ohm) and the clip.
    """
    found = clip(harbour, "T1.warm.1")
    behind = 1 / (1 / 22e3 + 1 / 160e3)
    assert found.dc_amps == pytest.approx(31.7 / behind, rel=0.03)
    assert found.ac_amps == pytest.approx(3.25 / 265.3, rel=0.03)


def test_a_floating_winding(bench):
    text = "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n"
    text += "    winding warm 6.3 V 0.1 ohm\ntube V1 12AX7 heater T1.warm\n"
    text += "V1A.grid -- V1A.cathode -- gnd\n"
    found = clip(bench(text), "T1.warm.1")
    assert (found.kind, found.allowed) == ("floating", False)
    assert found.reason
