"""Amplifier stages as whole drawings: self-bias, resistance-coupled, shared and raised cathodes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING
from unittest import mock

import numpy as np
from tests.published.bench import (
    Runner,
    built,
    section_of,
    solved,
    solved_with,
    third_grid,
    transformer,
)
from tests.published.points import sections_without

from coldcheck.circuit.tubes import tube_type
from coldcheck.solve import solve_state
from coldcheck.solve.signal.small_signal import small_signal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.signal.results import Output
    from coldcheck.solve.solution import Solution


def self_bias_text(tube: str, plate: float, rk: float, bias: float, screen: float = 0) -> str:
    """A tube on its cathode resistor; supplies stand above the cathode as the sheets give them.

    A directly heated tube hangs by the middle of its filament's winding.
    """
    name, kind = section_of(tube), tube_type(tube)
    text, cathode = f"tube V1 {tube}\n", f"{name}.cathode"
    if kind.cathode == "filament":
        volts = kind.heaters[0].volts.value
        text = transformer(f"fil {volts} V ct 0.001 ohm") + f"tube V1 {tube} heater T1.fil\n"
        cathode = "T1.fil.ct"
    text += f"B1 --+[E1 {plate + bias} V]-- gnd\nB1 -- {name}.plate\n"
    if "screen" in kind.sections[0].electrodes:
        above = f"B2 --+[E2 {screen + bias} V]-- gnd\nB2 -- {name}.screen\n"
        text += (above if screen else f"{name}.screen -- {name}.plate\n") + third_grid(tube)
    return text + f"{name}.grid --[R1 100k]-- gnd\n{cathode} --[R2 {rk} ohm]-- gnd\n"


def _bias_reading(got: Solution, tube: str, read: str) -> float:
    reading = got.readings[section_of(tube)]
    if read == "vk":
        return got.current("R2").dc * float(got.circuit.branches["R2"].value.m_as("ohm"))
    return {"ia": reading.plate_ma, "ik": reading.plate_ma + reading.screen_ma}[read]


def self_bias(
    _: float, tube: str, plate: float, rk: float, bias: float, read: str, screen: float = 0
) -> float:
    """Plate current, cathode current (mA) or cathode voltage."""
    return _bias_reading(solved(self_bias_text(tube, plate, rk, bias, screen)), tube, read)


@cache
def _left_out(text: str, tube: str, point: int) -> Solution:
    return solved_with(text, {"V1": sections_without(tube, point)})


def self_bias_left_out(
    _: float,
    tube: str,
    point: float,
    plate: float,
    rk: float,
    bias: float,
    read: str,
    screen: float = 0,
) -> float:
    """The same with the law fitted to the type's other points only."""
    text = self_bias_text(tube, plate, rk, bias, screen)
    return _bias_reading(_left_out(text, tube, int(point)), tube, read)


def coupled(_: float, volts: float, ra: float, rg: float, rk: float, read: str) -> float:
    """A resistance-coupled ECC83 stage: plate or cathode volts to gnd, or the current in mA."""
    text = f"tube V1 ECC83\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ra} ohm]-- V1A.plate\n"
    text += f"V1A.plate --[C1 22 nF]-- OUT --[R2 {rg} ohm]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
    text += f"V1A.cathode --[R4 {rk} ohm]-- gnd\nV1A.cathode --+[C2 25 uF]-- gnd\n"
    got = solved(text)
    return got.readings["V1A"].plate_ma if read == "ia" else got.wave(f"V1A.{read}").dc


def pair(
    _: float, tube: str, volts: float, ra: float, rk: float, read: str, below: float = 0
) -> float:
    """Two halves on one cathode resistor, its lower end ``below`` volts under gnd."""
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\n"
    text += f"gnd --+[E2 {below} V]-- TAIL\n" if below else "TAIL -- gnd\n"
    for k, half in enumerate("AB"):
        text += f"B1 --[R{k + 1} {ra} ohm]-- V1{half}.plate\nV1{half}.grid --[R{k + 3} 1M]-- gnd\n"
    got = solved(text + f"V1A.cathode -- V1B.cathode --[R5 {rk} ohm]-- TAIL\n")
    if read == "ia":
        return got.readings["V1B"].plate_ma
    if read == "tail":
        return 1e3 * got.current("R5").dc
    return got.wave(f"V1A.{read}").dc


def split_load(_: float, tube: str, volts: float, ohms: float, grid: float, read: str) -> float:
    """Equal resistors above and below, the grid held ``grid`` volts above gnd."""
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ohms} ohm]-- V1A.plate\n"
    text += f"V1A.cathode --[R2 {ohms} ohm]-- gnd\nB2 --+[E2 {grid} V]-- gnd\nB2 -- V1A.grid\n"
    got = solved(text)
    if read == "sum":
        return got.wave("V1A.cathode").dc + got.wave("V1A.plate").dc
    return got.readings["V1A"].plate_ma if read == "ia" else got.wave(f"V1A.{read}").dc


def stacked(_: float, tube: str, volts: float, rk: float) -> float:
    """Two like halves in series, each on its own bias resistor: the volts at the middle."""
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\nB1 -- V1A.plate\n"
    text += f"V1A.cathode --[R1 {rk} ohm]-- MID --[R3 1M]-- V1A.grid\nMID -- V1B.plate\n"
    text += f"V1B.cathode --[R2 {rk} ohm]-- gnd\nV1B.grid --[R4 1M]-- gnd\n"
    return solved(text).wave("MID").dc


def coupled_cold(_: float, tube: str, volts: float) -> float:
    """A grid joined to the plate before it, both tubes cold: grid over cathode."""
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
    text += "V1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\nV1A.plate -- V1B.grid\n"
    text += "B1 -- V1B.plate\nV1B.cathode --[R4 100k]-- gnd\n"
    return solved(text, "cold").between("V1B.grid", "V1B.cathode").dc


def leaky_coupling(_: float, volts: float, leak: float, grid: float) -> float:
    """What a leaking coupling capacitor does to a grid."""
    text = f"P --+[E1 {volts} V]-- gnd\nP --[R1 {leak} ohm]-- G --[R2 {grid} ohm]-- gnd\n"
    return solved(text + "P --[C1 22 nF]-- G\n").wave("G").dc


def _stage_text(
    tube: str, volts: float, ra: float, rg: float, rk: float, screen: float = 0,
    *, bypassed: bool = True,
) -> str:  # fmt: skip
    """A resistance-coupled stage into the next grid's resistor, capacitors too large to matter."""
    name = section_of(tube)
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ra} ohm]-- {name}.plate\n"
    text += f"{name}.plate --[C1 10 uF]-- OUT --[R2 {rg} ohm]-- gnd\n{name}.grid --[R3 1M]-- gnd\n"
    text += f"{name}.cathode --[R4 {rk} ohm]-- gnd\n"
    text += f"{name}.cathode --+[C2 10000 uF]-- gnd\n" if bypassed else ""
    text += f"signal IN 0.01 V 1 kHz\nIN --[C3 10 uF]-- {name}.grid\n"
    if screen:
        text += f"B1 --[R5 {screen} ohm]-- {name}.screen\n"
        text += f"{name}.screen --+[C4 100 uF]-- {name}.cathode\n" + third_grid(tube)
    return text


def _output(text: str) -> Output:
    """What the drawing's one source makes at OUT."""
    found = small_signal(built(text), solved(text))
    assert found is not None
    return found.sources["IN"].output("OUT")


def gain(
    _: float, tube: str, volts: float, ra: float, rg: float, rk: float, screen: float = 0
) -> float:
    """Mid-band gain of a resistance-coupled stage."""
    return abs(_output(_stage_text(tube, volts, ra, rg, rk, screen)).gain.mid)


def swing(
    _: float, tube: str, volts: float, ra: float, rg: float, rk: float, screen: float = 0
) -> float:
    """Peak volts at the output where the stage reaches its first limit, by straight lines."""
    most = _output(_stage_text(tube, volts, ra, rg, rk, screen)).undistorted
    assert most is not None
    return most


@dataclass(frozen=True, slots=True)
class StraightTriode:
    """i = (vp + mu vg)/rp: a tube that is its two figures everywhere."""

    mu: float
    rp: float
    electrodes: tuple[str, ...] = ("plate", "grid")

    def currents(self, v: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Amperes (2, n) and their slopes (2, 2, n) at electrode volts (2, n)."""
        plate = (v[0] + self.mu * v[1]) / self.rp
        slopes = np.zeros((2, 2, v.shape[1]))
        slopes[0, 0], slopes[0, 1] = 1 / self.rp, self.mu / self.rp
        return np.stack((plate, np.zeros_like(plate))), slopes


def straight(_: float, mu: float, rp: float, ra: float, rg: float, rk: float = 0) -> float:
    """Gain from given mu and rp, through the whole path; a given ``rk`` is not bypassed."""
    text = _stage_text("12AX7", 250, ra, rg, rk or 1000, bypassed=not rk)
    law = StraightTriode(mu, rp)
    with mock.patch("coldcheck.solve.cycle.devices.law_for", return_value=law):
        circuit = built(text)
        found = small_signal(circuit, solve_state(circuit))
    assert found is not None
    return abs(found.sources["IN"].output("OUT").gain.mid)


def corner(_: float, ohms: float, farads: float) -> float:
    """Where a coupling capacitor and the next grid's resistor are 3 dB down, hertz."""
    text = f"signal IN 1 V\nIN --[C1 {farads * 1e9} nF]-- OUT\nOUT --[R1 {ohms} ohm]-- gnd\n"
    found = _output(text).gain.low_corner
    assert found is not None
    return found


RUNNERS: dict[str, Runner] = {
    "self-bias": self_bias,
    "self-bias-left-out": self_bias_left_out,
    "coupled": coupled,
    "pair": pair,
    "split-load": split_load,
    "stacked": stacked,
    "gain": gain,
    "swing": swing,
    "straight": straight,
    "corner": corner,
    "coupled-cold": coupled_cold,
    "leaky-coupling": leaky_coupling,
}
