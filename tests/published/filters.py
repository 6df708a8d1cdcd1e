"""Filters behind a silicon rectifier: ripple, choke input, RC and LC sections, reactances."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from tests.published.bench import Runner, solved, transformer

if TYPE_CHECKING:
    from coldcheck.solve.solution import Wave


def rectifier(hz: float, volts: float = 300.0, both: float = 20.0) -> str:
    """Full wave, ``both`` ohms in the whole winding."""
    return transformer(f"ht {volts} V ct {volts} V {both} ohm", hz) + (
        "T1.ht.ct -- gnd\nT1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[D2 1N4007]-> RES\n"
    )


def ripple_bound(_: float, amps: float, hz: float, uf: float) -> float:
    """Peak to peak, taken to the stated current."""
    text = rectifier(hz) + f"RES --+[C1 {uf} uF]-- gnd\nRES --[R1 {400 / amps} ohm]-- gnd\n"
    got = solved(text)
    wave = got.wave("RES")
    return (wave.high - wave.low) * amps / got.current("R1").dc


def _harmonic(wave: Wave, number: int) -> float:
    return float(abs(np.fft.rfft(wave.samples)[number]))


def choke_ripple(_: float, henry: float, uf: float, hz: float) -> float:
    """Percent; the load is light enough not to damp the section and heavy enough to hold it."""
    text = rectifier(hz, both=0.5) + f"RES --[L1 {henry} H 0.1 ohm]-- B1 --+[C1 {uf} uF]-- gnd\n"
    wave = solved(text + "B1 --[R1 3k]-- gnd\n").wave("B1")
    return 100 * wave.ac_rms / wave.dc


def choke_dc(_: float, volts: float, ohms: float, kohm: float, hz: float) -> float:
    """DC before the choke's and the diodes' drops, over the rms volts of a half winding."""
    text = rectifier(hz, volts, 2.0) + f"RES --[L1 20 H {ohms} ohm]-- B1 --+[C1 40 uF]-- gnd\n"
    got = solved(text + f"B1 --[R1 {kohm}k]-- gnd\n")
    return (got.wave("B1").dc + got.current("L1").dc * (ohms + 1) + 0.85) / volts


def choke_current(load: float, henry: float, hz: float, volts: float = 445.0) -> Wave:
    """The current of a choke-input supply of 0.9 x ``volts`` into ``load`` ohms."""
    text = rectifier(hz, volts, 2.0) + f"RES --[L1 {henry} H 1 ohm]-- B1 --+[C1 100 uF]-- gnd\n"
    return solved(text + f"B1 --[R1 {load} ohm]-- gnd\n").current("L1")


def critical_load(_: float, henry: float, hz: float, read: str) -> float:
    """The largest load in kohm (or least mA at 400 V) at which the choke's current never stops."""
    low, high = 0.5, 2.0
    for _step in range(9):
        middle = (low + high) / 2
        amps = choke_current(942 * hz / 50 * henry * middle, henry, hz)
        low, high = (middle, high) if amps.low > 1e-3 * amps.dc else (low, middle)
    kohm = 0.942 * hz / 50 * henry * low
    return kohm if read == "kohm" else 400.0 / kohm


def section(_: float, kind: str, part: float, uf: float, hz: float) -> float:
    """Ripple at 2f before over behind a section of ``part`` ohms or henries and ``uf``."""
    drawn = f"[R1 {part} ohm]" if kind == "rc" else f"[L1 {part} H 1 ohm]"
    text = rectifier(hz) + f"RES --+[C1 20 uF]-- gnd\nRES --{drawn}-- B1 --+[C2 {uf} uF]-- gnd\n"
    got = solved(text + "B1 --[R2 100k]-- gnd\n")
    return _harmonic(got.wave("RES"), 2) / _harmonic(got.wave("B1"), 2)


def dropper(_: float, volts: float, ohms: float, ma: float, read: str) -> float:
    """A node behind a dropping resistor, or the watts in it."""
    below = (volts - ohms * ma / 1e3) / ma * 1e3
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ohms} ohm]-- B2 --[R2 {below} ohm]-- gnd\n"
    got = solved(text)
    return got.current("R1").dc ** 2 * ohms if read == "watts" else got.wave("B2").dc


def reactance(_: float, part: str, hz: float) -> float:
    """Ohms of one part across a winding: its volts over its current."""
    text = transformer("w 100 V 0.001 ohm", hz) + f"T1.w.2 -- gnd\nT1.w.1 --[{part}]-- gnd\n"
    text = text.replace("_", " ")
    got = solved(text)
    return got.wave("T1.w.1").rms / got.current(part.split("_")[0]).rms


RUNNERS: dict[str, Runner] = {
    "ripple-bound": ripple_bound,
    "choke-ripple": choke_ripple,
    "choke-dc": choke_dc,
    "critical-load": critical_load,
    "section": section,
    "dropper": dropper,
    "reactance": reactance,
}
