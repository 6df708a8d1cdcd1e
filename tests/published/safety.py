"""Stored charge after switch-off, leakage through line capacitors, balancing, letter codes."""

from __future__ import annotations

from tests.published.bench import Runner, built, solved

from coldcheck.solve.off.discharge import Discharge, slowest


def discharge(_: float, volts: float, ohms: float, uf: float, read: str) -> float:
    """A charged capacitor and its bleeder: time constant, seconds to 60 V, watts, joules."""
    text = f"A --[C1 {uf} uF]-- gnd\nA --[R1 {ohms} ohm]-- gnd\n"
    charged = text + f"A --+[E1 {volts} V]-- gnd\n"
    if read == "watts":
        return solved(charged).current("R1").dc ** 2 * ohms
    if read == "joules":
        return slowest(built(charged), [solved(charged)])[0].joules
    circuit = built(text)
    found = Discharge.build(circuit, (circuit.branches["C1"],), frozenset(), None)
    if read == "tau":
        return float(found.taus[-1])
    return found.seconds(circuit.branches["C1"], {"C1": volts})


def line_capacitor(_: float, volts: float, nf: float, hz: float) -> float:
    """Milliampere rms from the line through a capacitor to earth."""
    text = f"mains {volts} V {hz} Hz\nneutral -- gnd\nline --[C1 {nf} nF]-- gnd\n"
    return 1e3 * solved(text).current("C1").rms


def balancing(_: float, volts: float, ohms: float, read: str) -> float:
    """Two like resistors across two capacitors in series: mA, watts in each."""
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ohms} ohm]-- M --[R2 {ohms} ohm]-- gnd\n"
    amps = solved(text + "B1 --+[C1 100 uF]-- M --+[C2 100 uF]-- gnd\n").current("R2").dc
    return 1e3 * amps if read == "ma" else amps**2 * ohms


def letter_code(_: float, part: str, code: str, unit: str) -> float:
    """What the reader makes of a value in letter code, in ``unit``."""
    branch = built(f"A --[{part}1 {code}]-- gnd\n").branches[f"{part}1"]
    return float(branch.value.m_as(unit))


RUNNERS: dict[str, Runner] = {
    "discharge": discharge,
    "line-capacitor": line_capacitor,
    "balancing": balancing,
    "letter-code": letter_code,
}
