"""Loop gains against what textbooks give for ladders, bridges and tuned circuits (from memory).

A ladder of three equal legs R needs 29 where the source is stiff, 29 + 23 k + 4 k^2 behind k R (the
textbooks' 23 + 29 / k + 4 k for a current); it comes round at 1 / (2 pi R C sqrt(6 + 4 k)). A Wien
bridge needs 3, at 1 / (2 pi R C). A tuned grid gets S M / (C R) from a tickler.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.engine import solve_state
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import in_phase, pull
from coldcheck.solve.signal.small_signal import small_signal
from coldcheck.solve.signal.sweep import Sweep

if TYPE_CHECKING:
    from coldcheck.circuit.model import Section

LADDER = """tube V1 6C4
B1 --+[E1 200 V]-- gnd
B1 --[R1 {plate}]-- V1.plate --[C1 10n 400 V]-- N1 --[R3 {leg}]-- gnd
N1 --[C2 10n 400 V]-- N2 --[R4 {leg}]-- gnd
N2 --[C3 10n 400 V]-- V1.grid --[R5 {leg}]-- gnd
V1.cathode --[R2 1k]-- gnd
V1.cathode --+[C4 1 F 25 V]-- gnd
"""

BRIDGE = """tube V1 12AX7
tube V2 12AU7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 1 W]-- V1A.plate --[C1 10 uF 400 V film]-- V1B.grid --[R2 1M]-- gnd
B1 --[R3 100k 1 W]-- V1B.plate --[C2 10 uF 400 V film]-- V2A.grid --[R4 1M]-- KF
V1A.cathode --[R10 1k]-- gnd
V1B.cathode --[R5 1k]-- gnd
B1 -- V2A.plate
V2A.cathode --[R6 1k]-- KF --[R7 15k 2 W]-- gnd
V2A.cathode --[C3 100 uF 250 V film]-- OSC
OSC --[R8 160k]-- --[C4 1 nF 400 V film]-- W
W --[R9 160k]-- gnd
W --[C6 1 nF 400 V film]-- gnd
"""


def linear(text: str) -> Linearised:
    circuit = build_circuit(parse_drawing(text, "t.tube"))
    return Linearised(circuit, solve_state(circuit))


def section(net: Linearised, name: str) -> Section:
    return next(s for s in net.circuit.sections() if s.name == name)


@pytest.mark.parametrize(("plate", "leg"), [(10e3, 10e6), (22e3, 220e3), (47e3, 47e3)])
def test_a_ladder_of_three_equal_legs_needs_29(plate: float, leg: float) -> None:
    net = linear(LADDER.format(plate=f"{plate / 1e3:g}k 2 W", leg=f"{leg / 1e3:g}k"))
    v1, slopes = section(net, "V1"), net.sections[0]
    source = 1 / (1 / plate + slopes.slope("plate", "plate"))
    amplification = slopes.slope("plate", "grid") * source
    k = source / leg
    found = in_phase(net, v1)
    assert found is not None
    needed = 29 + 23 * k + 4 * k**2
    assert found.gain.real == pytest.approx(amplification / needed, rel=2e-3)
    assert abs(found.gain.imag) < 1e-6
    hertz = 1 / (2 * math.pi * leg * 10e-9 * math.sqrt(6 + 4 * k))
    assert found.hertz == pytest.approx(hertz, rel=2e-3)


def test_a_wien_bridge_leaves_a_third() -> None:
    """What the amplifier gives comes from a signal driven through it, the bridge only its load."""
    net = linear(BRIDGE + "W -- V1A.grid\n")
    found = in_phase(net, section(net, "V1A"))
    driven = "signal IN 1 mV 1 kHz\nIN -- V1A.grid\n"
    signal = small_signal(build_circuit(parse_drawing(BRIDGE + driven, "t.tube")))
    assert found is not None
    assert signal is not None
    source = signal.sources["IN"]
    to_output = Sweep(source.frequencies, source.response["OSC"])
    assert found.gain.real == pytest.approx(to_output.at(found.hertz).real / 3, rel=0.01)
    assert found.hertz == pytest.approx(1 / (2 * math.pi * 160e3 * 1e-9), rel=5e-3)


TUNED = """transformer L1 coupling 40 %
    winding tank 200 uH 5 ohm
    winding tick 20 uH 1 ohm
tube V1 6C4
B1 --+[E1 150 V]-- gnd
L1.tank.2 -- gnd
L1.tank.1 --[VC1 300p variable]-- gnd
L1.tank.1 --[C1 100n 500 V]-- V1.grid --[R1 1000M]-- gnd
V1.cathode -- gnd
B1 -- L1.tick.{cold}
L1.tick.{hot} -- V1.plate
"""


@pytest.mark.parametrize(("cold", "hot", "sign"), [(1, 2, 1), (2, 1, -1)])
def test_a_tickler_gives_a_tuned_grid_s_m_over_c_r(cold: int, hot: int, sign: int) -> None:
    circuit = build_circuit(parse_drawing(TUNED.format(cold=cold, hot=hot), "t.tube"))
    found = pull(circuit, next(circuit.sections()), 2e-3)
    assert found is not None
    mutual = 0.4 * math.sqrt(200e-6 * 20e-6)
    assert found.gain.real == pytest.approx(sign * 2e-3 * mutual / (300e-12 * 5), rel=0.01)
    assert found.hertz == pytest.approx(1 / (2 * math.pi * math.sqrt(200e-6 * 300e-12)), rel=2e-3)


def test_what_has_no_maximum_pulls_nothing() -> None:
    """A resistor alone brings nothing back at one frequency rather than at another."""
    text = "tube V1 6C4\nB1 --+[E1 90 V]-- gnd\nB1 --[R1 10k]-- V1.plate\nV1.cathode -- gnd\n"
    circuit = build_circuit(parse_drawing(text + "V1.grid --[R2 1M]-- gnd\n", "t.tube"))
    assert pull(circuit, next(circuit.sections()), 1e-3) is None


def test_a_bypass_adds_to_what_comes_back() -> None:
    net = linear(LADDER.format(plate="47k 2 W", leg="470k").replace("C4 1 F 25 V", "C4 1 nF 25 V"))
    v1 = section(net, "V1")
    alone, held = in_phase(net, v1), in_phase(net, v1, 1.0)
    assert alone is not None
    assert held is not None
    assert held.gain.real > 1.3 * alone.gain.real
