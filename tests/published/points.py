"""The tube laws at published points: as fitted, and fitted anew without the point predicted.

These evaluate the law itself; there is no circuit between the published voltages and currents.
Gas tubes and rectifier drops are drawn.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from tests.published.bench import Runner, solved, transformer

from coldcheck.circuit.tubes import tube_type
from coldcheck.circuit.tubes_types import LawData, SectionKind, SectionType, TubeType
from coldcheck.solve.tubes import fit
from coldcheck.solve.tubes.laws import amplifying_law, law_for

FIGURES = {
    "ia": ("plate-current", 1e3),
    "ig2": ("screen-current", 1e3),
    "gm": ("transconductance", 1e3),
    "rp": ("plate-resistance", 1.0),
}
"""Figure -> its name in the library and the factor from SI to the tables' unit."""


def at_point(_: float, tube: str, point: float, read: str) -> float:
    """The law of the library at the type's published point of that number."""
    kind = tube_type(tube)
    law = law_for(kind.sections[0])
    assert law is not None
    return _figure(law, kind, int(point), read)


def left_out(_: float, tube: str, point: float, read: str) -> float:
    """The law fitted to the other points of the type, at the point left out."""
    section = sections_without(tube, int(point))[0]
    law = law_for(section)
    assert law is not None
    return _figure(law, tube_type(tube), int(point), read)


def _figure(law: object, kind: TubeType, point: int, read: str) -> float:
    name, factor = FIGURES[read]
    volts = fit.points_of(kind, kind.sections[0].kind.value)[point].volts
    return fit.figures(law, volts)[name] * factor


def can_be_left_out(kind: TubeType, point: int) -> bool:
    """Whether the other points still say what a fit needs: a triode's amplification factor."""
    rest = kind.points[:point] + kind.points[point + 1 :]
    factor = any("amplification-factor" in p for p in rest)
    return bool(rest) and (kind.sections[0].kind is not SectionKind.TRIODE or factor)


@cache
def sections_without(tube: str, point: int) -> tuple[SectionType, ...]:
    """The sections of a type with their law fitted to all its points but one."""
    kind = tube_type(tube)
    form = kind.sections[0].kind.value
    rest = replace(kind, points=kind.points[:point] + kind.points[point + 1 :])
    law = LawData(form, fit.fit(rest, form))
    assert amplifying_law(form, law.parameters) is not None
    return tuple(replace(s, law=law) for s in kind.sections)


def gas_tube(_: float, tube: str, ma: float, supply: float = 300) -> float:
    """Volts across a gas tube that carries ``ma``: the series resistor is bisected to it."""
    name, low, high = tube_type(tube).name, 10.0, 1e6
    for _step in range(40):
        ohms = (low * high) ** 0.5
        text = f"tube V1 {name}\nB1 --+[E1 {supply} V]-- gnd\nB1 --[R1 {ohms} ohm]-- V1.plate\n"
        got = solved(text + "V1.cathode -- gnd\n").readings["V1"]
        low, high = (ohms, high) if got.plate_ma > ma else (low, ohms)
        if abs(got.plate_ma / ma - 1) < 1e-6:
            break
    return got.plate_v


def gas_change(_: float, tube: str, least: float, most: float) -> float:
    """The change of the maintained volts from the least to the most current (mA)."""
    return gas_tube(0.0, tube, most) - gas_tube(0.0, tube, least)


def rectifier_drop(answer: float, tube: str, ma: float) -> float:
    """Volts across one plate at that current, the load on the middle of the filament's winding.

    The load is chosen for the published drop, so the current is the published one only as far as
    the drop is.
    """
    kind = tube_type(tube)
    volts = kind.heaters[0].volts.value
    text = transformer(f"fil {volts} V ct 0.001 ohm") + f"tube V1 {tube} heater T1.fil\n"
    text += f"B1 --+[E1 {answer + 1000} V]-- gnd\nB1 -- V1.plate1\n"
    direct = kind.cathode == "filament" or kind.cathode_heater
    text += "T1.fil.ct -- OUT\n" if direct else "V1.cathode -- OUT\nT1.fil.ct -- gnd\n"
    got = solved(text + f"OUT --[R1 {1e6 / ma} ohm]-- gnd\n")
    return answer + 1000 - got.wave("OUT").dc


RUNNERS: dict[str, Runner] = {
    "at-point": at_point,
    "left-out": left_out,
    "gas-tube": gas_tube,
    "gas-change": gas_change,
    "rectifier-drop": rectifier_drop,
}
