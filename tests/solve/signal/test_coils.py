"""Coupled coils against closed forms worked out here, not by the solver's equations."""

from __future__ import annotations

import math

import pytest

from coldcheck.solve.signal.small_signal import small_signal

OMEGA = 2 * math.pi * 1000.0


@pytest.fixture(scope="module")
def gain(solved):
    """Drawing text -> volts at OUT per volt at IN, at the source's own frequency."""

    def work(text):
        solution = solved(text)
        signal = small_signal(solution.circuit, solution)
        assert signal is not None
        assert signal.solved, signal.reason
        driven = signal.sources["IN"]
        return complex(driven.output("OUT").gain.at(driven.frequency))

    return work


def pair(head, first, second, load, frequency="1 kHz"):
    return (
        f"transformer T1 {head}\n winding p {first}\n winding s {second}\n"
        f"signal IN 0.1 V {frequency}\nIN -- T1.p.1\nT1.p.2 -- gnd\n"
        f"T1.s.1 -- OUT --[R1 {load}]-- gnd\nT1.s.2 -- gnd\n"
    )


@pytest.mark.parametrize("coupling", [0.02, 0.3, 0.9, 1.0])
@pytest.mark.parametrize("load", [100.0, 10e3])
def test_two_meshes(gain, coupling, load):
    """Two coupled meshes (Terman, Radio Engineers' Handbook, section 3; from memory):

    I2 = -j w M E / (Z1 Z2 + (w M)^2), with each mesh alone in Z1 and Z2.
    """
    l1, l2, r1, r2 = 10e-3, 40e-3, 5.0, 20.0
    m = coupling * math.sqrt(l1 * l2)
    z1, z2 = r1 + 1j * OMEGA * l1, r2 + load + 1j * OMEGA * l2
    expected = 1j * OMEGA * m * load / (z1 * z2 + (OMEGA * m) ** 2)
    text = pair(f"coupling {100 * coupling} %", "10 mH 5 ohm", "40 mH 20 ohm", f"{load} ohm")
    assert gain(text) == pytest.approx(expected, rel=1e-6)


def test_the_dot_turns_the_phase(gain):
    along = gain(pair("coupling 30 %", "10 mH 5 ohm", "40 mH 20 ohm", "1k"))
    back = gain(pair("coupling 30 %", "10 mH 5 ohm", "40 mH 20 ohm dot 2", "1k"))
    assert back == pytest.approx(-along)


def test_an_interstage_transformer_steps_up_by_its_turns(gain):
    """Mid band: n R / (R + Rs + n^2 Rp), the magnetising current left out (400 ohm of 1.3 Mohm)."""
    expected = 3 * 100e3 / (100e3 + 3000 + 9 * 400)
    text = pair("gapped", "1 turn 400 ohm 200 H", "3 turns 3000 ohm", "100k")
    assert abs(gain(text)) == pytest.approx(expected, rel=1e-4)


def test_a_stepped_down_load(gain):
    """22k : 8 ohm into 8 ohm: the root of the ratio, less 4 % of copper on either side."""
    text = pair("", "impedance 22k", "impedance 8", "8 ohm")
    assert abs(gain(text)) == pytest.approx(math.sqrt(8 / 22e3) / 1.08, rel=1e-3)


def test_taps_and_centre_taps_divide_by_the_turns(gain):
    text = pair("ungapped", "20/100 turns 20 H 1 ohm", "50/200 turns ct 200 turns 1 ohm", "1M")
    text = text.replace("IN -- T1.p.1", "IN -- T1.p.20").replace("T1.s.1 --", "T1.s.50 --")
    text = text.replace("T1.p.2 -- gnd", "T1.p.1 -- gnd").replace("T1.s.2 --", "T1.s.ct --")
    # 20 turns of 100 are driven from lead 1; 50 of 200 are between the tap and the centre.
    assert abs(gain(text)) == pytest.approx(50 / 20, rel=1e-3)


@pytest.mark.parametrize("share", [0.5, 1.0, 2.0])
def test_an_if_can_under_at_and_over_critical_coupling(gain, share):
    """Two like tuned circuits at resonance (Terman, section 3; from memory), driven in series:

    E2 / E1 = -j (k / k_c) Q / (1 + (k / k_c)^2) across the second capacitor, k_c = 1 / Q.
    """
    henry, q = 1e-3, 80.0
    frequency = 455e3
    w = 2 * math.pi * frequency
    ohms, farad = w * henry / q, 1 / (w**2 * henry)
    text = (
        f"transformer T1 coupling {100 * share / q} %\n"
        f" winding p {henry * 1e3} mH {ohms:.9f} ohm\n winding s {henry * 1e3} mH {ohms:.9f} ohm\n"
        f"signal IN 1 mV {frequency / 1e3} kHz\nIN --[C1 {farad * 1e12:.9f} pF]-- T1.p.1\n"
        f"T1.p.2 -- gnd\nT1.s.1 -- OUT --[C2 {farad * 1e12:.9f} pF]-- gnd\nT1.s.2 -- gnd\n"
    )
    assert abs(gain(text)) == pytest.approx(share * q / (1 + share**2), rel=1e-3)


def test_direct_current_sees_the_wire_alone(solved):
    text = pair("gapped", "1 turn 400 ohm 20 H", "3 turns 3000 ohm", "100k")
    solution = solved(text + "B --+[E1 100 V]-- gnd\nB --[R2 600 ohm]-- IN\n")
    # 600 ohm of the generator lie beside the winding.
    assert solution.waves["IN"].dc == pytest.approx(100 * 240 / 840, rel=1e-5)
    assert solution.waves["OUT"].dc == pytest.approx(0.0, abs=1e-6)


def test_a_coupling_that_is_not_known_leaves_the_signal_open(solved):
    solution = solved(pair("", "1 mH 5 ohm", "1 mH 5 ohm", "1k"))
    assert solution.converged
    signal = small_signal(solution.circuit, solution)
    assert not signal.solved
    assert signal.reason == "depends on the coupling of T1"


def test_a_tank_loads_its_driver_by_its_impedance_at_a_kilohertz(gain):
    """A coil of 2200 ohm reactance behind as much resistance: j / (1 + j)."""
    text = (
        "signal IN 0.1 V 1 kHz\nIN --[R1 2k2]-- OUT -- TK1.in1\nTK1.in2 -- gnd\n"
        "reverb TK1 2k2 0.001 ohm : 2k2 200 ohm\nTK1.out1 --[R2 220k]-- gnd\nTK1.out2 -- gnd\n"
    )
    assert gain(text) == pytest.approx(1j / (1 + 1j), rel=1e-3)


def test_what_springs_hand_on_is_not_worked_out(gain):
    text = (
        "signal IN 0.1 V 1 kHz\nIN -- TK1.in1\nTK1.in2 -- gnd\n"
        "reverb TK1 8 ohm : 2k2 200 ohm\nTK1.out1 -- OUT --[R2 220k]-- gnd\nTK1.out2 -- gnd\n"
    )
    assert abs(gain(text)) < 1e-9
