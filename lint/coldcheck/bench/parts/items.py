"""The parts of a drawing, one by one, with what is written on them, sorted for ordering."""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from itertools import accumulate
from typing import TYPE_CHECKING, assert_never

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.lines import without_comment
from coldcheck.drawing.model import (
    BridgeLine,
    Chain,
    Compound,
    CompoundLine,
    JackLine,
    OutputLine,
    Part,
    PotLine,
    RelayLine,
    SwitchLine,
    TransistorLine,
    TubeLine,
)
from coldcheck.drawing.rerated import Ratings
from coldcheck.drawing.units import engineering, si
from coldcheck.records import dataclass
from coldcheck.rules.supply.diode_current import TYPES_A
from coldcheck.rules.supply.inverse import DIODE_VOLTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, OutputTransformer, Transistor, Tube, Winding


class Sort(Enum):
    """What one looks for under one heading of a catalogue, in the order of the list."""

    RESISTOR = "resistors"
    CONTROL = "pots"
    ELECTROLYTIC = "electrolytics"
    CAPACITOR = "capacitors"
    AC_CAPACITOR = "capacitors for AC"
    DIODE = "diodes"
    LED = "light-emitting diodes"
    ZENER = "zeners"
    CHOKE = "chokes"
    TRANSFORMER = "mains transformers"
    OUTPUT = "output transformers"
    COIL = "signal transformers and coils"
    TUBE = "tubes"
    TRANSISTOR = "transistors"
    FUSE = "fuses"
    FAST_FUSE = "fast fuses"
    SWITCH = "switches"
    JACK = "jacks"
    LAMP = "lamps"
    METER = "meters"
    ARRESTER = "surge arresters"
    BARRETTER = "ballast tubes"
    PHOTOCELL = "photocells"
    CRYSTAL = "crystals"
    THYRISTOR = "thyristors and triacs"
    THERMISTOR = "thermistors"
    SPEAKER = "speakers"
    SOURCE = "sources"

    __hash__ = object.__hash__


@dataclass(frozen=True, slots=True)
class Item:
    """One part.

    value, size
        What it is, in words; what orders those of a sort.
    stated
        The ratings written on it, or those of a diode's type.
    written
        A part's bracket as the drawing has it.
    """

    name: str
    sort: Sort
    value: str
    size: float
    stated: Ratings
    written: str = ""


def items(circuit: Circuit) -> Iterator[Item]:
    """Every part there is to buy or to find in the box, in the order of the drawing."""
    for line in circuit.drawing.statements:
        match line:
            case Chain():
                yield from (i for x in line.links if x and (i := _part(circuit, x)) is not None)
            case PotLine():
                ohms = si(line.value, "ohm")
                stated = Ratings(watts=si(line.power, "watt"))
                yield Item(line.name, Sort.CONTROL, _value(ohms, "ohm"), ohms or 0.0, stated)
            case SwitchLine():
                yield Item(line.name, Sort.SWITCH, line.layout, 0.0, _contacts(line))
            case RelayLine():
                text = f"{line.layout} {line.coil.m_as('volt'):g} V{'ac' * line.coil_is_ac}"
                yield Item(line.name, Sort.SWITCH, f"relay {text}", 0.0, _contacts(line))
            case CompoundLine() if line.sort is not Compound.VIBRATOR:
                inside = (_part(circuit, x.part) for x in line.inside)
                yield from (replace(i, written="") for i in inside if i is not None)
            case BridgeLine():
                type_ = " ".join(("bridge", line.part.type or "", *line.part.words)).strip()
                yield Item(line.name, Sort.DIODE, type_, 0.0, _block(line.part))
            case TransistorLine() if line.name in circuit.transistors:
                yield _transistor(circuit.transistors[line.name])
            case JackLine():
                yield Item(line.name, Sort.JACK, "jack", 0.0, _contacts(line))
            case TubeLine() if line.name in circuit.tubes:
                yield _tube(circuit.tubes[line.name])
            case OutputLine() if line.name in circuit.outputs:
                yield _output(circuit.outputs[line.name])
    for winding in circuit.windings():
        yield _winding(winding)
    for coil in circuit.coils():
        written = without_comment(circuit.drawing.line(coil.span)).split()
        ohms = si(coil.impedance, "ohm")
        impedance = "?" if ohms is None else engineering(ohms, "ohm")
        text = f"of the spring tank, {impedance}" if coil.springs else " ".join(written[2:])
        stated = Ratings(si(coil.insulation, "volt"), None, si(coil.current, "ampere"))
        yield Item(coil.name, Sort.COIL, text, 0.0, stated)


def _contacts(line: SwitchLine | RelayLine | JackLine) -> Ratings:
    volts, amps = si(line.voltage, "volt"), si(line.current, "ampere")
    return Ratings(volts=volts, amps=amps, ac=line.voltage_is_ac)


def _part(circuit: Circuit, part: Part) -> Item | None:
    sort = _sort(part)
    if sort is None:
        return None
    unit, symbol = _UNITS.get(sort, ("", ""))
    size = si(part.value, unit) if unit else None
    off = "" if part.tolerance is None else f"{100 * part.tolerance:g} %"
    what = _value(size, symbol) if unit and part.value is not None else part.type or part.kind.value
    value = " ".join(w for w in (what, off, *part.words, part.safety_class or "") if w)
    span = part.span
    written = circuit.drawing.line(span)[span.column - 1 : span.end_column - 1]
    return Item(part.name, sort, value, size or 0.0, _stated(part), written.strip("[]"))


def _sort(part: Part) -> Sort | None:
    match part.kind:
        case PartKind.RESISTOR:
            return Sort.RESISTOR
        case PartKind.CAPACITOR:
            if part.safety_class or part.voltage_is_ac:
                return Sort.AC_CAPACITOR
            return Sort.ELECTROLYTIC if part.plus else Sort.CAPACITOR
        case PartKind.INDUCTOR:
            return Sort.CHOKE
        case PartKind.DIODE:
            return Sort.DIODE
        case PartKind.LED:
            return Sort.LED
        case PartKind.ZENER:
            return Sort.ZENER
        case PartKind.FUSE:
            return Sort.FAST_FUSE if "fast" in part.words else Sort.FUSE
        case PartKind.SWITCH:
            return Sort.SWITCH
        case PartKind.THERMISTOR:
            return Sort.THERMISTOR
        case PartKind.LAMP:
            return Sort.LAMP
        case PartKind.SPEAKER:
            return Sort.SPEAKER
        case PartKind.JACK:
            return Sort.JACK
        case PartKind.SOURCE:
            return Sort.SOURCE
        case PartKind.METER:
            return Sort.METER
        case PartKind.ARRESTER:
            return Sort.ARRESTER
        case PartKind.BARRETTER:
            return Sort.BARRETTER
        case PartKind.PHOTOCELL:
            return Sort.PHOTOCELL
        case PartKind.CRYSTAL:
            return Sort.CRYSTAL
        case PartKind.THYRISTOR:
            return Sort.THYRISTOR
        case (
            PartKind.HEATER | PartKind.WINDING | PartKind.POT | PartKind.CONTACT
            | PartKind.JACK_CONTACT | PartKind.PLUG | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE | PartKind.TRIGGER
            | PartKind.VIBRATOR
        ):  # fmt: skip
            return None  # with the tube, transformer, pot, switch or jack they belong to
        case _:
            assert_never(part.kind)


_UNITS = {
    Sort.RESISTOR: ("ohm", "ohm"),
    Sort.ELECTROLYTIC: ("farad", "F"),
    Sort.CAPACITOR: ("farad", "F"),
    Sort.AC_CAPACITOR: ("farad", "F"),
    Sort.CHOKE: ("henry", "H"),
    Sort.ZENER: ("volt", "V"),
    Sort.LED: ("volt", "V"),
    Sort.THERMISTOR: ("ohm", "ohm"),
    Sort.PHOTOCELL: ("ohm", "ohm"),
    Sort.BARRETTER: ("volt", "V"),
    Sort.SPEAKER: ("ohm", "ohm"),
    Sort.SOURCE: ("volt", "V"),
}


def _value(number: float | None, symbol: str) -> str:
    return "?" if number is None else engineering(number, symbol)


def _stated(part: Part) -> Ratings:
    if part.kind is PartKind.INDUCTOR:
        return Ratings(volts=si(part.insulation, "volt"), amps=si(part.current, "ampere"))
    volts, watts, amps = (
        si(part.voltage, "volt"),
        si(part.power, "watt"),
        si(part.value if part.kind is PartKind.FUSE else part.current, "ampere"),
    )
    if part.kind is PartKind.DIODE:
        type_ = (part.type or "").upper()
        known = DIODE_VOLTS.get(type_)
        volts = known.value if volts is None and known is not None else volts
        amps = TYPES_A.get(type_) if amps is None else amps
    return Ratings(
        volts,
        watts,
        amps,
        ac=part.voltage_is_ac or bool(part.safety_class),
    )


def _block(part: Part) -> Ratings:
    """Of four of a type the volts are those of each, the amperes twice as many."""
    stated = _stated(part)
    amps = 2 * stated.amps if part.current is None and stated.amps is not None else stated.amps
    return replace(stated, amps=amps)


def _tube(tube: Tube) -> Item:
    volts = tube.type.rating("plate-voltage") or tube.type.rating("inverse-voltage")
    watts = tube.type.rating("plate-dissipation")
    base = f"{tube.type.name}, {tube.type.base.split()[0]}" if tube.type.base else tube.type.name
    stated = Ratings(None if volts is None else volts.value, None if watts is None else watts.value)
    return Item(tube.name, Sort.TUBE, base, 0.0, stated)


def _transistor(one: Transistor) -> Item:
    figures = (
        one.type.figure(n) for n in (one.type.family.volts, "dissipation", one.type.family.amps)
    )
    volts, power, amps = (None if f is None else f.value for f in figures)
    sink = si(one.sink, "kelvin_per_watt")
    cooled = "" if sink is None else f", heat sink {sink:g} K/W"
    text = f"{one.type.name}, {one.type.case}{cooled}"
    return Item(one.name, Sort.TRANSISTOR, text, 0.0, Ratings(volts, power, amps))


def _winding(winding: Winding) -> Item:
    parts = [si(b.value, "volt") or 0.0 for b in winding.branches]
    middle = len(winding.half)
    halves = [parts[middle - 1 :: -1], parts[middle:]] if winding.centred else [parts]
    text = " ct ".join(f"{_stepped(half)} V" for half in halves)
    if len(parts) == 2 and winding.centred and sum(parts) < LOW_V:
        text = f"{sum(parts):g} V ct"  # as such windings are written and sold
    kind = "primary " if winding.primary else ""
    if winding.volts is None:
        text = "? ct" if winding.centred else "?"
    stated = Ratings(si(winding.insulation, "volt"), None, si(winding.current, "ampere"))
    return Item(winding.name, Sort.TRANSFORMER, f"{kind}{text}", 0.0, stated)


def _stepped(parts: list[float]) -> str:
    """``110/120/230``: what a winding has from its end to each of its taps."""
    return "/".join(f"{volts:g}" for volts in accumulate(parts))


LOW_V = 30.0
"""A tapped winding below this is named by its whole voltage."""


def _output(output: OutputTransformer) -> Item:
    primary = si(output.primary, "ohm") or 0.0
    gap = {True: " gapped", False: " ungapped", None: ""}[output.gapped]
    taps = "/".join(f"{si(z, 'ohm'):g}" for z in (*output.steps, output.secondary))
    ratio = f"{engineering(primary, 'ohm')} : {taps} ohm{gap}"
    stated = Ratings(amps=si(output.current, "ampere"))
    return Item(output.name, Sort.OUTPUT, ratio, primary, stated)
