"""The single faults a diagnosis considers, in the trade's words, with how common each is.

A suspect is one kind of fault of one part; where it has a size (a drifted resistor, a leak) it
has several cases from the mildest to the grossest. ``weight`` is how often such a part fails in
such a way relative to the others (common practice, no source: electrolytics and tubes first, then
coupling capacitors and resistors gone high; iron and short-circuited resistors are rare).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, assert_never

from coldcheck.bench.diagnosis.rewired import Rewound, exchanged, lead_off
from coldcheck.bench.faults.listing import TOUCHING
from coldcheck.circuit.kinds import Contact
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault, NoSuchPart
from coldcheck.solve.warmup import small

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.diagnosis.rewired import Rewiring, Wiring
    from coldcheck.circuit.model import Branch, Circuit, Section, Transistor, Tube, Winding
    from coldcheck.circuit.transistors import Family

LOW_SHARES = (0.01, 0.03, 0.1, 0.2, 0.4, 0.7)
HIGH_SHARES = (1.35, 2.0, 4.0, 10.0, 30.0, 100.0)
NEARLY_OPEN = (300.0, 3e3, 3e4)
"""Times its value that a burnt resistor is left with, before it is open for good."""

OPEN_SIZE = 1e6
"""The size that stands for open for good."""

FILM_LEAKS = (1e4, 1e5, 4e5, 1.5e6, 5e6, 2e7, 1e8, 4e8)
ELECTROLYTIC_LEAKS = (15.0, 1e2, 1e3, 5e3, 2e4, 1e5, 4e5)
DRIED = (0.03, 0.1, 0.25, 0.5)
"""Shares of an electrolytic's capacity that are left."""

NO_CAPACITY = 1e-3
"""The size that stands for a capacitor that is open."""

WEAK_SHARES = (0.03, 0.1, 0.25, 0.45, 0.65)
GAS_SMALL = (0.3e-6, 1e-6, 4e-6, 12e-6, 40e-6)
GAS_OUTPUT = (2e-6, 8e-6, 25e-6, 80e-6, 250e-6)
TOUCH_OHM = 1.0
BETWEEN_PINS = (TOUCH_OHM, 1e4, 1e5, 4e5, 1.5e6, 5e6, 1.5e7, 6e7)
"""Ohms between two electrodes: they touch; a carbon track, dirt across a socket."""

TO_METAL = (1e4, 5e4, 2e5, 1e6, 1e7)
LEAKS_TO_GND = ("plate", "screen", "grid")
TO_CATHODE = (10.0, 1e3, 1e4, 1e5, 1e6)
CONTACT_OHMS = (3.0, 10.0, 30.0, 55.0, 90.0, 150.0, 300.0, 3e3)
TURNS = (0.6, 0.75, 0.88, 0.95)
"""Shares of a winding's voltage that shorted or missing turns leave."""

SILICON = "silicon"
"""The kind of what fails within a transistor or regulator."""

TWO = "two"
"""The kind of two faults at once."""

SWAP_RATIO, SWAPS_MOST = 1.5, 24
EXCHANGED = (*combinations(("plate", "screen", "grid", "cathode"), 2),)
APART = (("plate", "grid"), ("plate", "cathode"))
"""Electrodes too far apart to touch, between which dirt and burnt sockets conduct."""

LEAKING = (*TOUCHING, *APART)
"""Electrodes between which a tube or its socket conducts."""


@dataclass(frozen=True, slots=True)
class Case:
    """A size of a suspect and the faults that make it up; ``size`` is 0 where it has none.

    ``wiring`` is how leads go where that is the fault, or part of it.
    """

    size: float
    faults: tuple[Fault, ...]
    wiring: Wiring | None = None


@dataclass(frozen=True, slots=True)
class Suspect:
    """One kind of fault of one part.

    key
        Stable name: ``R4 high``.
    kind
        ``good outside open capacity short low high leak weak dead gassy heater-cathode touch
        contact resistance turns insulation wiper swap backwards lead exchanged silicon``;
        ``two`` of them at once.
    parts
        What to look at with the power off.
    words
        What is said of it; ``{}`` is where its size goes.
    extreme
        A size at its end, and what is said of it there.
    """

    key: str
    kind: str
    parts: tuple[str, ...]
    words: str
    weight: float
    cases: tuple[Case, ...]
    extreme: tuple[float, str] | None = None

    @property
    def sized(self) -> bool:
        """Whether it has a size to be found out."""
        return len(self.cases) > 1

    def said(self, size: float) -> str:
        """In words, with its size."""
        if self.extreme is not None and size == self.extreme[0]:
            return self.extreme[1]
        return self.words.format(_size(self.kind, size)) if self.sized else self.words


GOOD = Suspect("good", "good", (), "nothing wrong", 1.0, (Case(0.0, ()),))
"""That nothing is wrong; how likely that is beforehand is said in ``diagnosis``."""


def _size(kind: str, size: float) -> str:
    if kind in ("leak", "touch", "heater-cathode", "resistance", "insulation"):
        return engineering(float(f"{size:.2g}"), "ohm")
    if kind in ("weak", "capacity", "turns"):
        return f"{100 * size:.0f} %"
    return f"{1e6 * size:.2g} uA" if kind == "gassy" else f"{size:.2g}"


def suspects_of(circuit: Circuit) -> tuple[Suspect, ...]:
    """Every suspect of a circuit, ``GOOD`` first, then in the order of its parts."""
    found: dict[str, Suspect] = {GOOD.key: GOOD}
    for branch in circuit.branches.values():
        found.update((s.key, s) for s in _branch(circuit, branch))
    for tube in circuit.tubes.values():
        found.update((s.key, s) for s in _tube(circuit, tube))
    for transistor in circuit.transistors.values():
        found.update((s.key, s) for s in _transistor(transistor))
    found.update((s.key, s) for s in _swaps(circuit))
    found.update((s.key, s) for s in _wirings(circuit))
    return tuple(found.values())


def _plain(kind: str, part: str, words: str, weight: float, *faults: Fault) -> Suspect:
    return Suspect(f"{part} {kind}", kind, (part,), words, weight, (Case(0.0, faults),))


def _sized(
    kind: str, part: str, words: str, weight: float, fault: str, sizes: tuple[float, ...]
) -> Suspect:
    cases = tuple(Case(x, (Fault(fault, part, x),)) for x in sizes)
    return Suspect(f"{part} {kind}", kind, (part,), words, weight, cases)


def _branch(circuit: Circuit, branch: Branch) -> Iterator[Suspect]:
    kind, name, owner = branch.kind, branch.name, branch.owner
    if branch.traits.contact is not Contact.NONE:
        if owner not in circuit.tubes:
            for throw in branch.thrown_by:
                where = "stands the other way" if throw == owner else f"stands as {throw}"
                fault = Fault(f.THROWN, throw)
                words = f"{owner}: its contact {where}"
                key, case = f"{throw} contact", Case(0.0, (fault,))
                yield Suspect(key, "contact", (owner,), words, 1.0, (case,))
            yield from _burnt(branch, "its contact")
        return
    if branch.a == branch.b:
        return
    if kind is PartKind.RESISTOR:
        yield from _resistor(name)
    elif kind is PartKind.CAPACITOR:
        yield from _capacitor(name, polarised=branch.plus is not None)
    elif kind is PartKind.HEATER and owner in circuit.tubes:
        yield from _heater(circuit, branch)
    else:
        yield from _broken(circuit, branch)
    if kind is PartKind.POT:
        yield from _wiper(circuit, owner)
    if kind is PartKind.FUSE:
        yield from _burnt(branch, "its holder or its wire")


def _broken(circuit: Circuit, branch: Branch) -> Iterator[Suspect]:
    """Open, and shorted where that is seen: how often each is, against a resistor's faults."""
    name, (opens, shorts) = branch.name, _odds(branch.kind)
    if opens:
        yield _plain("open", name, _opened(branch.kind, name), opens, Fault(f.OPEN, name))
        shorts = 0.2 if _of_output(circuit, branch) else shorts
    if shorts:
        yield _plain("short", name, f"{name} shorted", shorts, Fault(f.SHORT, name))


def _odds(kind: PartKind) -> tuple[float, float]:
    """How likely a part of a kind is open, and shorted; 0 for what is not looked at so."""
    match kind:
        case PartKind.INDUCTOR:
            return 0.4, 0.2
        case PartKind.DIODE:
            return 1.0, 1.5
        case PartKind.ZENER:
            return 1.0, 1.0
        case PartKind.LED:
            return 1.0, 0.3
        case PartKind.FUSE:
            return 3.0, 0.0
        case PartKind.LAMP:
            return 1.0, 0.0
        case (
            PartKind.WINDING
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.POT
        ):
            return 0.5, 0.0
        case PartKind.RELAY | PartKind.METER:
            return 0.5, 0.0
        case (
            PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
        ):  # fmt: skip
            return 0.0, 1.0
        case PartKind.SPEAKER:
            return 0.3, 0.0
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.HEATER | PartKind.SWITCH
            | PartKind.CONTACT | PartKind.JACK | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SOURCE
            | PartKind.SIGNAL | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return 0.0, 0.0
        case _:
            assert_never(kind)


def _opened(kind: PartKind, name: str) -> str:
    if kind is PartKind.FUSE:
        return f"{name} blown, or not in its holder"
    return f"{name} open: a broken winding" if kind is PartKind.WINDING else f"{name} open"


def _of_output(circuit: Circuit, branch: Branch) -> bool:
    """A winding of a mains transformer that shorts blows the fuse: nothing is left to measure."""
    owner = branch.owner.split(".")[0]
    signals = owner in circuit.outputs or owner in circuit.coil_sets
    return branch.kind is PartKind.WINDING and signals


def _burnt(branch: Branch, where: str) -> Iterator[Suspect]:
    """Some ohms where there should be none."""
    if branch.a != branch.b:
        words = f"{branch.name}: {{}} in {where}"
        yield _sized("resistance", branch.name, words, 0.7, f.SERIES, CONTACT_OHMS)


def _resistor(name: str) -> Iterator[Suspect]:
    cases = [Case(x, (Fault(f.DRIFT, name, x),)) for x in NEARLY_OPEN]
    cases.append(Case(OPEN_SIZE, (Fault(f.OPEN, name),)))
    words, extreme = f"{name} as good as open: {{}} times its value", (OPEN_SIZE, f"{name} open")
    yield Suspect(f"{name} open", "open", (name,), words, 1.5, tuple(cases), extreme)
    yield _plain("short", name, f"{name} shorted", 0.1, Fault(f.SHORT, name))
    high, low = f"{name} gone high: {{}} times its value", f"{name} too low: {{}} of its value"
    yield _sized("high", name, high, 2.5, f.DRIFT, HIGH_SHARES)
    yield _sized("low", name, low, 1.0, f.DRIFT, LOW_SHARES)


def _capacitor(name: str, *, polarised: bool) -> Iterator[Suspect]:
    yield _dried(name) if polarised else _open_film(name)
    yield _plain("short", name, f"{name} shorted", 1.0 if polarised else 0.5, Fault(f.SHORT, name))
    sizes = ELECTROLYTIC_LEAKS if polarised else FILM_LEAKS
    words = f"{name} leaking, about {{}} across it"
    yield _sized("leak", name, words, 2.0, f.LEAK, sizes)


def _open_film(name: str) -> Suspect:
    case = Case(0.0, (Fault(f.OPEN, name),))
    return Suspect(f"{name} open", "capacity", (name,), f"{name} open", 0.5, (case,))


def _dried(name: str) -> Suspect:
    """An electrolytic that has lost its capacity, all of it or some."""
    cases = [Case(NO_CAPACITY, (Fault(f.OPEN, name),))]
    cases += [Case(x, (Fault(f.DRIFT, name, x),)) for x in DRIED]
    words = f"{name} dried out: about {{}} of its capacity left"
    extreme = NO_CAPACITY, f"{name} open, dried out or not connected"
    return Suspect(f"{name} open", "capacity", (name,), words, 3.0, tuple(cases), extreme)


def _heater(circuit: Circuit, branch: Branch) -> Iterator[Suspect]:
    """A heater in a string takes the others with it; one by itself is its tube's ``dead``."""
    heater = circuit.tubes[branch.owner].heater
    if heater is not None and heater.winding is None:
        words = f"the heater of {branch.owner} open"
        yield _plain("open", branch.name, words, 2.0, Fault(f.OPEN, branch.name))


def _wiper(circuit: Circuit, pot: str) -> Iterator[Suspect]:
    try:
        f.pot_ends(circuit, pot)
    except NoSuchPart:
        return
    yield _plain("wiper", pot, f"the wiper of {pot} open", 1.0, Fault(f.WIPER, pot))


def _tube(circuit: Circuit, tube: Tube) -> Iterator[Suspect]:
    name = tube.name
    dead = f"{name} dead: no emission, an open heater, or out of its socket"
    yield _plain("dead", name, dead, 3.0, Fault(f.DEAD, name))
    if tube.type.cathode != "cold":
        yield _sized("weak", name, f"{name} weak: {{}} of its emission", 4.0, f.WEAK, WEAK_SHARES)
    for section in tube.sections:
        yield from _section(circuit, tube, section.name)


def _section(circuit: Circuit, tube: Tube, name: str) -> Iterator[Suspect]:
    electrodes = next(s for s in tube.sections if s.name == name).electrodes
    if "grid" in electrodes:
        sizes = GAS_SMALL if small(tube) else GAS_OUTPUT
        words = f"{name} gassy: {{}} out of its grid"
        yield _sized("gassy", name, words, 2.0, f.GASSY, sizes)
    try:
        heater, cathode = f.heater_and_cathode(circuit, name)
    except NoSuchPart:
        heater = cathode = ""
    if heater != cathode:
        words = f"about {{}} between the heater and the cathode of {name}"
        said = f"the heater of {name} touches its cathode"
        found = _sized("heater-cathode", name, words, 0.7, f.HEATER_CATHODE, TO_CATHODE)
        yield replace(found, extreme=(TO_CATHODE[0], said))
    for electrode in (e for e in LEAKS_TO_GND if e in electrodes):
        net = electrodes[electrode]
        if net not in (GROUND, electrodes.get("cathode")):
            yield _chafed(name, electrode)
    for a, b in LEAKING:
        if a in electrodes and b in electrodes and electrodes[a] != electrodes[b]:
            yield _touch(name, a, b)


def _chafed(name: str, electrode: str) -> Suspect:
    """The wire of an electrode leaks to the metal."""
    point = f"{name}.{electrode}"
    cases = tuple(Case(x, (Fault(f.BRIDGE, f"{point}~{GROUND}", x),)) for x in TO_METAL)
    words = f"about {{}} from the wire of {point} to gnd: chafed, or dirt at its socket"
    return Suspect(f"{name} insulation {electrode}", "insulation", (name,), words, 0.3, cases)


def _touch(name: str, a: str, b: str) -> Suspect:
    """Two electrodes that touch, or that a track joins by some ohms."""
    at, sizes = f"{name}.{a}~{name}.{b}", BETWEEN_PINS[(a, b) in APART :]
    cases = tuple(Case(x, (Fault(f.BRIDGE, at, x),)) for x in sizes)
    words = f"about {{}} between {a} and {b} of {name}: a track across its socket, or in the tube"
    extreme = TOUCH_OHM, f"{a} and {b} of {name} touch"
    return Suspect(f"{name} touch {a} {b}", "touch", (name,), words, 0.4, cases, extreme)


def _transistor(transistor: Transistor) -> Iterator[Suspect]:
    """Paths open and shorted, a lead off that shows otherwise, two leads in each other's place."""
    name, family, nets = transistor.name, transistor.type.family, transistor.nets
    channel, control = transistor.channel, transistor.control
    apart = len(set(nets.values())) == len(nets)
    yield _silicon(name, channel.name, "open", 0.7, Fault(f.OPEN, channel.name))
    for path, weight in ((channel, 1.5), (control, 1.0)):
        if path.a != path.b:
            yield _silicon(name, path.name, "shorted", weight, Fault(f.SHORT, path.name))
    if not family.regulates and apart:
        yield from _shorted_through(transistor)
    lead = _telling_lead(family)
    if lead and list(nets.values()).count(nets[lead]) == 1:
        change = lead_off(name, f"{name}.{lead}", nets[lead])
        case, words = Case(0.0, (), change), f"{name}.{lead} open"
        yield Suspect(f"{name}.{lead} lead", SILICON, (name,), words, 0.5, (case,))
    for a, b in combinations(family.leads, 2) if apart else ():
        words = f"the leads {a} and {b} of {name} in each other's place"
        case = Case(0.0, (), exchanged(name, nets[a], nets[b]))
        yield Suspect(f"{name} {a} {b} exchanged", "exchanged", (name,), words, 0.2, (case,))


def _silicon(owner: str, path: str, what: str, weight: float, *faults: Fault) -> Suspect:
    key, words = f"{path} {what.removesuffix('ed')}", f"{path} {what}"
    return Suspect(key, SILICON, (owner,), words, weight, (Case(0.0, faults),))


def _shorted_through(transistor: Transistor) -> Iterator[Suspect]:
    """From where the current goes in to what steers it, and between all three leads."""
    name, (main, _, control) = transistor.name, transistor.type.family.leads
    through = Fault(f.BRIDGE, f"{name}.{main}~{name}.{control}")
    yield _silicon(name, f"{name}.{main}-{control}", "shorted", 0.7, through)
    paths = (transistor.channel.name, transistor.control.name)
    faults = tuple(Fault(f.SHORT, path) for path in paths)
    words = f"{name} shorted between all its leads"
    yield Suspect(f"{name} short", SILICON, (name,), words, 1.0, (Case(0.0, faults),))


def _telling_lead(family: Family) -> str:
    """The lead that shows something else when it is off than the path of the current open does.

    Without its collector a bipolar one still has the diode of its base; without its third lead a
    regulator lets through what it can.
    """
    main, _, control = family.leads
    if family.regulates:
        return control
    return "" if family.insulated else main


def _swaps(circuit: Circuit) -> Iterator[Suspect]:
    """Two resistors of one stage in each other's place, if their values differ enough to matter."""
    found = 0
    resistors = [b for b in circuit.branches.values() if b.kind is PartKind.RESISTOR and b.a != b.b]
    for k, one in enumerate(resistors):
        for other in resistors[k + 1 :]:
            ratio = plain(other.value, "ohm", 0.0) / max(plain(one.value, "ohm", 0.0), 1e-9)
            near = _stage(circuit, one) & _stage(circuit, other)
            if ratio <= 0 or 1 / SWAP_RATIO < ratio < SWAP_RATIO or not near:
                continue
            pair = (Fault(f.DRIFT, one.name, ratio), Fault(f.DRIFT, other.name, 1 / ratio))
            names, key = (one.name, other.name), f"{one.name} {other.name} swap"
            words = f"{one.name} and {other.name} in each other's place"
            yield Suspect(key, "swap", names, words, 0.2, (Case(0.0, pair),))
            found += 1
            if found >= SWAPS_MOST:
                return


def _stage(circuit: Circuit, branch: Branch) -> set[str]:
    """The tube sections whose electrodes a resistor is on."""
    return {
        section.name
        for net in (branch.a, branch.b)
        for section, _ in (circuit.electrodes_at(net) if net != "gnd" else ())
    }


def _wirings(circuit: Circuit) -> Iterator[Suspect]:
    """Leads off or in each other's place; each is its own circuit to be solved."""
    for branch in circuit.branches.values():
        single = branch.part is not None
        if single and branch.kind is PartKind.DIODE and branch.a != branch.b:
            words = f"{branch.name} in backwards"
            change = exchanged(branch.name, branch.a, branch.b)
            yield _rewired(branch.name, "backwards", words, 0.4, change)
    for winding in circuit.windings():
        yield from _taps(winding.name, dict(winding.leads))
    for output in circuit.outputs.values():
        yield from _taps(output.name, dict(output.leads))
    for coil in circuit.coils():
        yield from _taps(coil.name, dict(coil.leads))
    for section in circuit.sections():
        yield from _electrodes(section)
    for transformer in circuit.transformers.values():
        for winding in transformer.secondaries:
            yield from _turns(winding)


def _turns(winding: Winding) -> Iterator[Suspect]:
    """Fewer turns than there should be, in each part of a winding."""
    for branch in winding.branches:
        if branch.value is None or branch.a == branch.b:
            continue
        name = branch.name
        cases = tuple(Case(x, (), Rewound(name, x)) for x in TURNS)
        words = f"{name} gives {{}} of its voltage: shorted turns, or the wrong tap"
        yield Suspect(f"{name} turns", "turns", (name,), words, 0.3, cases)


def _rewired(part: str, kind: str, words: str, weight: float, change: Rewiring) -> Suspect:
    return Suspect(f"{part} {kind}", kind, (part,), words, weight, (Case(0.0, (), change),))


def _taps(owner: str, leads: dict[str, str]) -> Iterator[Suspect]:
    """The centre tap off what it is joined to: the winding's reference, or a pair's supply.

    Where that is a single part, it is the same as that part open, and told with it.
    """
    tap = leads.get("ct")
    if tap is None or list(leads.values()).count(tap) > 1:
        return
    name = f"{owner}.ct"
    words = f"{name} off: the wire to the centre tap broken or never soldered"
    yield _rewired(name, "lead", words, 0.5, lead_off(owner, name, tap))
    end = next(iter(leads))
    words = f"the leads {owner}.{end} and {name} in each other's place"
    yield _rewired(name, "exchanged", words, 0.2, exchanged(owner, leads[end], tap))


def _electrodes(section: Section) -> Iterator[Suspect]:
    """Wires of a socket in each other's place, where each goes to a net of its own."""
    shared = Counter(section.electrodes.values())
    for a, b in EXCHANGED:
        nets = [section.electrodes[e] for e in (a, b) if e in section.electrodes]
        if [shared[net] for net in nets] != [1, 1]:
            continue
        words = f"the wires to {a} and {b} of {section.name} in each other's place"
        case = Case(0.0, (), exchanged(section.name, *nets))
        key = f"{section.name} {a} {b} exchanged"
        yield Suspect(key, "exchanged", (section.name,), words, 0.2, (case,))
