"""Heaters: series strings with droppers, winding loads, lifted references, hum through leakage."""

from __future__ import annotations

import math

from tests.published.bench import Runner, built, solved, transformer

from coldcheck.solve.off.discharge import Discharge


def _string(volts: float, hz: float, dropper: str, heaters: str, amps: float) -> tuple[str, float]:
    """A string across the mains and its heaters' rated sum.

    ``heaters`` are tube types with a heater of that current, or bare rated volts for types that
    are not on file (drawn as the resistor their rating makes), joined by ``+``, line end first.
    """
    wire, total, tubes = f"line {dropper}", 0.0, ""
    for n, word in enumerate(heaters.split("+"), 1):
        if word[0].isdigit() and "." in word:
            part, rated = f"R{n} {float(word) / amps:.6g} ohm", float(word)
        else:
            tubes += f"tube V{n} {word}\n"
            part, rated = f"V{n} heater", built(tubes).tubes[f"V{n}"].type.heaters[0].volts.value
        wire += f" P{n} --[{part}]--"
        total += rated
    return f"mains {volts} V {hz} Hz\n{tubes}neutral -- gnd\n{wire} gnd\n", total


def string(
    _: float,
    volts: float,
    heaters: str,
    amps: float,
    read: str,
    hz: float = 60,
    ohms: float = 0.001,
    diode: str = "",
) -> float:
    """A string with a resistor, and maybe a diode, before it.

    ``read``: the heaters' sum in volts, its share of the line, the dropper's volts, watts, the
    string's amperes rms, the diode's inverse volts.
    """
    before = f"--[D9 {diode}]-> A --" if diode else "--"
    text, total = _string(volts, hz, f"{before}[R99 {ohms} ohm]--", heaters, amps)
    got = solved(text)
    current, drop = got.current("R99").rms, got.current("R99").rms * ohms
    if read == "inverse":
        return got.between("A", "line").high
    return {
        "sum": total,
        "share": 100 * current / amps,
        "drop": drop,
        "watts": drop * current,
        "amps": current,
        "heaters": got.wave("P1").rms,
    }[read]


def string_capacitor(
    _: float, volts: float, heaters: str, amps: float, read: str, uf: float, hz: float
) -> float:
    """A string behind a capacitor: amperes, volts across the heaters, reactance."""
    text, _sum = _string(volts, hz, f"--[C99 {uf} uF]--", heaters, amps)
    got = solved(text)
    current = got.current("C99").rms
    if read == "reactance":
        return got.between("line", "P1").rms / current
    return current if read == "amps" else got.wave("P1").rms


def shunted(_: float, tube: str, volts: float, ohms: float, read: str) -> float:
    """A low-current heater with its shunt on a source: the shunt's watts, the whole current."""
    text = f"mains {volts} V 60 Hz\nneutral -- gnd\ntube V1 {tube}\nline --[V1 heater]-- gnd\n"
    got = solved(text + f"line --[R1 {ohms} ohm]-- gnd\n")
    shunt, heater = got.current("R1").rms, got.current("V1.heater").rms
    return shunt**2 * ohms if read == "watts" else shunt + heater


def filament_and_resistor(_: float, tube: str, volts: float, ohms: float, read: str) -> float:
    """A filament in series with a resistor: amperes, or volts on the filament."""
    text = f"tube V1 {tube}\nB1 --+[E1 {volts} V]-- gnd\n"
    text += f"B1 --[R1 {ohms} ohm]-- F --[V1 heater]-- gnd\n"
    got = solved(text)
    return got.current("R1").dc if read == "amps" else got.wave("F").dc


def winding(
    _: float, tubes: str, volts: float, read: str, rated: str = "0.0001_ohm", state: str = "warm"
) -> float:
    """Tubes (joined by ``+``, ``-`` for none) on a heater winding, one end on gnd."""
    text = transformer(f"w {volts} V {rated.replace('_', ' ')}") + "T1.w.2 -- gnd\n"
    names = [] if tubes == "-" else tubes.split("+")
    text += "".join(f"tube V{n} {t} heater T1.w\n" for n, t in enumerate(names, 1))
    got = solved(text if names else text + "T1.w.1 --[R1 1M]-- gnd\n", state.replace("_", " "))
    wave, amps = got.wave("T1.w.1"), got.current("T1.w")
    if read == "ohms":
        return wave.rms / amps.rms
    return amps.rms if read == "amps" else getattr(wave, read)


def tapped(_: float, ac: float, read: str) -> float:
    """Centre tap on gnd."""
    text = transformer(f"w {ac} V ct 0.001 ohm") + "gnd -- T1.w.ct\n"
    return getattr(solved(text).wave("T1.w.2"), read)


def artificial_tap(_: float, ac: float, ohms: float, read: str) -> float:
    """Two resistors across a winding, their middle on gnd: mA, or watts in each."""
    text = transformer(f"w {ac} V 0.001 ohm")
    got = solved(text + f"T1.w.1 --[R1 {ohms} ohm]-- gnd --[R2 {ohms} ohm]-- T1.w.2\n")
    amps = got.current("R1").rms
    return 1e3 * amps if read == "ma" else amps**2 * ohms


def divider(
    _: float, volts: float, upper: float, lower: float, read: str, load: float = 0
) -> float:
    """A reference for heaters: volts, mA, ohms seen from the tap, watts in each resistor."""
    text = f"B1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {upper} ohm]-- LIFT --[R2 {lower} ohm]-- gnd\n"
    if load:
        text += f"LIFT --[R3 {load} ohm]-- gnd\n"
    got = solved(text)
    if read == "thevenin":
        sagged = solved(text + "LIFT --[R4 100k]-- gnd\n").wave("LIFT").dc
        return 1e5 * (got.wave("LIFT").dc / sagged - 1) / 1e3
    amps = got.current("R1").dc
    return {
        "volts": got.wave("LIFT").dc,
        "ma": 1e3 * amps,
        "upper-watts": amps**2 * upper,
        "lower-watts": got.current("R2").dc ** 2 * lower,
    }[read]


def tap_settling(_: float, upper: float, lower: float, uf: float, read: str) -> float:
    """The time constant (s) of the tap's bypass with the supply at 0 V, or its corner (Hz)."""
    circuit = built(
        f"gnd --[R1 {upper} ohm]-- LIFT --[R2 {lower} ohm]-- gnd\nLIFT --[C1 {uf} uF]-- gnd\n"
    )
    found = Discharge.build(circuit, (circuit.branches["C1"],), frozenset(), None)
    tau = float(found.taus[-1])
    return tau if read == "tau" else 1 / (2 * math.pi * tau)


def leakage_hum(_: float, ac: float, leak: float, rk: float) -> float:
    """Millivolts rms at an unbypassed cathode through a leakage from the heater."""
    text = transformer(f"w {ac} V 0.001 ohm") + "T1.w.2 -- gnd\n"
    got = solved(text + f"T1.w.1 --[R1 {leak} ohm]-- K --[R2 {rk} ohm]-- gnd\n")
    return 1e3 * got.wave("K").ac_rms


RUNNERS: dict[str, Runner] = {
    "string": string,
    "string-capacitor": string_capacitor,
    "shunted": shunted,
    "filament-and-resistor": filament_and_resistor,
    "winding": winding,
    "tapped": tapped,
    "artificial-tap": artificial_tap,
    "divider": divider,
    "tap-settling": tap_settling,
    "leakage-hum": leakage_hum,
}
