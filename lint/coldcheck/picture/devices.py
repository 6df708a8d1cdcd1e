"""What is to be drawn: every part of a circuit as a device with leads, each on its net.

The circuit splits a pot, a tapped winding or a switch into branches; a drawing has one symbol.
"""

from __future__ import annotations

from dataclasses import field
from enum import Enum
from types import MappingProxyType
from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.leads import pin_key
from coldcheck.circuit.thyristors import TRIAC
from coldcheck.circuit.transistors import Family
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import (
    BRIDGE_LEADS,
    BridgeLine,
    JackLine,
    OutputLine,
    PotLine,
    RelayLine,
    SwitchLine,
)
from coldcheck.drawing.units import engineering
from coldcheck.picture.wording import line_text, part_lines
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import (
        Branch,
        Circuit,
        Section,
        Thyristor,
        Transistor,
        Tube,
        Vibrator,
        Winding,
    )
    from coldcheck.circuit.transistors import TransistorType


class Symbol(Enum):
    """Every symbol there is; ``report/picture/strokes.py`` has their lines."""

    RESISTOR = "resistor"
    CAPACITOR = "capacitor"
    INDUCTOR = "inductor"
    DIODE = "diode"
    LED = "led"
    ZENER = "zener"
    FUSE = "fuse"
    SWITCH = "switch"
    THERMISTOR = "thermistor"
    LAMP = "lamp"
    SPEAKER = "speaker"
    SOCKET = "socket"
    SOURCE = "source"
    LINK = "link"
    SIGNAL = "signal"
    TERMINAL = "terminal"
    POT = "pot"
    POLE = "pole"
    RELAY = "relay"
    METER = "meter"
    ARRESTER = "arrester"
    BARRETTER = "barretter"
    PHOTOCELL = "photocell"
    CRYSTAL = "crystal"
    BRIDGE = "bridge"
    STABILISER = "stabiliser"
    JACK = "jack"
    HEATER = "heater"
    WINDING = "winding"
    TRANSFORMER = "transformer"
    OUTPUT = "output"
    TUBE = "tube"
    RECTIFIER = "rectifier"
    REGULATOR = "regulator"
    GROUND = "ground"
    CHASSIS = "chassis"
    EARTH = "earth"
    FLAG = "flag"


class Inside(Enum):
    """What stands in the envelope of a transistor."""

    N_CHANNEL = "n-channel"
    N_DEPLETION = "n-channel depletion"
    P_CHANNEL = "p-channel"
    N_JUNCTION = "n-channel junction"
    P_JUNCTION = "p-channel junction"
    NPN = "NPN"
    PNP = "PNP"


MARKS = {"gnd": Symbol.GROUND, "chassis": Symbol.CHASSIS, "earth": Symbol.EARTH}
"""Nets that are drawn as a mark wherever they are used."""


@dataclass(frozen=True, slots=True)
class Lead:
    """An end of a device: ``label`` is what stands beside it, a pin or a tap."""

    name: str
    net: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class Coil:
    """One winding of a transformer's symbol: ``leads`` by name, ``dot`` the one with the dot.

    ``left``: it is a primary, on the symbol's left side.
    """

    label: tuple[str, ...]
    leads: tuple[str, ...]
    dot: str
    left: bool = False


@dataclass(frozen=True, slots=True)
class Device:
    """One symbol to draw.

    name
        The part, section, winding or pole it stands for.
    lines
        What stands beside it: the reference first, then value and ratings.
    closed
        Of a switch or a jack's contact: whether it is drawn closed.
    position
        Of a pole with two contacts: the one it rests on.
    plus
        The lead on the + side of a polarised part.
    coils
        Of transformers: the windings, primaries first; ``springs`` where those join them.
    inside
        Of a transistor: what is drawn in the envelope. It is placed as the tube in its place would
        be, and its leads are called as that tube's: the plate is where its current goes in.
    """

    name: str
    symbol: Symbol
    leads: tuple[Lead, ...]
    lines: tuple[str, ...] = ()
    closed: bool = True
    position: int = 1
    plus: str = ""
    coils: tuple[Coil, ...] = ()
    iron: bool = True
    springs: bool = False
    inside: Inside | None = None

    def lead(self, name: str) -> Lead | None:
        """The lead of that name."""
        return next((lead for lead in self.leads if lead.name == name), None)

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets of its leads, without repetition."""
        return tuple(dict.fromkeys(lead.net for lead in self.leads))


@dataclass(frozen=True, slots=True)
class Inventory:
    """All devices of a circuit by name, and the leads on each net as (device, lead) names."""

    devices: dict[str, Device]
    uses: dict[str, list[tuple[str, str]]] = field(default_factory=dict)

    def at(self, net: str) -> list[Device]:
        """The devices on a net, without repetition."""
        return [self.devices[n] for n in dict.fromkeys(name for name, _ in self.uses.get(net, ()))]


def inventory(devices: Iterator[Device] | list[Device]) -> Inventory:
    """Devices by name with their uses of nets."""
    found = Inventory({})
    for device in devices:
        found.devices[device.name] = device
        for lead in device.leads:
            found.uses.setdefault(lead.net, []).append((device.name, lead.name))
    return found


def devices_of(circuit: Circuit) -> list[Device]:
    """Every device of a circuit, in drawing order."""
    found = [
        *_landmarks(circuit),
        *_windings(circuit),
        *_outputs(circuit),
        *_coil_sets(circuit),
        *_two_lead_parts(circuit),
        *_declared(circuit),
    ]
    found += [
        _stabiliser(q) if q.type.family.regulates else _transistor(q)
        for q in circuit.transistors.values()
    ]
    found += [_thyristor(circuit, one) for one in circuit.thyristors.values()]
    found += [_vibrator(circuit, one) for one in circuit.vibrators.values()]
    for tube in circuit.tubes.values():
        found += _tube(circuit, tube)
    return found


def _landmarks(circuit: Circuit) -> Iterator[Device]:
    """Mains terminals; chassis and earth marks of their own where they share another's net."""
    for net, names in circuit.names.items():
        for name in names:
            if name in ("line", "neutral"):
                yield Device(name, Symbol.TERMINAL, (Lead("1", net),), (name,))
            elif name in MARKS and name != net:
                yield Device(name, MARKS[name], (Lead("1", net),))


def _windings(circuit: Circuit) -> Iterator[Device]:
    for transformer in circuit.transformers.values():
        for winding in transformer.windings:
            yield winding_device(circuit, transformer.name, winding)


def winding_device(circuit: Circuit, transformer: str, winding: Winding) -> Device:
    """One winding by itself: ``T1.warm``."""
    short = winding.name.removeprefix(f"{transformer}.")
    leads = tuple(Lead(lead, net, lead) for lead, net in winding.leads)
    words = line_text(circuit, winding.span).split()
    label = _winding_words(words[words.index(short) + 1 :] if short in words else [])
    coil = Coil(label, tuple(lead.name for lead in leads), winding.dot, winding.primary)
    lines = (winding.name, *label)
    return Device(winding.name, Symbol.WINDING, leads, lines, coils=(coil,))


def _winding_words(words: list[str]) -> tuple[str, ...]:
    """``250 V ct 250 V``, then the rest: of its ohms a picture has no use."""
    volts = 0
    while volts < len(words) and (words[volts] in ("V", "ct") or words[volts + 1 :][:1] == ["V"]):
        volts += 1
    first = " ".join(words[:volts])
    words = words[: words.index("dot")] if "dot" in words else words
    rest = [line for line in part_lines(" ".join(words[volts:]), most=3) if "Ω" not in line]
    return (first, *rest) if first else tuple(rest)


def _outputs(circuit: Circuit) -> Iterator[Device]:
    for output in circuit.outputs.values():
        leads = tuple(Lead(lead, net, lead) for lead, net in output.leads)
        lines = (s for s in circuit.drawing.statements if isinstance(s, OutputLine))
        line = next(s for s in lines if s.name == output.name)
        dots = [d for d in ("p1", "s1", "p2", "s2") if d in line.dots]
        wound = tuple(lead for lead, _, _ in output.secondary_leads)
        primary = tuple(lead.name for lead in leads if lead.name not in wound)
        coils = (
            Coil((), primary, next(d for d in dots if d.startswith("p"))),
            Coil((), wound, next(d for d in dots if d.startswith("s"))),
        )
        text = line_text(circuit, output.span).split(maxsplit=2)
        ratio = " ".join(text[2:]).split()
        words = (output.name, *_ratio(ratio))
        yield Device(output.name, Symbol.OUTPUT, leads, words, coils=coils)


def _coil_sets(circuit: Circuit) -> Iterator[Device]:
    """A transformer for signals, or a tapped coil: one symbol, its first winding on the left."""
    for coil_set in circuit.coil_sets.values():
        coils, leads = [], []
        for n, coil in enumerate(coil_set.coils):
            short = coil.name.removeprefix(f"{coil_set.name}.")
            own = tuple(f"{short}.{lead}" for lead, _ in coil.leads)
            leads += [
                Lead(name, net, lead) for name, (lead, net) in zip(own, coil.leads, strict=True)
            ]
            words = line_text(circuit, coil.span).split()
            words = words[: words.index("dot")] if "dot" in words else words
            text = " ".join(words[words.index(short) + 1 :]) if short in words else ""
            label = tuple(line for line in part_lines(text, most=3) if "Ω" not in line)
            if coil.springs and coil.impedance is not None:
                label = (engineering(float(coil.impedance.m_as("ohm")), "Ω"),)
            left = coil.primary or n == 0
            coils.append(Coil((short, *label), own, f"{short}.{coil.dot}", left))
        named = (coil_set.name, "spring tank") if coil_set.springs else (coil_set.name,)
        yield Device(
            coil_set.name, Symbol.TRANSFORMER, tuple(leads), named, coils=tuple(coils),
            iron=coil_set.iron, springs=coil_set.springs,
        )  # fmt: skip


def _ratio(words: list[str]) -> tuple[str, ...]:
    """``5k : 8 ohm`` of an output transformer's line."""
    if ":" not in words:
        return (" ".join(words[:1]),)
    cut = words.index(":")
    after = words[cut + 1 : cut + 3]
    unit = after[1:2] if after[1:2] in (["ohm"], ["ohms"]) else []
    primary = words[0] if not words[0].isdigit() else " ".join(words[:2])
    return (f"{primary} : {' '.join([*after[:1], *unit])}".replace(" ohm", " Ω"),)


def _two_lead_parts(circuit: Circuit) -> Iterator[Device]:
    boxed = {b.name for t in circuit.thyristors.values() for b in (t.main, t.gate)}
    boxed |= {v.main.name for v in circuit.vibrators.values()}
    for branch in circuit.branches.values():
        if branch.name in boxed:
            continue  # see _thyristor and _vibrator
        if branch.part is not None and branch.kind is not PartKind.HEATER:
            yield _two_lead(circuit, branch)
        elif branch.kind is PartKind.SIGNAL:
            lines = (branch.name, *part_lines(_after_name(circuit, branch), most=2))
            yield Device(f"signal {branch.name}", Symbol.SIGNAL, (Lead("1", branch.a),), lines)
        elif branch.kind is PartKind.PLUG:
            leads = (Lead("a", branch.a), Lead("b", branch.b))
            lines = (branch.name,)
            yield Device(branch.name, Symbol.SWITCH, leads, lines, closed=branch.closed)
        elif branch.kind is PartKind.CONTACT and branch.owner in circuit.tubes:
            ends = branch.name.removeprefix(f"{branch.owner}.").split("-")
            leads = (Lead("a", branch.a, ends[0]), Lead("b", branch.b, ends[-1]))
            yield Device(branch.name, Symbol.LINK, leads, (branch.owner, "link"))


def _after_name(circuit: Circuit, branch: Branch) -> str:
    text = line_text(circuit, branch.span)
    return " ".join(text.split()[2:])


def _two_lead(circuit: Circuit, branch: Branch) -> Device:
    symbol = _symbol_of(branch.kind)
    part = branch.part
    assert part is not None
    text = line_text(circuit, branch.span)
    fields = text if branch.throws else text.partition(" ")[2]  # within a case without a name
    lines = (branch.name, *part_lines(fields, most=2))
    plus = _plus(branch)
    leads = (Lead("a", branch.a), Lead("b", branch.b))
    iron = "air" not in part.words
    return Device(branch.name, symbol, leads, lines, closed=branch.closed, plus=plus, iron=iron)


def _plus(branch: Branch) -> str:
    """The lead on the + side; a source is positive at ``a``."""
    if branch.kind is PartKind.SOURCE:
        return "a"
    if branch.plus is None or branch.part is None:
        return ""
    return "a" if branch.part.plus == "left" else "b"


def _symbol_of(kind: PartKind) -> Symbol:
    match kind:
        case PartKind.RESISTOR:
            return Symbol.RESISTOR
        case PartKind.CAPACITOR:
            return Symbol.CAPACITOR
        case PartKind.INDUCTOR:
            return Symbol.INDUCTOR
        case PartKind.DIODE:
            return Symbol.DIODE
        case PartKind.LED:
            return Symbol.LED
        case PartKind.ZENER:
            return Symbol.ZENER
        case PartKind.FUSE:
            return Symbol.FUSE
        case PartKind.SWITCH:
            return Symbol.SWITCH
        case PartKind.THERMISTOR:
            return Symbol.THERMISTOR
        case PartKind.LAMP:
            return Symbol.LAMP
        case PartKind.SPEAKER:
            return Symbol.SPEAKER
        case PartKind.JACK:
            return Symbol.SOCKET
        case PartKind.SOURCE:
            return Symbol.SOURCE
        case PartKind.HEATER:
            return Symbol.HEATER
        case PartKind.WINDING:
            return Symbol.WINDING
        case PartKind.POT:
            return Symbol.POT
        case PartKind.CONTACT:
            return Symbol.POLE
        case PartKind.RELAY:
            return Symbol.RELAY
        case PartKind.METER:
            return Symbol.METER
        case PartKind.ARRESTER:
            return Symbol.ARRESTER
        case PartKind.BARRETTER:
            return Symbol.BARRETTER
        case PartKind.PHOTOCELL:
            return Symbol.PHOTOCELL
        case PartKind.CRYSTAL:
            return Symbol.CRYSTAL
        case PartKind.JACK_CONTACT:
            return Symbol.JACK
        case PartKind.PLUG:
            return Symbol.SWITCH
        case PartKind.SIGNAL:
            return Symbol.SIGNAL
        case (
            PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
            | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
        ):  # fmt: skip
            return Symbol.SIGNAL
        case _:
            assert_never(kind)


def _declared(circuit: Circuit) -> Iterator[Device]:
    for line in circuit.drawing.statements:
        if isinstance(line, PotLine) and _known(circuit, f"{line.name}.wiper"):
            yield _pot(circuit, line)
        elif isinstance(line, SwitchLine):
            yield from _poles(circuit, line)
        elif isinstance(line, RelayLine) and _known(circuit, f"{line.name}.coil.1"):
            yield from _relay(circuit, line)
        elif isinstance(line, BridgeLine) and _known(circuit, f"{line.name}.plus"):
            yield _bridge(circuit, line)
        elif isinstance(line, JackLine) and _known(circuit, f"{line.name}.tip"):
            yield _jack(circuit, line)


def _known(circuit: Circuit, point: str) -> bool:
    return point in circuit.points


def _pot(circuit: Circuit, line: PotLine) -> Device:
    leads = tuple(
        Lead(end, circuit.points[f"{line.name}.{end}"], end if end.startswith("tap") else "")
        for end in line.leads
    )
    words = line_text(circuit, line.span).split(maxsplit=2)[2:]
    return Device(line.name, Symbol.POT, leads, (line.name, *part_lines(" ".join(words), most=2)))


def _poles(circuit: Circuit, line: SwitchLine) -> Iterator[Device]:
    ends = line.ends
    for pole in line.poles:
        keys = [f"{line.name}.{pole}{end}" for end in ends]
        if all(_known(circuit, key) for key in keys):
            leads = tuple(
                Lead(end, circuit.points[key], "" if end == "common" else end)
                for end, key in zip(ends, keys, strict=True)
            )
            name = f"{line.name}.{pole}".rstrip(".")
            yield Device(name, Symbol.POLE, leads, (name,), line.at == 1, line.at)


def _relay(circuit: Circuit, line: RelayLine) -> Iterator[Device]:
    """Its coil, then each of its poles as it stands while the set works."""
    points, name = circuit.points, line.name
    leads = tuple(Lead(end, points[f"{name}.coil.{n}"]) for end, n in (("a", 1), ("b", 2)))
    words = part_lines(" ".join(line_text(circuit, line.span).split()[3:]), most=2)
    yield Device(f"{name}.coil", Symbol.RELAY, leads, (name, *words))
    for pole in line.poles:
        ends = tuple(
            Lead(end, points[f"{name}.{pole}{end}"], "" if end == "common" else end)
            for end in line.ends
        )
        own = f"{name}.{pole}".rstrip(".")
        at = 2 if line.released else 1
        yield Device(own, Symbol.POLE, ends, (own,), not line.released, at)


def _bridge(circuit: Circuit, line: BridgeLine) -> Device:
    signs = dict(zip(BRIDGE_LEADS, ("~", "~", "+", "\N{MINUS SIGN}"), strict=True))
    leads = tuple(Lead(end, circuit.points[f"{line.name}.{end}"], signs[end]) for end in signs)
    words = " ".join(line_text(circuit, line.span).split()[2:])
    return Device(line.name, Symbol.BRIDGE, leads, (line.name, *part_lines(words, most=2)))


def _jack(circuit: Circuit, line: JackLine) -> Device:
    nets = {e: circuit.points[f"{line.name}.{e}"] for e in ("tip", "ring", "switch", "sleeve")}
    wired = {e for e, net in nets.items() if _is_wired(circuit, net, f"{line.name}.{e}")}
    wired |= {"tip", "sleeve"}
    leads = tuple(Lead(e, n, e) for e, n in nets.items() if e in wired)
    contact = circuit.branches.get(f"{line.name}.switch-tip")
    return Device(
        line.name, Symbol.JACK, leads, (line.name,), closed=contact is None or contact.closed
    )


def _transistor(transistor: Transistor) -> Device:
    channel, steers = transistor.channel, transistor.control
    letters = {net_lead: net_lead[0].upper() for net_lead in transistor.nets}
    main, out, control = transistor.type.family.leads
    top, foot = (main, out) if transistor.type.family.sign > 0 else (out, main)
    grid = steers.a if transistor.type.family.sign > 0 else steers.b
    leads = (Lead("plate", channel.a, letters[top]), Lead("grid", grid, letters[control]),
             Lead("cathode", channel.b, letters[foot]))  # fmt: skip
    lines = (transistor.name, transistor.type.name)
    return Device(transistor.name, Symbol.TUBE, leads, lines, inside=_inside(transistor.type))


def _stabiliser(one: Transistor) -> Device:
    """A regulator with three leads: a box, what comes in at its left and out at its right."""
    marks = {"in": "IN", "out": "OUT", "common": "GND", "adj": "ADJ"}
    leads = tuple(Lead(lead, net, marks[lead]) for lead, net in one.nets.items())
    return Device(one.name, Symbol.STABILISER, leads, (one.name, one.type.name))


def _thyristor(circuit: Circuit, one: Thyristor) -> Device:
    """A thyristor or triac: a box with the letters of its leads."""
    marks = ("MT2", "MT1") if TRIAC in (one.main.part.words if one.main.part else ()) else "AK"
    leads = (Lead("a", one.main.a, marks[0]), Lead("b", one.main.b, marks[1]),
             Lead("gate", one.gate.a, "G"))  # fmt: skip
    words = " ".join(line_text(circuit, circuit.span(one.name)).split()[2:])
    return Device(one.name, Symbol.STABILISER, leads, (one.name, *part_lines(words, most=2)))


def _vibrator(circuit: Circuit, one: Vibrator) -> Device:
    """A vibrator: a box, its contacts at the sides and its reed below."""
    leads = (Lead("c1", one.main.a, "C1"), Lead("c2", one.main.b, "C2"),
             Lead("reed", one.reed, "R"))  # fmt: skip
    words = " ".join(line_text(circuit, circuit.span(one.name)).split()[2:])
    return Device(one.name, Symbol.STABILISER, leads, (one.name, *part_lines(words, most=2)))


def _inside(kind: TransistorType) -> Inside:
    match kind.family:
        case Family.N_MOSFET:
            return Inside.N_DEPLETION if kind.depletion else Inside.N_CHANNEL
        case Family.P_MOSFET:
            return Inside.P_CHANNEL
        case Family.N_JFET:
            return Inside.N_JUNCTION
        case Family.P_JFET:
            return Inside.P_JUNCTION
        case Family.NPN:
            return Inside.NPN
        case Family.PNP:
            return Inside.PNP
        case (
            Family.FIXED | Family.NEGATIVE_FIXED | Family.ADJUSTABLE | Family.NEGATIVE_ADJUSTABLE
        ):  # fmt: skip
            raise ValueError(kind.name)  # a box: see _stabiliser
        case _:
            assert_never(kind.family)


def _tube(circuit: Circuit, tube: Tube) -> Iterator[Device]:
    for n, section in enumerate(tube.sections):
        yield _section(circuit, tube, section, first=n == 0)
    if tube.heater is not None and not tube.directly_heated:
        yield _heater(circuit, tube)


def _section(circuit: Circuit, tube: Tube, section: Section, *, first: bool) -> Device:
    leads = [
        Lead(e, net, _pins(tube, section.type.name, e)) for e, net in section.electrodes.items()
    ]
    if first:
        leads += _odd_pins(circuit, tube)
    return Device(
        section.name, _symbol_of_section(section.kind), tuple(leads), (section.name, tube.type.name)
    )


def _symbol_of_section(kind: SectionKind) -> Symbol:
    match kind:
        case SectionKind.TRIODE | SectionKind.PENTODE | SectionKind.CONVERTER | SectionKind.MIXER:
            return Symbol.TUBE
        case SectionKind.INDICATOR | SectionKind.THYRATRON | SectionKind.UNKNOWN:
            return Symbol.TUBE
        case SectionKind.BEAM:
            return Symbol.TUBE
        case SectionKind.RECTIFIER | SectionKind.DIODE:
            return Symbol.RECTIFIER
        case SectionKind.REGULATOR:
            return Symbol.REGULATOR
        case _:
            assert_never(kind)


_LETTERS = MappingProxyType({
    "plate": "P", "plate1": "P1", "plate2": "P2", "cathode": "K", "grid": "G", "grid2": "G2",
    "grid3": "G3", "grid4": "G4", "screen": "SG", "suppressor": "SU", "diode1": "D1",
    "diode2": "D2", "target": "TA", "shield": "SH",
})  # fmt: skip
"""Letters of base diagrams (common practice), for pins known by their electrode alone: a word
would shut in the lead it stands beside."""


def _pin_label(pin: str) -> str:
    name = pin.rpartition(".")[2]
    return _LETTERS.get(name, name)


def _pins(tube: Tube, section: str, electrode: str) -> str:
    own = tube.type.joined.get((section, electrode), (section, electrode))  # inside the tube
    pins = [p for p, at in tube.type.pins.items() if at == own]
    shared = [p for p, at in tube.type.pins.items() if at == ("", electrode)]
    return ",".join(_pin_label(pin) for pin in pins or shared)


def _odd_pins(circuit: Circuit, tube: Tube) -> Iterator[Lead]:
    """Shields and idle pins that the drawing wires, and a filament's tap."""
    keys = {pin_key(tube.name, tube.type, pin): pin for pin in reversed(list(tube.type.pins))}
    drawn = {f"{s.name}.{e}" for s in tube.sections for e in s.electrodes}
    heater = {f"{tube.name}.{e}" for e in ("h1", "h2")}
    if not tube.directly_heated:
        heater.add(f"{tube.name}.tap")
    for key, pin in reversed(keys.items()):
        net = circuit.points.get(key)
        if net is not None and key not in drawn | heater and _is_wired(circuit, net, key):
            yield Lead(key, net, _pin_label(pin))


def _is_wired(circuit: Circuit, net: str, key: str) -> bool:
    return len(circuit.names.get(net, ())) > 1 or bool(circuit.at(net)) or net != key


def _heater(circuit: Circuit, tube: Tube) -> Device:
    ends = [e for e in ("h1", "h2", "tap") if f"{tube.name}.{e}" in circuit.points]
    halves = tube.heater is not None and len(tube.heater.branches) == 2
    names = {e: circuit.points[f"{tube.name}.{e}"] for e in ends}
    if not halves and "tap" in names and not _is_wired(circuit, names["tap"], f"{tube.name}.tap"):
        del names["tap"]
    leads = tuple(Lead(e, net, _pins(tube, "", e)) for e, net in names.items())
    return Device(f"{tube.name} heater", Symbol.HEATER, leads, (tube.name,))


def transformer_device(name: str, windings: list[Device]) -> Device:
    """Windings of one transformer as one symbol, its primaries first."""
    leads = tuple(
        Lead(f"{w.name.rsplit('.', 1)[1]}.{lead.name}", lead.net, lead.label)
        for w in windings
        for lead in w.leads
    )
    coils = tuple(
        Coil((w.name.rsplit(".", 1)[1], *w.coils[0].label),
             tuple(f"{w.name.rsplit('.', 1)[1]}.{n}" for n in w.coils[0].leads),
             f"{w.name.rsplit('.', 1)[1]}.{w.coils[0].dot}",
             w.coils[0].left)
        for w in windings
    )  # fmt: skip
    return Device(name, Symbol.TRANSFORMER, leads, (name,), coils=coils)
