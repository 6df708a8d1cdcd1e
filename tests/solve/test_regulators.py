"""Regulators with three leads against the formulas of their sheets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.transistors import transistor_types
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.off.off_state import off_state
from coldcheck.solve.transistors import transistor_law

if TYPE_CHECKING:
    from coldcheck.solve.solution import Solution

ADJUSTED = (
    "B --+[E1 {supply} V]-- gnd\nregulator U1 LM317\nB -- U1.in\n"
    "U1.out --[R1 120]-- U1.adj --[R2 {low}]-- gnd\nU1.out --[R3 {load}]-- gnd\n"
)


def warm(text: str) -> Solution:
    found = solve_states(build_circuit(parse_drawing(text)))["warm"]
    assert found.converged, found.reason
    return found


@pytest.mark.parametrize("name", [n for n, t in transistor_types().items() if t.family.regulates])
def test_the_slopes_are_those_of_the_currents(name: str) -> None:
    found = transistor_law(transistor_types()[name])
    assert found is not None
    reference = transistor_types()[name].figures["output-voltage"].value
    random = np.random.default_rng(5)
    near = reference + random.uniform(-0.05, 0.05, 400)
    volts = np.array([random.uniform(0.01, 30, 400), near])
    _, slopes = found.currents(volts)
    for by in range(2):
        step = np.zeros_like(volts)
        step[by] = 1e-7
        high, low = found.currents(volts + step)[0], found.currents(volts - step)[0]
        assert np.allclose((high - low) / 2e-7, slopes[:, by], rtol=1e-4, atol=1e-5)


@pytest.mark.parametrize(("low", "load"), [("1k", "100 ohm 5 W"), ("2k2", "470 ohm 5 W")])
def test_the_output_of_an_adjustable_one(low: str, load: str) -> None:
    """Vout = 1.25 (1 + R2/R1) + Iadj R2 (the sheet's formula, memory), less 20 mV an ampere."""
    ohms = {"1k": 1000.0, "2k2": 2200.0}[low]
    found = warm(ADJUSTED.format(supply=35, low=low, load=load))
    expected = 1.25 * (1 + ohms / 120) + 50e-6 * ohms
    assert found.wave("U1.out").dc == pytest.approx(expected, rel=0.005)


def test_without_the_volts_it_needs_it_follows_its_input() -> None:
    found = warm(ADJUSTED.format(supply=10, low="1k", load="100 ohm"))
    across = 10 - found.wave("U1.out").dc
    assert 1.5 < across < 2.5  # 2.5 V at 1.5 A, less at 90 mA (memory)
    assert found.wave("U1.out").dc - found.wave("U1.adj").dc < 1.2


def test_an_unloaded_one_rises() -> None:
    """What the usual copy needs, 3.5 mA (memory), flows out: 2.6 V more over 1k2 than 1.25 V do."""
    text = ADJUSTED.format(supply=35, low="10k", load="1M").replace("R1 120", "R1 1200")
    found = warm(text)
    assert found.wave("U1.out").dc > 30


@pytest.mark.parametrize(("kind", "sign", "volts"), [("7812", 1, 12.0), ("7912", -1, -12.0)])
def test_fixed_ones(kind: str, sign: int, volts: float) -> None:
    plus, minus = ("B", "gnd") if sign > 0 else ("gnd", "B")
    found = warm(
        f"{plus} --+[E1 20 V]-- {minus}\nregulator U1 {kind}\nB -- U1.in\nU1.common -- gnd\n"
        "U1.out --[R1 100 ohm 5 W]-- gnd\n"
    )
    assert found.wave("U1.out").dc == pytest.approx(volts, abs=0.02)
    quiet = {"7812": 5e-3, "7912": 2e-3}[kind]
    assert found.current("E1").dc == pytest.approx(-(abs(volts) / 100 + quiet), rel=0.01)


def test_ripple_stays_before_it() -> None:
    text = (
        "mains 230 V 50 Hz\ntransformer T1\n primary p 230 V\n winding s 15 V 1 A 0.5 ohm\n"
        "bridge BR1 100 V 4 A\nT1.s.1 -- BR1.ac1\nT1.s.2 -- BR1.ac2\nBR1.minus -- gnd\n"
        "BR1.plus -- RAW\nRAW --+[C1 1000 uF 35 V]-- gnd\nregulator U1 7812\nRAW -- U1.in\n"
        "U1.common -- gnd\nU1.out --[R1 30 ohm 10 W]-- gnd\nU1.out --+[C2 10 uF 25 V]-- gnd\n"
    )
    found = warm(text)
    assert found.wave("RAW").ac_rms > 0.5
    assert found.wave("U1.out").ac_rms < 0.005
    assert found.residual_a < 1e-7


def test_its_copies_differ_by_what_the_sheet_allows() -> None:
    """4 %: 0.48 V of 12."""
    found = warm(
        "B --+[E1 20 V]-- gnd\nregulator U1 7812\nB -- U1.in\nU1.common -- gnd\n"
        "U1.out --[R1 100 ohm 5 W]-- gnd\n"
    )
    spread = found.spread()
    assert spread is not None
    assert abs(dict(spread.largest("U1.out"))["U1"]) == pytest.approx(0.48, rel=0.02)


def test_after_switch_off_it_drains_its_input() -> None:
    """The chord of 20 V and 120 mA: at first as fast as at work, later slower than it is."""
    text = (
        "mains 230 V 50 Hz\ntransformer T1\n primary p 230 V\n winding s 230 V 1 A 20 ohm\n"
        "bridge BR1 600 V 4 A\nT1.s.1 -- BR1.ac1\nT1.s.2 -- BR1.ac2\nBR1.minus -- gnd\n"
        "BR1.plus -- RAW\nRAW --+[C1 47 uF 450 V]-- gnd\nregulator U1 LM317\nRAW -- U1.in\n"
        "U1.out --[R1 120]-- U1.adj --[R2 27k 5 W]-- gnd\n"
    )
    circuit = build_circuit(parse_drawing(text))
    off = off_state(circuit, solve_states(circuit))
    (told,) = off.positions[0].capacitors
    assert 1.0 < told.seconds < 5.0  # 47 uF x 29k = 1.4 s, ln(330/60) times that: 2.3 s
