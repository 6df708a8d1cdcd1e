"""The law of transistors against closed forms and its own slopes; what floats; faults."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.optimize import brentq

from coldcheck.circuit import build_circuit
from coldcheck.circuit.transistors import transistor_types
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import OPEN, SHORT, Fault
from coldcheck.solve.faults.solver import FaultSolver
from coldcheck.solve.transistors import JfetLaw, MosfetLaw, transistor_law

if TYPE_CHECKING:
    from coldcheck.solve.solution import Solution

TYPES = transistor_types()


def warm(text: str) -> Solution:
    found = solve_states(build_circuit(parse_drawing(text)))["warm"]
    assert found.converged, found.reason
    return found


def law(name: str) -> MosfetLaw:
    found = transistor_law(TYPES[name])
    assert isinstance(found, MosfetLaw)
    return found


@pytest.mark.parametrize("name", TYPES)
def test_the_slopes_are_those_of_the_currents(name: str) -> None:
    """Central differences, which know nothing of the formula."""
    random = np.random.default_rng(3)
    volts = np.array([random.uniform(-2, 300, 500), random.uniform(-8, 12, 500)])
    volts[0, ::2] = random.uniform(-2, 8, 250)
    if not TYPES[name].family.insulated:
        volts[0] = np.abs(volts[0])
        volts[1] = random.uniform(-5, 0.95, 500)
    found = transistor_law(TYPES[name])
    assert found is not None
    _, slopes = found.currents(volts)
    for by in range(2):
        step = np.zeros_like(volts)
        step[by] = 1e-6
        high, low = found.currents(volts + step)[0], found.currents(volts - step)[0]
        dust = 1e-9 * (1 + np.abs(high).max())
        assert np.allclose((high - low) / 2e-6, slopes[:, by], rtol=1e-5, atol=dust)


@pytest.mark.parametrize("name", [n for n, t in TYPES.items() if t.family.insulated])
def test_published_transconductance_and_resistance(name: str) -> None:
    """The law is made from these figures of the sheet (memory); here it has to give them back."""
    found, kind = law(name), TYPES[name]
    steep, at, ohms = (
        kind.figures[f].value
        for f in ("transconductance", "transconductance-current", "on-resistance")
    )

    def missing(gate: float) -> float:
        return float(found.currents(np.array([[30.0], [gate]]))[0][0, 0]) - at

    gate = brentq(missing, found.threshold - 2, found.threshold + 30)
    slope = found.currents(np.array([[30.0], [gate]]))[1][0, 1, 0]
    assert slope == pytest.approx(steep, rel=0.35)
    wide = 0.0 if kind.depletion else 10.0
    flows = found.currents(np.array([[1e-3], [wide]]))[0][0, 0]
    assert 1e-3 / flows == pytest.approx(ohms, rel=0.15)


FOLLOWER = (
    "B --+[E1 300 V]-- gnd\nG --+[E2 150 V]-- gnd\ntransistor Q1 IRF840\nB -- Q1.drain\n"
    "G --[R1 1k]-- Q1.gate\nQ1.source --[R2 10k 5 W]-- gnd\n"
)


def test_a_follower_in_closed_form() -> None:
    """I R = Vg - Vt - sqrt(2 I / K), a quadratic in sqrt(I); K = g² / 2 I = 4.9² / 9.6 A/V²."""
    k, room, ohms = 4.9**2 / 9.6, 150.0 - 3.0, 1e4
    root = (-math.sqrt(2 / k) + math.sqrt(2 / k + 4 * ohms * room)) / (2 * ohms)
    found = warm(FOLLOWER)
    assert found.wave("Q1.source").dc == pytest.approx(root**2 * ohms, abs=0.08)
    assert found.current("Q1.drain-source").dc == pytest.approx(root**2, rel=1e-3)
    assert abs(found.current("R1").dc) < 1e-8  # an insulated gate takes nothing


def test_its_copies_follow_their_thresholds() -> None:
    """2 to 4 V: the source of a follower is a volt higher or lower, hardly more or less."""
    spread = warm(FOLLOWER.replace("E2 150 V", "E2 150 V 1 uohm")).spread()
    assert spread is not None
    causes = dict(spread.largest("Q1.source", 5))
    assert abs(causes["Q1"]) == pytest.approx(1.0, rel=0.02)


def test_a_depletion_type_makes_its_own_bias() -> None:
    """Vgs = -I R and I = K (Vgs - Vt)² / 2, solved by bisection."""
    text = (
        "B --+[E1 200 V]-- gnd\ntransistor Q1 DN2540\nB --[R1 1k]-- Q1.drain\n"
        "Q1.gate -- gnd\nQ1.source --[R2 220]-- gnd\n"
    )
    k, cut_off = 0.325**2 / 0.2, -2.5
    amps = brentq(lambda i: i - k * max(-220 * i - cut_off, 0.0) ** 2 / 2, 0.0, 0.1)
    assert warm(text).current("R2").dc == pytest.approx(amps, rel=0.03)


def test_a_p_channel_type_is_the_same_the_other_way() -> None:
    text = (
        "B --+[E1 100 V]-- gnd\ntransistor Q1 IRF9610\nB --[R1 1k 5 W]-- Q1.source\n"
        "B --[R2 10k]-- Q1.gate --[R3 90k]-- gnd\nQ1.drain --[R4 100]-- gnd\n"
    )
    k = 0.9**2 / 1.8
    amps = brentq(lambda i: i - k * max(10 - 1e3 * i - 3, 0.0) ** 2 / 2, 0.0, 0.01)
    found = warm(text)
    assert found.current("Q1.drain-source").dc == pytest.approx(amps, rel=0.02)
    assert found.wave("Q1.drain").dc == pytest.approx(100 * amps, rel=0.02)


def test_the_diode_of_the_body_conducts_backwards() -> None:
    text = (
        "B --+[E1 10 V]-- gnd\ntransistor Q1 IRF840\nB --[R1 1k]-- Q1.source -- Q1.gate\n"
        "Q1.drain -- gnd\n"
    )
    found = warm(text)
    assert 0.5 < found.wave("Q1.source").dc < 0.8
    assert found.current("Q1.drain-source").dc == pytest.approx(-found.current("R1").dc, rel=1e-6)


def test_ripple_at_the_drain_stays_there() -> None:
    text = (
        "mains 230 V 50 Hz\ntransformer T1\n primary p 230 V\n winding s 260 V 1 A 50 ohm\n"
        "bridge BR1 1N4007\nT1.s.1 -- BR1.ac1\nT1.s.2 -- BR1.ac2\nBR1.minus -- gnd\n"
        "BR1.plus -- Q1.drain\nQ1.drain --+[C1 4.7 uF 500 V]-- gnd\ntransistor Q1 IRF840\n"
        "G --+[E2 250 V]-- gnd\nG --[R1 1k]-- Q1.gate\nQ1.source --[R2 5k 20 W]-- gnd\n"
    )
    found = warm(text)
    assert found.wave("Q1.drain").ac_rms > 15
    assert found.wave("Q1.source").ac_rms < 0.05
    assert found.residual_a < 1e-7


def test_a_gate_that_floats_leaves_open_what_hangs_on_it() -> None:
    found = warm(FOLLOWER.replace("G --[R1 1k]-- Q1.gate", "G --[C1 100n]-- Q1.gate"))
    assert found.floats("Q1.gate")
    assert found.wave("Q1.source") is None


def test_faults() -> None:
    solver = FaultSolver(build_circuit(parse_drawing(FOLLOWER)))
    shorted = solver.solve(Fault(SHORT, "Q1.drain-source"))
    assert shorted.wave("Q1.source").dc == pytest.approx(300, abs=0.1)
    opened = solver.solve(Fault(OPEN, "Q1.drain-source"))
    assert abs(opened.wave("Q1.source").dc) < 0.1
    together = solver.solve_all([Fault(OPEN, "Q1.drain-source")])
    assert [abs(f.wave("Q1.source").dc) < 0.1 for f in together] == [True]
    pierced = solver.solve(Fault(SHORT, "Q1.gate-source"))
    assert pierced.wave("Q1.source").dc == pytest.approx(150 * 10 / 11, rel=0.01)


JFETS = [n for n, t in TYPES.items() if t.family.junction]
INPUT = (
    "B --+[E1 24 V]-- gnd\ntransistor Q1 {kind}\nB --[R1 1k]-- Q1.drain\n"
    "Q1.gate --[R2 1M]-- gnd\nQ1.source --[R3 {ohms}]-- gnd\n"
)


@pytest.mark.parametrize("name", JFETS)
def test_a_jfet_gives_its_sheets_figures_and_is_alike_both_ways(name: str) -> None:
    """The middle of the published figures; drain and source exchanged, the same the other way."""
    found, figures = transistor_law(TYPES[name]), TYPES[name].figures
    assert isinstance(found, JfetLaw)
    cut_off = (figures["cut-off-low"].value + figures["cut-off-high"].value) / 2
    ends = ("zero-bias-current-low", "zero-bias-current-high")
    open_a = sum(figures[f].value for f in ends) / 2
    amps, _ = found.currents(np.array([[15.0, 15.0, 15.0], [0.0, -cut_off / 2, -cut_off - 1]]))
    assert amps[0, 0] == pytest.approx(open_a, rel=0.05)
    assert amps[0, 1] == pytest.approx(open_a / 4, rel=0.08)
    assert amps[0, 2] < 1e-4 * open_a
    (there, _), (back, steep) = (
        found.currents(np.array([[v], [g]])) for v, g in ((0.4, -0.2), (-0.4, -0.6))
    )
    assert back[0] == pytest.approx(-there[0] - there[1], rel=1e-9)
    moved = found.currents(np.array([[-0.4 + 1e-7], [-0.6 + 1e-7]]))[0]
    assert (moved - back) / 1e-7 == pytest.approx(steep.sum(axis=1), rel=1e-4, abs=1e-9)


def test_a_jfet_biases_itself() -> None:
    """2N5457: 3 mA and 3.25 V in the middle; I = 3 mA (1 - I R / 3.25 V)², solved by bisection."""
    amps = brentq(lambda i: i - 3e-3 * (1 - 1e3 * i / 3.25) ** 2, 0.0, 3e-3)
    found = warm(INPUT.format(kind="2N5457", ohms="1k"))
    assert found.wave("Q1.source").dc == pytest.approx(1e3 * amps, rel=0.03)
    assert abs(found.wave("Q1.gate").dc) < 1e-3
    spread = found.spread()
    assert spread is not None
    ends = [
        brentq(lambda i, a=a, v=v: i - a * max(1 - 1e3 * i / v, 0.0) ** 2, 0.0, a)
        for a, v in ((1e-3, 0.5), (5e-3, 6.0))
    ]
    off = abs(dict(spread.largest("Q1.source", 5))["Q1"]) / 1e3
    assert off == pytest.approx((ends[1] - ends[0]) / 2, rel=0.2)  # to first order


def test_a_gate_that_is_pulled_up_conducts() -> None:
    """A junction: 0.6 to 0.75 V above the source, the rest over the resistor in its lead."""
    text = INPUT.format(kind="J201", ohms="100").replace("1M]-- gnd", "10k]-- B")
    found = warm(text)
    above = found.between("Q1.gate", "Q1.source").dc
    assert 0.55 < above < 0.75
    assert found.current("Q1.gate-source").dc == pytest.approx(
        (24 - found.wave("Q1.gate").dc) / 1e4, rel=1e-4
    )


def test_a_p_channel_jfet_is_the_same_the_other_way() -> None:
    """2N5460 has the figures of 2N5457 but for its cut-off, 0.75 to 6 V."""
    amps = brentq(lambda i: i - 3e-3 * (1 - 1e3 * i / 3.375) ** 2, 0.0, 3e-3)
    text = INPUT.format(kind="2N5460", ohms="1k").replace("B --+[E1 24 V]-- gnd",
                                                           "gnd --+[E1 24 V]-- B")  # fmt: skip
    found = warm(text)
    assert found.wave("Q1.source").dc == pytest.approx(-1e3 * amps, rel=0.03)
    assert found.current("Q1.drain-source").dc == pytest.approx(amps, rel=0.03)


def test_a_jfets_gate_that_floats_leaves_open_what_hangs_on_it() -> None:
    text = INPUT.format(kind="2N5457", ohms="1k").replace("[R2 1M]", "[C2 100n]")
    found = warm(text)
    assert found.floats("Q1.gate")
    assert found.wave("Q1.source") is None


FIXED = (
    "B --+[E1 24 V]-- gnd\nG --+[E2 5 V]-- gnd\ntransistor Q1 {kind}\nB --[R1 1k]-- Q1.collector\n"
    "G --[R2 {base}]-- Q1.base\nQ1.emitter --[R3 1k]-- gnd\n"
)


@pytest.mark.parametrize("kind", ["BC547", "2N2222A", "MJE340"])
def test_an_emitter_that_follows(kind: str) -> None:
    """5 V less a base's volts at that current, 60 mV a decade from the published one."""
    figures = TYPES[kind].figures
    found = warm(FIXED.format(kind=kind, base=1))
    emitter = found.wave("Q1.emitter").dc
    base = figures["base-emitter-voltage"].value + 0.02585 * math.log(
        emitter / 1e3 / figures["base-emitter-current"].value
    )
    assert emitter == pytest.approx(5 - base, abs=0.03)
    low, high = (figures[f].value for f in ("gain-low", "gain-high"))
    gain = found.current("Q1.collector-emitter").dc / found.current("Q1.base-emitter").dc
    assert low < gain < high


def test_a_saturated_one_has_tenths_of_a_volt() -> None:
    """Ebers and Moll: Vce = Vt ln((1/ar + Ic/(Ib Br)) / (1 - Ic/(Ib B))), 0.05 to 0.1 V here."""
    text = FIXED.format(kind="2N2222A", base="1k").replace("Q1.emitter --[R3 1k]-- gnd", "")
    text = text.replace("5 V", "10 V") + "Q1.emitter -- gnd\n"
    found = warm(text)
    ib, ic = (found.current(f"Q1.{n}-emitter").dc for n in ("base", "collector"))
    gain, back = 2 * 75 * 300 / 375, 2.0
    by_hand = 0.02585 * math.log((1 + (1 + ic / ib) / back) / (1 - ic / ib / gain))
    assert found.wave("Q1.collector").dc == pytest.approx(by_hand, rel=0.01)


def test_copies_of_a_bipolar_one_differ_in_gain() -> None:
    """A base fed with a fixed current: the collector's is as uncertain as the gain."""
    text = (
        "B --+[E1 300 V]-- gnd\ntransistor Q1 BC547\nB --[R1 10M]-- Q1.base\nQ1.emitter -- gnd\n"
        "C --+[E2 20 V]-- gnd\nC --[R2 100]-- Q1.collector\n"
    )
    found = warm(text)
    spread = found.spread()
    assert spread is not None
    share = spread.current("Q1", "collector") / found.current("Q1.collector-emitter").dc
    assert share == pytest.approx((800 - 110) / (800 + 110), rel=0.05)


def test_pnp_is_npn_upside_down() -> None:
    npn = warm(FIXED.format(kind="MPSA42", base="10k"))
    pnp = warm(
        "P --+[E1 24 V]-- gnd\nG --+[E2 19 V]-- gnd\ntransistor Q1 MPSA92\n"
        "P --[R3 1k]-- Q1.emitter\nG --[R2 10k]-- Q1.base\nQ1.collector --[R1 1k]-- gnd\n"
    )
    up = npn.wave("Q1.emitter").dc
    assert 24 - pnp.wave("Q1.emitter").dc == pytest.approx(up, rel=1e-6)
    assert pnp.current("Q1.base-emitter").dc == pytest.approx(npn.current("Q1.base-emitter").dc)


REGULATOR = (
    "mains 230 V 50 Hz\ntransformer T1\n primary p 230 V\n winding s 24 V 2 A 0.6 ohm\n"
    "bridge BR1 200 V 4 A\nT1.s.1 -- BR1.ac1\nT1.s.2 -- BR1.ac2\nBR1.minus -- gnd\n"
    "BR1.plus -- RAW\nRAW --+[C1 2200 uF 63 V]-- gnd\ntransistor Q1 2N3055\ntransistor Q2 BD139\n"
    "transistor Q3 BC547\nRAW -- Q1.collector -- Q2.collector\nQ2.emitter -- Q1.base\n"
    "Q1.emitter -- OUT\nRAW --[R2 1k5 1 W]-- Q2.base -- Q3.collector\nX --+[E1 6.2 V]-- gnd\n"
    "Q3.emitter -- X\nOUT --[R5 2k7]-- Q3.base --[R6 2k2]-- gnd\nOUT --[R7 {load}]-- gnd\n"
)


@pytest.mark.parametrize("load", ["15 ohm 50 W", "1k"])
def test_a_regulator_with_feedback_holds_its_output(load: str) -> None:
    """(6.2 V + a base's volts) x (1 + 2k7 / 2k2): 15.3 V; its ripple is far less than before it."""
    found = warm(REGULATOR.format(load=load))
    out = found.wave("OUT")
    assert out.dc == pytest.approx(6.85 * 49 / 22, rel=0.03)
    assert out.ac_rms < 0.1 * max(found.wave("RAW").ac_rms, 0.01)
    assert found.residual_a < 1e-7
