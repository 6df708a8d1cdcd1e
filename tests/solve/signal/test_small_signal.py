"""Gains, impedances, corners and swings against the formulas of the trade and a full integration.

The formulas are exact for straight-line tubes, so they are held to parts in a million, with mu,
gm and rp taken from the tube's law at the solved operating point. What they cannot show, that the
straight lines are the right ones, the integration in time of the whole nonlinear stage shows.
"""

import math

import numpy as np
import pytest
import sympy
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, fsolve

import coldcheck.solve
from coldcheck.circuit.tubes import tube_type
from coldcheck.solve import solve_state
from coldcheck.solve.signal.hum import hum
from coldcheck.solve.signal.results import BOTTOMED, CUT_OFF, GRID_CURRENT
from coldcheck.solve.signal.small_signal import small_signal, with_swing
from coldcheck.solve.signal.sweep import Sweep, default_frequencies, ratio
from coldcheck.solve.tubes.laws import law_for

EXACT = 1e-5


@pytest.fixture(scope="module")
def signalled(solved):
    """Drawing text -> its solution and its signal solution, which must exist."""

    def work(text, frequencies=None):
        solution = solved(text)
        signal = small_signal(solution.circuit, solution, frequencies)
        assert signal is not None
        assert signal.solved, signal.reason
        return solution, signal

    return work


def law_at(solution, section):
    """The law's currents and slope matrix at a section's solved voltages (DC drawings)."""
    part = next(s for s in solution.circuit.sections() if s.name == section)
    law = law_for(part.type)
    cathode = solution.wave(f"{section}.cathode").dc
    volts = [[solution.wave(f"{section}.{e}").dc - cathode] for e in law.electrodes]
    amps, slopes = law.currents(np.array(volts))
    return amps[:, 0], slopes[:, :, 0]


def triode(solution, section):
    """mu, gm, rp of a triode from its law."""
    _, slopes = law_at(solution, section)
    return slopes[0, 1] / slopes[0, 0], slopes[0, 1], 1 / slopes[0, 0]


def beside(*ohms):
    return 1 / sum(1 / r for r in ohms)


COMMON = """
tube V1 12AX7
B1 --+[E1 {volts} V]-- gnd
B1 --[R1 {ra} ohm]-- V1A.plate --[R2 {load} ohm]-- gnd
signal IN 0.1 V 1 kHz
IN -- V1A.grid
V1A.cathode --[R3 {rk} ohm]-- gnd
"""


# -- gains and impedances ---------------------------------------------------------------------


@settings(max_examples=15)
@given(
    volts=st.integers(150, 400), ra=st.integers(30_000, 300_000), rk=st.integers(300, 10_000),
    load=st.integers(100_000, 1_000_000), tube=st.sampled_from(["12AX7", "12AU7", "6SL7GT"]),
)  # fmt: skip
def test_common_cathode_unbypassed(signalled, volts, ra, rk, load, tube):
    """A = mu R/(rp + R + Rk (mu + 1)); plate seen R beside rp + Rk (mu + 1).

    Where the bias is small the grid conducts a little: its slope g (nothing at 2 V of bias) comes
    beside Rk, and i = (mu - (mu + 1) Rk' g)/(rp + R + Rk' (mu + 1)) with Rk' = Rk beside 1/g.
    """
    text = COMMON.replace("12AX7", tube).format(volts=volts, ra=ra, rk=rk, load=load)
    solution, signal = signalled(text, [100.0])
    mu, gm, rp = triode(solution, "V1A")
    g, r = law_at(solution, "V1A")[1][1, 1], beside(ra, load)
    shunted = rk / (1 + rk * g)
    amps = (mu - (mu + 1) * shunted * g) / (rp + r + shunted * (mu + 1))
    stage = signal.sources["IN"].stage("V1A")
    assert stage.plate_gain.mid == pytest.approx(-amps * r, rel=EXACT)
    assert stage.cathode_gain.mid == pytest.approx(shunted * (amps + g), rel=EXACT)
    # Injecting at the plate moves the grid too, by the generator's 600 ohm times g.
    plate = beside(r, rp + shunted * (mu + 1))
    assert stage.plate_ohm == pytest.approx(plate, rel=EXACT + 2000 * g)
    assert (stage.mu, stage.gm, stage.rp) == pytest.approx((mu, gm, rp), rel=EXACT)
    assert (stage.input, stage.output) == ("grid", "plate")


def test_common_cathode_bypassed(signalled):
    """A = mu R/(rp + R) and R beside rp, once the capacitor is a short."""
    text = COMMON.format(volts=300, ra=100e3, rk=1500, load=220e3)
    solution, signal = signalled(text + "V1A.cathode --+[C1 10000 uF]-- gnd\n")
    mu, _, rp = triode(solution, "V1A")
    r = beside(100e3, 220e3)
    stage = signal.sources["IN"].stage("V1A")
    assert abs(stage.plate_gain.mid) == pytest.approx(mu * r / (rp + r), rel=1e-4)
    assert abs(stage.plate_ohm) == pytest.approx(beside(r, rp), rel=1e-4)


FOLLOWER = """
tube V1 12AU7
B1 --+[E1 250 V]-- gnd
gnd --+[E2 100 V]-- C-
B1 -- V1A.plate
V1A.cathode --[R1 22k]-- C-
V1A.cathode -- OUT
signal IN 10 V 1 kHz
IN -- V1A.grid
"""


def test_cathode_follower(signalled):
    """A = mu Rk/(rp + Rk (mu + 1)); output impedance 1/(gm + 1/rp + 1/Rk)."""
    solution, signal = signalled(FOLLOWER)
    mu, gm, rp = triode(solution, "V1A")
    driven = signal.sources["IN"]
    stage, output = driven.stage("V1A"), driven.output("OUT")
    gain, ohm = mu * 22e3 / (rp + 22e3 * (mu + 1)), 1 / (gm + 1 / rp + 1 / 22e3)
    assert stage.output == "cathode"
    assert stage.gain.mid == pytest.approx(gain, rel=EXACT)
    assert stage.ohm == pytest.approx(ohm, rel=EXACT)
    assert output.gain.mid == pytest.approx(gain, rel=EXACT)
    assert output.impedance.mid == pytest.approx(ohm, rel=EXACT)
    assert output.volts == pytest.approx(10 * gain, rel=EXACT)
    assert with_swing(solution, signal)["V1A"] == pytest.approx(10 * math.sqrt(2) * gain, rel=EXACT)


def test_grounded_grid(signalled):
    """A = (mu + 1) R/(rp + R), from the cathode; the grid at rest is no input."""
    solution, signal = signalled(
        "tube V1 6SN7GT\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 22k]-- V1A.plate\n"
        "V1A.grid -- gnd\nV1A.cathode --[R2 1k]-- gnd\nsignal IN 0.1 V\n"
        "IN --[C1 1000 uF]-- V1A.cathode\n"
    )
    mu, _, rp = triode(solution, "V1A")
    stage = signal.sources["IN"].stage("V1A")
    assert stage.input == "cathode"
    assert stage.cathode_gain is None
    assert stage.gain.mid == pytest.approx((mu + 1) * 22e3 / (rp + 22e3), rel=1e-4)


def test_split_load_inverter(signalled):
    """Both outputs mu R/(rp + R (mu + 2)), opposite; the cathode's impedance is far lower."""
    solution, signal = signalled(
        "tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\ngnd --+[E2 100 V]-- C-\n"
        "B1 --[R1 100k]-- V1A.plate\nV1A.cathode --[R2 100k]-- C-\n"
        "signal IN 5 V\nIN -- V1A.grid\n"
    )
    mu, _, rp = triode(solution, "V1A")
    stage = signal.sources["IN"].stage("V1A")
    expected = mu * 100e3 / (rp + 100e3 * (mu + 2))
    assert stage.plate_gain.mid == pytest.approx(-expected, rel=EXACT)
    assert stage.cathode_gain.mid == pytest.approx(expected, rel=EXACT)
    assert stage.plate_ohm == pytest.approx(beside(100e3, rp + 100e3 * (mu + 1)), rel=EXACT)
    assert stage.cathode_ohm == pytest.approx(beside(100e3, (rp + 100e3) / (mu + 1)), rel=EXACT)
    names = [o.name for o in signal.sources["IN"].outputs]
    assert names == ["V1A.plate", "V1A.cathode"]  # nothing is named OUT


def test_long_tailed_pair(signalled):
    """Three node equations solved by sympy: two plates, one tail, slopes of each half apart."""
    solution, signal = signalled(
        "tube V1 12AX7\nB1 --+[E1 320 V]-- gnd\ngnd --+[E2 80 V]-- C-\n"
        "B1 --[R1 82k]-- V1A.plate\nB1 --[R2 100k]-- V1B.plate\n"
        "V1A.cathode -- V1B.cathode\nV1A.cathode --[R3 47k]-- C-\n"
        "signal IN 1 V\nIN -- V1A.grid\nV1B.grid --[R4 10k]-- gnd\n"
    )
    (_, gm1, rp1), (_, gm2, rp2) = triode(solution, "V1A"), triode(solution, "V1B")
    p1, p2, k = sympy.symbols("p1 p2 k")
    i1, i2 = gm1 * (1 - k) + (p1 - k) / rp1, -gm2 * k + (p2 - k) / rp2
    at = sympy.solve([p1 / 82e3 + i1, p2 / 100e3 + i2, k / 47e3 - i1 - i2], [p1, p2, k])
    driven = signal.sources["IN"]
    one, two = driven.stage("V1A"), driven.stage("V1B")
    # The second grid draws nanoamperes and moves with nothing: 10 kohm do not show.
    assert one.plate == pytest.approx(float(at[p1]), rel=1e-4)
    assert two.plate == pytest.approx(float(at[p2]), rel=1e-4)
    assert one.cathode == pytest.approx(float(at[k]), rel=1e-4)
    assert two.input == "cathode"
    assert two.plate_gain.mid == pytest.approx(float(at[p2] / at[k]), rel=1e-4)


def test_pentode_with_nothing_bypassed(signalled):
    """Plate, screen and cathode nodes with the law's own 3 by 3 slopes."""
    solution, signal = signalled(
        "tube V1 6SJ7\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 100k]-- V1.plate\n"
        "B1 --[R2 390k]-- V1.screen\nV1.cathode --[R3 820 ohm]-- gnd\n"
        "V1.suppressor -- V1.cathode\nsignal IN 0.1 V\nIN -- V1.grid\n"
    )
    _, y = law_at(solution, "V1")
    # Currents into plate and screen for (plate, screen, grid) to the cathode; the cathode sums.
    inner = np.vstack([y[:2], -y.sum(axis=0)])
    # volts to cathode = T (vp, vs, vk) + (0, 0, 1) vg
    t = np.array([[1, 0, -1], [0, 1, -1], [0, 0, -1]])
    loads = np.diag([1 / 100e3, 1 / 390e3, 1 / 820])
    vp, vs, vk = np.linalg.solve(loads + inner @ t, -inner @ [0, 0, 1])
    stage = signal.sources["IN"].stage("V1")
    assert stage.plate == pytest.approx(vp, rel=1e-4)  # grid current in the sum: nanosiemens
    assert stage.cathode == pytest.approx(vk, rel=1e-4)
    response = signal.sources["IN"].response[solution.circuit.net("V1.screen")]
    assert response[10] == pytest.approx(vs, rel=1e-4)


def test_pentode_bypassed(signalled):
    """A = gm (rp beside R) with screen and cathode held."""
    solution, signal = signalled(
        "tube V1 EF86\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 100k]-- V1.plate\n"
        "B1 --[R2 390k]-- V1.screen --[C1 100 uF]-- gnd\nV1.cathode --[R3 1k]-- gnd\n"
        "V1.cathode --[C2 10000 uF]-- gnd\nV1.suppressor -- V1.cathode\n"
        "signal IN 0.1 V\nIN -- V1.grid\n"
    )
    _, y = law_at(solution, "V1")
    stage = signal.sources["IN"].stage("V1")
    assert abs(stage.gain.mid) == pytest.approx(y[0, 2] * beside(1 / y[0, 0], 100e3), rel=1e-4)


# -- feedback ---------------------------------------------------------------------------------

LOOP = """
tube V1 12AX7
B1 --+[E1 300 V]-- gnd
signal IN 0.1 V
IN -- V1A.grid
B1 --[R1 220k]-- V1A.plate --[C1 10 uF]-- G2 --[R2 1M]-- gnd
V1A.cathode --[R3 2k2]-- gnd
G2 -- V1B.grid
B1 --[R4 47k]-- V1B.plate --[C2 100 uF]-- OUT --[R5 470k]-- gnd
V1B.cathode --[R6 1k5]-- gnd
V1B.cathode --[C3 10000 uF]-- gnd
"""
FEEDBACK = 47e3


def test_loop_gain_divides_the_gain(signalled):
    """Closed = A/(1 + A B): B = Rk/(Rk + Rf), A from the opened loop with its loads kept.

    Opened as the textbooks do it: Rf on both sides, once to gnd at the cathode, once with Rk as
    the output's load. That leaves out what goes forward through Rf, so 1 %.
    """
    _, opened = signalled(LOOP + "V1A.cathode --[R7 47k]-- gnd\nOUT --[R8 49.2k]-- gnd\n")
    _, closed = signalled(LOOP + "OUT --[R7 47k]-- V1A.cathode\n")
    a, b = (s.sources["IN"].output("OUT") for s in (opened, closed))
    share = 2200 / (2200 + FEEDBACK)
    loop = abs(a.gain.mid) * share
    assert 10 < loop < 200
    assert abs(b.gain.mid) == pytest.approx(abs(a.gain.mid) / (1 + loop), rel=0.01)


def test_loop_by_node_equations(signalled):
    """The same loop exactly, all capacitors shorts: five nodes solved by sympy."""
    solution, signal = signalled(LOOP + "OUT --[R7 47k]-- V1A.cathode\n", [1e3, 1e4])
    (_, gm1, rp1), (_, gm2, rp2) = triode(solution, "V1A"), triode(solution, "V1B")
    p1, k, o, g, amps = sympy.symbols("p1 k o g amps")
    i1, i2 = gm1 * (g - k) + (p1 - k) / rp1, gm2 * p1 + o / rp2
    at = sympy.solve(
        [
            p1 / beside(220e3, 1e6) + i1,
            k / 2200 + (k - o) / FEEDBACK - i1,
            o / beside(47e3, 470e3) + i2 + (o - k) / FEEDBACK - amps,
        ],
        [p1, k, o],
    )
    driven, by_signal, by_amps = signal.sources["IN"], {g: 1, amps: 0}, {g: 0, amps: 1}
    output = driven.output("OUT")
    assert output.gain.at(1e4) == pytest.approx(float(at[o].subs(by_signal)), rel=1e-3)
    assert output.impedance.at(1e4) == pytest.approx(float(at[o].subs(by_amps)), rel=1e-3)
    assert driven.stage("V1A").cathode == pytest.approx(float(at[k].subs(by_signal)), rel=1e-3)


# -- corners ----------------------------------------------------------------------------------


@pytest.mark.parametrize("ohms", [1e6, 220e3])
def test_coupling_corner(signalled, ohms):
    """22 nF into 1 M and 220 k, 7.2 and 32.9 Hz (derived, 1/(2 pi R C))."""
    _, signal = signalled(f"signal IN 1 V\nIN --[C1 22 nF]-- OUT --[R1 {ohms} ohm]-- gnd\n")
    output = signal.sources["IN"].output("OUT")
    corner = 1 / (2 * math.pi * ohms * 22e-9)
    assert output.gain.low_corner == pytest.approx(corner, rel=0.005)
    assert corner == pytest.approx({1e6: 7.2, 220e3: 32.9}[ohms], rel=0.01)
    assert output.gain.high_corner is None


def test_high_corner_of_a_drawn_capacitor(signalled):
    _, signal = signalled("signal IN 1 V\nIN --[R1 100k]-- OUT --[C1 20 pF]-- gnd\n")
    gain = signal.sources["IN"].output("OUT").gain
    assert gain.high_corner == pytest.approx(1 / (2 * math.pi * 100e3 * 20e-12), rel=0.005)
    assert gain.low_corner is None
    # The generator's 600 ohm are no part of the gain, but of what is seen at the output.
    assert abs(signal.sources["IN"].output("OUT").impedance.at(1.0)) == pytest.approx(
        100.6e3, rel=1e-3
    )


def test_no_capacitors_no_corners(signalled):
    _, signal = signalled(FOLLOWER)
    gain = signal.sources["IN"].output("OUT").gain
    assert gain.low_corner is None
    assert gain.high_corner is None  # not judged: no interelectrode capacitance on file


def test_cathode_bypass_corner_is_above_one_over_two_pi_rc(signalled):
    """25 uF at 1.5 k is 4.24 Hz on paper; the true corner has 1/gm beside Rk.

    Truth: |mu R/(rp + R + Zk (mu + 1))| with Zk = Rk/(1 + j w Rk C), 3 dB below its top.
    """
    text = COMMON.format(volts=300, ra=100e3, rk=1500, load=470e3)
    solution, signal = signalled(text + "V1A.cathode --+[C1 25 uF 25 V]-- gnd\n")
    mu, _, rp = triode(solution, "V1A")
    r = beside(100e3, 470e3)

    def gain(f):
        zk = 1500 / (1 + 2j * math.pi * f * 1500 * 25e-6)
        return abs(mu * r / (rp + r + zk * (mu + 1)))

    truth = brentq(lambda f: gain(f) - gain(1e3) / math.sqrt(2), 0.5, 100)
    got = signal.sources["IN"].stage("V1A").gain
    paper = 1 / (2 * math.pi * 1500 * 25e-6)
    assert paper == pytest.approx(4.24, rel=0.002)
    assert got.low_corner == pytest.approx(truth, rel=0.005)
    assert got.low_corner > paper


def test_gain_at_every_frequency_of_the_sweep(signalled):
    text = COMMON.format(volts=300, ra=100e3, rk=1500, load=470e3)
    solution, signal = signalled(text + "V1A.cathode --+[C1 25 uF 25 V]-- gnd\n")
    mu, _, rp = triode(solution, "V1A")
    r, gain = beside(100e3, 470e3), signal.sources["IN"].stage("V1A").plate_gain
    zk = 1500 / (1 + 2j * np.pi * gain.frequencies * 1500 * 25e-6)
    assert gain.values == pytest.approx(-mu * r / (rp + r + zk * (mu + 1)), rel=EXACT)
    assert len(gain.frequencies) == len(default_frequencies()) == 101


def test_a_sweep_reads_between_its_points():
    frequencies = default_frequencies()
    flat = Sweep(frequencies, np.full(101, 2 + 1j))
    assert flat.at(1234.5) == pytest.approx(2 + 1j)
    assert flat.low_corner is None
    nothing = Sweep(frequencies, np.zeros(101, dtype=complex))
    assert (nothing.low_corner, nothing.high_corner) == (None, None)
    assert not ratio(flat, nothing).values.any()


# -- output transformers ----------------------------------------------------------------------

SINGLE = """
tube V1 {tube}
output T1 5k : 8 ohm 200 ohm {henries} H
B1 --+[E1 270 V]-- gnd
B1 -- T1.p1
T1.p2 -- V1.plate
signal IN 5 V 1 kHz
IN -- V1.grid
{cathode} --[R1 {rk} ohm]-- gnd
{cathode} --[C1 100000 uF]-- gnd
T1.s1 --[LS1 speaker 8 ohm]-- T1.s2
"""


def single(henries):
    return SINGLE.format(tube="6J5", cathode="V1.cathode", rk=900, henries=henries)


def test_output_transformer_ratio(signalled):
    """n² = 8/5000: the speaker sees n² (rp + Rp) + Rs, the plate Rp + (8 + Rs)/n².

    Rs is the 4 % of the working impedance the solver takes where only the primary is given.
    The secondary floats: a voltage across it is known all the same.
    """
    solution, signal = signalled(single(100000))
    mu, _, rp = triode(solution, "V1")
    n2, rs = 8 / 5000, 0.04 * 8
    output = signal.sources["IN"].output("LS1")
    assert output.impedance.mid == pytest.approx(n2 * (rp + 200) + rs, rel=1e-4)
    assert output.damping == pytest.approx(8 / (n2 * (rp + 200) + rs), rel=1e-4)
    load = 200 + (8 + rs) / n2
    expected = mu / (rp + load) * math.sqrt(1 / n2) * 8
    assert abs(output.gain.mid) == pytest.approx(expected, rel=1e-4)
    assert output.watts == pytest.approx((5 * expected) ** 2 / 8, rel=1e-4)
    assert signal.assumed == {}


def test_primary_inductance_makes_the_low_corner(signalled):
    """L across (rp + Rp) beside (8 + Rs)/n²: f = R/(2 pi L)."""
    solution, signal = signalled(single(10))
    _, _, rp = triode(solution, "V1")
    r = beside(rp + 200, 8 * 1.04 / (8 / 5000))
    corner = signal.sources["IN"].output("LS1").gain.low_corner
    assert corner == pytest.approx(r / (2 * math.pi * 10), rel=0.005)


def test_an_inductance_taken_for_granted_is_said(signalled):
    """Not written: the reactance equals the load at 20 Hz (the solver's assumption)."""
    text = single(10).replace(" 10 H", "")
    _, signal = signalled(text)
    assert signal.assumed == {"T1": pytest.approx(5000 / (2 * math.pi * 20))}


def test_a_secondary_without_a_speaker_is_an_output(signalled):
    text = single(10).replace("[LS1 speaker 8 ohm]", "[R9 8 ohm]")
    _, signal = signalled(text)
    output = signal.sources["IN"].output("T1.s1-s2")
    assert output.load is None
    assert output.watts is None
    with_speaker = signalled(single(10))[1].sources["IN"].output("LS1")
    assert output.volts == pytest.approx(with_speaker.volts, rel=1e-6)
    seen = with_speaker.impedance.mid
    assert output.impedance.mid == pytest.approx(seen * 8 / (seen + 8), rel=1e-6)


# -- a full integration in time ---------------------------------------------------------------


@pytest.mark.parametrize("frequency", [20.0, 300.0])
def test_small_sine_through_the_whole_nonlinear_stage(signalled, frequency):
    """A 12AX7 with bypassed cathode and coupling capacitor, 5 mV: amplitude and phase.

    States are the two capacitors' charges; the plate node is solved at each instant. The
    reference shares only the tube's law.
    """
    ra, rk, rg, ck, cc = 100e3, 1500.0, 470e3, 4.7e-6, 22e-9
    text = (
        f"tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 {ra} ohm]-- V1A.plate\n"
        f"V1A.plate --[C1 {cc * 1e9} nF]-- OUT --[R2 {rg} ohm]-- gnd\n"
        f"signal IN 5 mV {frequency} Hz\nIN -- V1A.grid\nV1A.cathode --[R3 {rk} ohm]-- gnd\n"
        f"V1A.cathode --[C2 {ck * 1e6} uF]-- gnd\n"
    )
    law = law_for(tube_type("12AX7").sections[0])

    def plate_amps(plate, cathode, grid):
        return float(law.currents(np.array([[plate - cathode], [grid - cathode]]))[0][0, 0])

    def plate_volts(held, cathode, grid):
        """(300 - v)/ra = i(v) + (v - held)/rg with ``held`` across the coupling capacitor."""
        return brentq(
            lambda v: (300 - v) / ra - plate_amps(v, cathode, grid) - (v - held) / rg, 0, 600,
            xtol=1e-10,
        )  # fmt: skip

    def rhs(t, x):
        held, cathode = x
        v = plate_volts(held, cathode, math.sqrt(2) * 5e-3 * math.sin(2 * math.pi * frequency * t))
        out = v - held
        amps = (300 - v) / ra - out / rg
        return [out / rg / cc, (amps - cathode / rk) / ck]

    def rest(x):
        amps = (300 - x[0]) / ra
        return [plate_amps(x[0], x[1], 0.0) - amps, x[1] / rk - amps]

    start = fsolve(rest, [190.0, 1.4], xtol=1e-12)
    period, cycles = 1 / frequency, round(max(4, 0.12 * frequency))  # time constants up to 12 ms
    times = (cycles + np.arange(64) / 64) * period
    run = solve_ivp(
        rhs, (0, times[-1]), start, method="LSODA", rtol=1e-8, atol=1e-9, max_step=period / 40,
        t_eval=times,
    )  # fmt: skip
    grids = math.sqrt(2) * 5e-3 * np.sin(2 * np.pi * frequency * times)
    outs = [plate_volts(h, k, g) - h for (h, k), g in zip(run.y.T, grids, strict=True)]
    turn = np.exp(-2j * np.pi * frequency * times)
    gain = (outs * turn).sum() / (grids * turn).sum()
    got = signalled(text)[1].sources["IN"].output("OUT").gain.at(frequency)
    assert got == pytest.approx(gain, rel=3e-3)


# -- swings and limits ------------------------------------------------------------------------


def test_limits_of_a_triode_stage_by_hand(signalled):
    """Bypassed: the grid reaches the cathode at Vk; the current is gone at I0 (rp + R)/mu."""
    text = COMMON.format(volts=300, ra=100e3, rk=1500, load=1e9)
    solution, signal = signalled(text + "V1A.cathode --[C1 10000 uF]-- gnd\n")
    mu, _, rp = triode(solution, "V1A")
    stage = signal.sources["IN"].stage("V1A")
    limits = {x.cause: x.source_peak for x in stage.limits}
    cathode = solution.wave("V1A.cathode").dc
    across = solution.wave("V1A.plate").dc - cathode
    amps = cathode / 1500
    assert limits[GRID_CURRENT] == pytest.approx(cathode, rel=1e-4)
    assert limits[CUT_OFF] == pytest.approx(amps * (rp + 100e3) / mu, rel=1e-4)
    assert limits[BOTTOMED] == pytest.approx(across / abs(stage.gain.mid), rel=1e-4)
    assert not stage.overdriven
    assert not signal.sources["IN"].overdriven


def test_an_overdriven_cathode_does_not_swing_without_end(signalled):
    """Unbypassed, 50 V in: the straight line says 50 V and more, the stage cannot."""
    text = FOLLOWER.replace("10 V 1 kHz", "500 V 1 kHz")
    solution, signal = signalled(text)
    stage = signal.sources["IN"].stage("V1A")
    assert stage.overdriven
    assert stage.cathode_swing > 500
    most = max(x.source_peak for x in stage.limits if x.cause != BOTTOMED)
    swing = with_swing(solution, signal)["V1A"]
    assert swing == pytest.approx(most * abs(stage.cathode))
    assert swing < 500
    # It cannot do more than take the whole standing current away, or all of the supply.
    assert swing < 350


def test_push_pull_is_not_limited_by_one_sides_cut_off(signalled):
    pair = (
        "tube V1 6V6GT\ntube V2 6V6GT\noutput T1 8k ct : 8 ohm 200 ohm 20 H\n"
        "B1 --+[E1 285 V]-- gnd\nB1 -- T1.ct\nT1.p1 -- V1.plate\nT1.p2 -- V2.plate\n"
        "B1 -- V1.screen\nB1 -- V2.screen\nT1.s1 --[LS1 speaker 8 ohm]-- T1.s2\nT1.s2 -- gnd\n"
        "V1.cathode --[R1 560 ohm]-- gnd\nV2.cathode --[R2 560 ohm]-- gnd\n"
        "V1.cathode --[C1 1000 uF]-- gnd\nV2.cathode --[C2 1000 uF]-- gnd\n"
        "signal IN 8 V\nIN -- V1.grid\nV2.grid -- gnd\n"
    )
    _, signal = signalled(pair)
    causes = {x.cause for x in signal.sources["IN"].stage("V1").limits}
    assert causes == {GRID_CURRENT, BOTTOMED}
    assert [s.section for s in signal.sources["IN"].stages] == ["V1"]  # V2 stands still


STEREO = """
tube V1 12AX7
B1 --+[E1 300 V]-- gnd
B1 --[R9 10k]-- B2 --[C9 1 uF]-- gnd
signal IN_L 0.1 V 1 kHz
signal IN_R 0.2 V 500 Hz
IN_L -- V1A.grid
IN_R -- V1B.grid
B2 --[R1 100k]-- V1A.plate -- OUT_L
B2 --[R2 100k]-- V1B.plate -- OUT_R
V1A.cathode --[R3 1k5]-- gnd
V1B.cathode --[R4 1k5]-- gnd
"""


def test_two_channels_each_with_its_own_stages(signalled):
    """The common supply carries a trace of each into the other: that is no second stage."""
    _, signal = signalled(STEREO)
    left, right = signal.sources["IN_L"], signal.sources["IN_R"]
    assert [s.section for s in left.stages] == ["V1A"]
    assert [s.section for s in right.stages] == ["V1B"]
    assert [o.name for o in left.outputs] == ["OUT_L"]
    assert right.frequency == 500
    assert 500 in right.frequencies
    assert abs(left.response["OUT_R"]).max() > 0  # the trace is there to be read


def test_two_sources_in_one_stage_add_up(signalled):
    """Each through its own 100 k to one grid: their swings add at the cathode."""
    one = (
        "tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
        "V1A.cathode --[R2 1k5]-- gnd\nIN1 --[R3 100k]-- V1A.grid\nIN2 --[R4 100k]-- V1A.grid\n"
        "signal IN1 0.3 V\nsignal IN2 {} V\n"
    )
    solution, signal = signalled(one.format(0.2))
    stages = [signal.sources[s].stage("V1A") for s in ("IN1", "IN2")]
    total = sum(s.cathode_swing for s in stages)
    assert with_swing(solution, signal)["V1A"] == pytest.approx(total)
    assert stages[0].cathode_swing == pytest.approx(1.5 * stages[1].cathode_swing, rel=1e-6)


# -- one-way parts ----------------------------------------------------------------------------


def test_a_conducting_diode_is_its_slope(signalled):
    """1 mA through 1N4007: r = n Vt/I + Rs, with the constants of the solver's diode."""
    from coldcheck.solve.cycle.diodes import SILICON_IS, SILICON_NVT, SILICON_RS

    solution, signal = signalled(
        "B1 --+[E1 100 V]-- gnd\nB1 --[R1 100k]-- OUT --[D1 1N4007]-> gnd\n"
        "signal IN 0.1 V\nIN --[R2 1k]-- MID --[C1 1000 uF]-- OUT\n"
    )
    amps = solution.current("D1").dc
    slope = SILICON_NVT / (amps + SILICON_IS) + SILICON_RS
    below = beside(slope, 100e3)
    gain = signal.sources["IN"].output("OUT").gain.mid
    assert gain == pytest.approx(below / (1000 + below), rel=1e-3)


def test_a_rectifier_counts_by_the_share_of_the_cycle_it_conducts(signalled):
    """Half-wave silicon on 50 Hz into 1 k: blocked half of the time, a few ohms the other half.

    Its conductance averaged over the reported current, in series with the winding and the
    primary through the ratio, beside the load.
    """
    from coldcheck.solve.cycle.diodes import SILICON_IS, SILICON_NVT, SILICON_RS

    text = (
        "mains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V 1 ohm\n"
        "    winding ht 50 V 1 ohm\n"
        "T1.ht.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> OUT --[R1 1k]-- gnd\n"
        "signal IN 1 V\nIN --[R2 100k]-- OUT\n"
    )
    solution, signal = signalled(text)
    amps = solution.current("D1").samples
    slopes = np.where(amps > 0, 1 / (SILICON_NVT / (amps + SILICON_IS) + SILICON_RS), 0.0)
    assert 0.4 < np.mean(amps > 1e-6) < 0.51
    expected = beside(1000, 100.6e3, 1 / slopes.mean() + 1 + (50 / 230) ** 2)
    ohm = signal.sources["IN"].output("OUT").impedance.mid
    assert abs(ohm) == pytest.approx(expected, rel=0.01)


def test_a_vacuum_rectifier_likewise(signalled):
    """i = k v^1.5 on a steady supply: the slope is 1.5 i/v."""
    solution, signal = signalled(
        "tube V1 5AR4\nB1 --+[E1 200 V]-- gnd\nB1 --[R1 2k]-- V1.plate1\nB1 --[R2 2k]-- V1.plate2\n"
        "V1.cathode -- OUT --[R3 2k]-- gnd\nsignal IN 1 V\nIN --[R4 100k]-- OUT\n"
    )
    volts = solution.between("V1.plate1", "V1.cathode").dc
    amps = solution.readings["V1"].plate_ma / 2e3
    path = (2000 + volts / (1.5 * amps)) / 2
    ohm = signal.sources["IN"].output("OUT").impedance.mid
    assert ohm == pytest.approx(beside(path, 2000, 100.6e3), rel=1e-4)


def test_a_gas_tube_is_its_regulation(signalled):
    """0A2: the published change of volts over its current range, beside the resistor above."""
    kind = tube_type("0A2")
    volts, low, high = (
        kind.rating(n).value for n in ("regulation", "minimum-current", "maximum-current")
    )
    solution, signal = signalled(
        "tube V1 0A2\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 8k2]-- OUT\nOUT -- V1.plate\n"
        "V1.cathode -- gnd\nsignal IN 1 V\nIN --[R2 100k]-- OUT\n"
    )
    assert solution.wave("OUT").dc == pytest.approx(150, abs=5)
    ohm = signal.sources["IN"].output("OUT").impedance.mid
    assert ohm == pytest.approx(beside(volts / (high - low), 8200, 100.6e3), rel=1e-4)


# -- hum --------------------------------------------------------------------------------------

HUMMING = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 5 ohm
    winding ht 250 V 100 ohm
    winding warm 6.3 V 0.1 ohm
tube V1 12AX7 heater T1.warm
T1.warm.1 -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> RES --+[C1 47 uF 450 V]-- gnd
RES --[R1 100k]-- V1A.plate -- OUT
V1A.cathode --[R2 1k5]-- gnd
signal IN 0.1 V 1 kHz
IN -- V1A.grid
"""


def test_hum_is_the_ripple_at_the_output_against_the_signal(signalled):
    solution, signal = signalled(HUMMING)
    (found,) = hum(solution, signal)
    output = signal.sources["IN"].output("OUT")
    assert found.output == "OUT"
    assert found.ripple == pytest.approx(solution.wave("V1A.plate").ac_rms)
    assert found.signal == pytest.approx(output.volts)
    assert found.below_signal_db == pytest.approx(20 * math.log10(output.volts / found.ripple))
    # By hand: the reservoir's ripple divided between 100 k and rp + 1.5 k (mu + 1).
    mu, _, rp = triode(solution, "V1A")
    below = rp + 1500 * (mu + 1)
    share = below / (below + 100e3)
    assert found.ripple == pytest.approx(share * solution.wave("RES").ac_rms, rel=0.02)


def test_leakage_from_the_heater(signalled):
    """6.3 V through 10 M by arithmetic, into what the cathode really is.

    A current i into the cathode makes i Zk there and i Zk (mu + 1) R/(rp + R) at the plate, with
    Zk = Rk beside (rp + R)/(mu + 1).
    """
    solution, signal = signalled(HUMMING)
    (found,) = hum(solution, signal, 10e6)
    mu, _, rp = triode(solution, "V1A")
    zk = beside(1500, (rp + 100e3) / (mu + 1))
    plate = zk * (mu + 1) * 100e3 / (rp + 100e3)
    heater = solution.between("T1.warm.2", "V1A.cathode").ac_rms
    assert heater == pytest.approx(6.3, rel=0.03)
    # The supply's reservoir is not quite a short at 60 Hz: 56 ohm in 100 k.
    assert found.leakage["V1A"] == pytest.approx(heater / 10e6 * plate, rel=0.01)
    assert found.leakage_below_signal_db > 40
    (doubled,) = hum(solution, signal, 5e6)
    assert doubled.leakage["V1A"] == pytest.approx(2 * found.leakage["V1A"])


def test_hum_without_a_signal_to_refer_it_to(signalled):
    """A divider of a hundred million leaves nothing of the signal, not even for a phono stage."""
    text = HUMMING.replace("IN -- V1A.grid", "IN --[R3 1M]-- V1A.grid --[R4 0.01 ohm]-- gnd")
    solution, signal = signalled(text)
    assert 0 < abs(signal.sources["IN"].output("OUT").gain.mid) < 1e-6
    (found,) = hum(solution, signal)
    assert found.ripple > 0
    assert found.signal == 0
    assert found.below_signal_db is None
    assert found.leakage_below_signal_db is None


def test_no_mains_no_hum(signalled):
    assert hum(*signalled(FOLLOWER)) == ()


def test_hum_at_a_speaker_on_a_floating_winding(signalled):
    text = HUMMING.replace(
        "RES --[R1 100k]-- V1A.plate -- OUT\n",
        "output T2 100k : 8 ohm 500 ohm 50 H\nRES -- T2.p1\nT2.p2 -- V1A.plate\n"
        "T2.s1 --[LS1 speaker 8 ohm]-- T2.s2\n",
    )
    solution, signal = signalled(text)
    assert solution.between("T2.s1", "T2.s2") is None
    (found,) = hum(solution, signal)
    assert found.ripple == pytest.approx(8 * solution.current("LS1").ac_rms)
    assert found.ripple > 0


# -- what is refused --------------------------------------------------------------------------


def test_no_source_no_signal_solution(solved):
    solution = solved("B1 --+[E1 10 V]-- gnd\nB1 --[R1 1k]-- gnd\n")
    assert small_signal(solution.circuit, solution) is None
    assert with_swing(solution, None) == {}


def test_the_warm_state_is_solved_where_none_is_given(circuit_of):
    signal = small_signal(circuit_of(FOLLOWER))
    assert signal.state.name == "warm"
    assert signal.solved


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (COMMON.format(volts=300, ra=1e5, rk=1500, load=1e6).replace("[R1 100000.0 ohm]", "[R1 ?]"),
         "the value of R1"),
        (COMMON.format(volts=300, ra=1e5, rk=1500, load=1e6).replace(
            "IN -- V1A.grid", "IN --[C5 10 nF]-- V1A.grid"), "floating grid"),
    ],
    ids=["unknown value", "floating grid"],
)  # fmt: skip
def test_what_hangs_on_the_unknown_has_no_gain(circuit_of, text, reason):
    circuit = circuit_of(text)
    signal = small_signal(circuit, solve_state(circuit))
    assert not signal.solved
    assert reason in signal.reason
    assert not signal.sources


def test_a_source_on_gnd_drives_nothing(signalled):
    _, signal = signalled("signal IN 1 V\nIN -- gnd\nB1 --+[E1 10 V]-- gnd\nB1 --[R1 1k]-- gnd\n")
    assert signal.sources == {}
    assert "gnd" in signal.unused["IN"]


def test_a_state_that_was_not_reached_has_no_gain(circuit_of):
    """Two supplies against each other: the solver refuses, and so does this."""
    circuit = circuit_of(
        "B1 --+[E1 300 V]-- gnd\nB1 --+[E2 200 V]-- gnd\nsignal IN 1 V\nIN --[R1 1k]-- gnd\n"
    )
    solution = solve_state(circuit)
    assert not solution.converged
    signal = small_signal(circuit, solution)
    assert not signal.solved
    assert signal.reason == solution.reason


def test_a_cold_tube_works_in_no_stage(circuit_of):
    text = COMMON.format(volts=300, ra=1e5, rk=1500, load=1e6)
    circuit = circuit_of(text)
    signal = small_signal(circuit, solve_state(circuit, "pulled V1"))
    assert signal.solved
    assert signal.sources["IN"].stages == ()


def test_a_tube_whose_heater_is_starved_works_in_no_stage(circuit_of):
    """1 kohm in a 12.6 V heater's lead leaves it cold; the solver found so, and so must this."""
    text = (
        HUMMING.replace("heater T1.warm", "")
        .replace("warm 6.3 V", "warm 12.6 V")
        .replace("T1.warm.1 -- gnd", "T1.warm.1 -- gnd\nT1.warm.2 --[R8 {} ohm]--[V1 heater]-- gnd")
    )
    stages = []
    for ohms in (0.1, 1000):
        circuit = circuit_of(text.format(ohms))
        signal = small_signal(circuit, solve_state(circuit))
        assert signal.solved
        stages.append([s.section for s in signal.sources["IN"].stages])
    assert stages == [["V1A"], []]


def test_a_stage_on_a_floating_supply_has_no_gain(circuit_of):
    text = COMMON.format(volts=300, ra=1e5, rk=1500, load=1e6).replace("gnd", "FLOAT")
    circuit = circuit_of(text + "R --[R7 1k]-- gnd\n")
    signal = small_signal(circuit, solve_state(circuit))
    assert not signal.solved
    assert "V1A" in signal.reason


def test_a_speaker_on_a_net_named_out_is_one_output(signalled):
    _, signal = signalled(FOLLOWER.replace("-- OUT", "-- OUT --[LS1 speaker 600 ohm]-- gnd"))
    assert [(o.name, o.load) for o in signal.sources["IN"].outputs] == [("LS1", 600)]


def test_sparse_and_dense_give_the_same_answer(circuit_of, monkeypatch):
    circuit = circuit_of(HUMMING)
    solution = solve_state(circuit)
    signal = small_signal(circuit, solution)
    (full,), dense = hum(solution, signal), signal.sources["IN"]
    for module in ("bank", "devices", "means", "response"):
        monkeypatch.setattr(getattr(coldcheck.solve.cycle, module), "DENSE_UP_TO", 3)
    solution = solve_state(circuit)
    sparse = small_signal(circuit, solution)
    other = sparse.sources["IN"]
    assert other.stage("V1A").gain.values == pytest.approx(dense.stage("V1A").gain.values, rel=1e-5)
    assert other.output("OUT").impedance.values == pytest.approx(
        dense.output("OUT").impedance.values, rel=1e-5
    )
    leakage = hum(solution, sparse)[0].leakage["V1A"]
    assert leakage == pytest.approx(full.leakage["V1A"], rel=1e-4)


def test_a_signal_at_a_plate_is_no_struck_gas_tube(signalled):
    """Both name a current; the source's is that of its point."""
    text = (
        "tube V1 2A3\nV1.grid --[R2 1M]-- gnd\nsignal V1.plate 0.4 V 1 kHz\n"
        "B1 --+[E1 250 V]-- gnd\nB1 --[R1 10k]-- V1.plate\nV1.f1 -- gnd\nV1.f2 -- gnd\n"
    )
    _, signal = signalled(text)
    assert signal.solved


@pytest.mark.parametrize(("tap", "ohms"), [("4", 4.0), ("8", 8.0), ("s2", 16.0)])
def test_a_load_on_any_tap_is_the_same_to_the_plate(signalled, tap, ohms):
    """Stepped-down load, Ra = Zp (R + r) / Z of the tap (Terman, Radio Engineers' Handbook, output
    transformers; from memory): 4 % of copper, assumed, in each of primary and secondary."""
    text = (
        "B1 --+[E1 250 V]-- gnd\nsignal IN 0.1 V 1 kHz\ntube V1 6V6GT\n"
        "output T2 5k : 4/8/16 ohm 200 ohm 5000 H\nB1 -- T2.p1\nT2.p2 -- V1.plate\n"
        "B1 -- V1.screen\nIN -- V1.grid --[R2 470k]-- gnd\nV1.cathode --[R1 240]-- gnd\n"
        "V1.cathode --+[C1 1000 uF 50 V]-- gnd\nT2.s1 -- gnd\n"
        f"T2.{tap} --[LS1 speaker {ohms} ohm]-- gnd\n"
    )
    driven = signalled(text)[1].sources["IN"]
    stage, out = driven.stages[0], driven.outputs[0]
    load = 200 + 1.04 * 5000
    gain = stage.gm * load * stage.rp / (load + stage.rp)
    assert abs(stage.plate_gain.mid) == pytest.approx(gain, rel=0.005)
    assert out.name == "LS1"
    assert abs(out.gain.mid) == pytest.approx(gain * 5000 / load * (ohms / 5000) ** 0.5, rel=0.005)
