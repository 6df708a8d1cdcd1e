"""Rectifiers: data-sheet points, unfiltered, the normalised capacitor-input circuit, reverse volts.

The load is a resistor of the published volts over the published current, so a predicted voltage
1 % off also draws 1 % more current than the sheet's.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from tests.published.bench import Runner, solved, transformer

if TYPE_CHECKING:
    from coldcheck.solve.solution import Solution, Wave

VOLTS, LOAD = 10000.0, 10000.0
"""So high that the silicon's volt is a ten-thousandth."""

BRIDGE = (
    "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[D2 1N4007]-> RES\n"
    "gnd --[D3 1N4007]-> T1.ht.1\ngnd --[D4 1N4007]-> T1.ht.2\n"
)
HALF = "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 -- gnd\n"
LIGHT = "RES --+[C1 40 uF]-- gnd\nRES --[R1 2M2]-- gnd\n"


def full_wave_tube(tube: str, volts: float, ohms: float, hz: float, first: str) -> str:
    """Two plates, ``ohms`` in each path, the filament's end 8 on ``first``."""
    windings = f"ht {volts} V ct {volts} V {2 * ohms} ohm\nfil 5 V 0.001 ohm"
    return transformer(windings, hz) + (
        f"tube V1 {tube} heater T1.fil\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"
        f"T1.ht.ct -- gnd\nV1:8 -- {first}\n"
    )


def tube_supply(
    answer: float, tube: str, volts: float, ohms: float, uf: float, hz: float, amps: float
) -> float:
    """DC at the first capacitor."""
    text = full_wave_tube(tube, volts, ohms, hz, "RES")
    text += f"RES --+[C1 {uf} uF]-- gnd\nRES --[R1 {answer / amps:.3f} ohm]-- gnd\n"
    return solved(text).wave("RES").dc


def tube_choke_supply(
    answer: float, tube: str, volts: float, ohms: float, henry: float, hz: float, amps: float
) -> float:
    """DC behind the choke."""
    text = full_wave_tube(tube, volts, ohms, hz, "IN")
    text += f"IN --[L1 {henry} H 1 ohm]-- B1 --+[C1 40 uF]-- gnd\n"
    return solved(text + f"B1 --[R1 {answer / amps:.3f} ohm]-- gnd\n").wave("B1").dc


def half_wave_tube(
    answer: float, tube: str, volts: float, ohms: float, uf: float, hz: float, amps: float
) -> float:
    """DC of a transformerless set."""
    text = f"mains {volts} V {hz} Hz\nneutral -- gnd\ntube V1 {tube}\n"
    text += f"line --[R9 {ohms} ohm]-- V1.plate\n"
    text += (
        f"V1.cathode -- RES\nRES --+[C1 {uf} uF]-- gnd\nRES --[R1 {answer / amps:.3f} ohm]-- gnd\n"
    )
    return solved(text).wave("RES").dc


def unfiltered(_: float, kind: str, volts: float, read: str) -> float:
    """A rectifier into a resistor alone. ``read``: dc, high, ac, ratio (ac over dc), ripple Hz."""
    text = _silicon(kind, volts, 0.001) + f"RES --[R1 {10 * volts} ohm]-- gnd\n"
    wave: Wave = solved(text).wave("RES")
    if read == "hz":
        return 60.0 * float(np.argmax(np.abs(np.fft.rfft(wave.samples)[1:])) + 1)
    if read == "ratio":
        return wave.ac_rms / wave.dc
    return {"dc": wave.dc, "high": wave.high, "ac": wave.ac_rms, "rms": wave.rms}[read]


def _silicon(kind: str, volts: float, ohms: float, hz: float = 60) -> str:
    if kind == "half":
        return (
            f"mains {volts} V {hz} Hz\nneutral -- gnd\n"
            f"line --[R9 {ohms} ohm]-- A --[D1 1N4007]-> RES\n"
        )
    return (
        f"mains {volts} V {hz} Hz\ntransformer T1\n    primary pri {volts} V 0.001 ohm\n"
        f"    winding ht {volts} V ct {volts} V {2 * ohms} ohm\nT1.ht.ct -- gnd\n"
        "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[D2 1N4007]-> RES\n"
    )


def inverse(_: float, kind: str, volts: float) -> float:
    """The peak inverse volts of one plate or diode, hardly loaded."""
    if kind == "tapped":
        return solved(full_wave_tube("5U4GB", volts, 1, 60, "RES") + LIGHT).readings["V1"].inverse_v
    if kind == "doubler":
        return _doubler(volts).between("RES", "T1.ht.1").high
    circuit = BRIDGE if kind == "bridge" else HALF
    text = transformer(f"ht {volts} V 1 ohm") + circuit + LIGHT
    return solved(text).between("RES", "T1.ht.1").high


def doubler(_: float, volts: float, read: str) -> float:
    """Unloaded full-wave doubler: DC of the whole, or of one capacitor."""
    got = _doubler(volts)
    return (got.wave("RES") if read == "whole" else got.between("RES", "MID")).dc


def _doubler(volts: float) -> Solution:
    return solved(
        transformer(f"ht {volts} V 1 ohm")
        + "T1.ht.1 --[D1 1N4007]-> RES\ngnd --[D2 1N4007]-> T1.ht.1\nT1.ht.2 -- MID\n"
        "RES --+[C1 40 uF]-- MID\nMID --+[C2 40 uF]-- gnd\nRES --[R1 4M7]-- gnd\n"
    )


def half_wave_12(_: float, volts: float, ohms: float, uf: float, hz: float, read: str) -> float:
    """A small half-wave supply: its peak, its mean current, its ripple."""
    text = f"mains {volts} V {hz} Hz\nline --[D1 1N4007]-> RES\nneutral -- gnd\n"
    got = solved(text + f"RES --+[C1 {uf} uF]-- gnd\nRES --[R1 {ohms} ohm]-- gnd\n")
    wave = got.wave("RES")
    if read == "ma":
        return 1e3 * got.current("R1").high
    return wave.high if read == "high" else wave.high - wave.low


def normalised_waves(kind: str, omega_c_rl: float, rs_percent: float) -> tuple[Wave, Wave]:
    """The ideal circuit: silicon on 10 kV into 10 kohm, ``rs`` in each conducting path."""
    farads = omega_c_rl / (2 * math.pi * 60 * LOAD)
    text = _silicon(kind, VOLTS, rs_percent / 100 * LOAD)
    text += f"RES --+[C1 {farads * 1e6:.6f} uF]-- gnd\nRES --[R1 {LOAD} ohm]-- gnd\n"
    got = solved(text)
    return got.wave("RES"), got.current("D1")


def normalised(_: float, kind: str, omega_c_rl: float, rs_percent: float, read: str) -> float:
    """DC over the peak, ripple in percent of the DC, or peak over mean of one diode's current."""
    wave, amps = normalised_waves(kind, omega_c_rl, rs_percent)
    if read == "dc":
        return wave.dc / (VOLTS * math.sqrt(2))
    return 100 * wave.ac_rms / wave.dc if read == "ripple" else amps.high / amps.dc


def endless(_: float, kind: str, rs_percent: float, read: str) -> float:
    """A capacitor without end (omega C RL = 3000): DC over the peak, conduction in degrees."""
    wave, amps = normalised_waves(kind, 3000, rs_percent)
    if read == "dc":
        return wave.dc / (VOLTS * math.sqrt(2))
    return 360.0 * float(np.mean(amps.samples > 1e-4 * amps.high))


RUNNERS: dict[str, Runner] = {
    "tube-supply": tube_supply,
    "tube-choke-supply": tube_choke_supply,
    "half-wave-tube": half_wave_tube,
    "unfiltered": unfiltered,
    "inverse": inverse,
    "doubler": doubler,
    "half-wave-12": half_wave_12,
    "normalised": normalised,
    "endless": endless,
}
