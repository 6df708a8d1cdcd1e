"""AC on DC: what a meter and a scope would show, and what wave shapes are worth.

The meter's wave shapes are fed to Wave, and to the meters of the bench, directly.
"""

from __future__ import annotations

import numpy as np
from tests.published.bench import Runner, solved, transformer

from coldcheck.bench.instruments.instruments import AVERAGE
from coldcheck.bench.instruments.measure import responds
from coldcheck.solve.solution import Wave

ANGLE = 2 * np.pi * np.arange(4096) / 4096
SHAPES = {
    "rectified": np.sqrt(2) * np.abs(np.sin(ANGLE)),
    "triangle": 1.732 * (2 / np.pi) * np.arcsin(np.sin(ANGLE)),
    "half-rectified": 2 * np.maximum(np.sin(ANGLE), 0),
    "sawtooth": ANGLE / (2 * np.pi),
    "square": np.sign(np.pi - ANGLE - 1e-9),
}


def read_off(wave: Wave, what: str) -> float:
    """A figure of a wave; ``pp`` is peak to peak, ``average`` an average-responding meter's."""
    if what == AVERAGE:
        return responds(AVERAGE, wave)
    return wave.high - wave.low if what == "pp" else getattr(wave, what)


def on_top(_: float, dc: float, ac: float, read: str, rated: float = 0) -> float:
    """A winding in series with a DC source; with ``rated``, the peak's share of that rating."""
    text = transformer(f"w {ac} V 0.001 ohm") + f"B1 --+[E1 {dc} V]-- gnd\nB1 -- T1.w.1\n"
    wave = solved(text + "T1.w.2 --[R1 100k]-- gnd\nT1.w.2 --+[C1 1 nF]-- gnd\n").wave("T1.w.2")
    return wave.high / rated if rated else read_off(wave, read)


def lifted(_: float, dc: float, ac: float, read: str) -> float:
    """One end of a winding whose centre tap stands on DC."""
    text = transformer(f"w {ac} V ct 0.001 ohm") + f"B1 --+[E1 {dc} V]-- gnd\nB1 -- T1.w.ct\n"
    return read_off(solved(text).wave("T1.w.1"), read)


def shape(_: float, kind: str, read: str) -> float:
    """A figure of a plain wave shape."""
    return read_off(Wave(SHAPES[kind]), read)


def loaded_divider(_: float, volts: float, upper: float, lower: float, meter: float) -> float:
    """A divider with a meter across its lower resistor."""
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {upper} ohm]-- M --[R2 {lower} ohm]-- gnd\n"
    return solved(text + f"M --[R3 {meter} ohm]-- gnd\n").wave("M").dc


RUNNERS: dict[str, Runner] = {
    "on-top": on_top,
    "lifted": lifted,
    "shape": shape,
    "loaded-divider": loaded_divider,
}
