"""Where to hold the ohmmeter before power, and which faults to look for there."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.neighbourhood import feeds_others
from coldcheck.bench.chart.points import named_points, shown_name
from coldcheck.bench.faults.listing import TOUCHING, apart
from coldcheck.bench.plan.cold import Place
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import DC_KINDS
from coldcheck.circuit.spread import spread
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import HEATER_VOLTS_MAX, plain
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault, NoSuchPart
from coldcheck.solve.warmup import small

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Winding

FILM_LEAK = 1e6
"""A coupling capacitor this leaky ruins the bias of what follows (common practice)."""

TOUCH = (*TOUCHING, ("plate1", "f1"), ("plate2", "f1"), ("grid", "f1"))
"""Electrodes that may touch, filaments included."""

PINS_NOTE = (
    "the ohmmeter across the two pins of the unplugged plug; fuse fitted, power switch closed"
)
EARTH_NOTE = (
    "short the leads first and take off what they read; a protective earth is to be 0.1 ohm or "
    "less, which takes a tester with a real current"
)


def metal_of(circuit: Circuit) -> str:
    """The point that stands for the metal: the chassis where it is drawn, else gnd."""
    return "chassis" if "chassis" in circuit.points else GROUND


def wiring_places(circuit: Circuit) -> Iterator[Place]:
    """All tubes out: the plug, the rails, windings, diodes, grids behind coupling capacitors."""
    yield from _plug(circuit)
    yield from _rails(circuit)
    yield from _windings(circuit)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE:
            yield _across(circuit, branch.b, branch.a)
        elif branch.owner in circuit.transistors and branch.a != branch.b:
            yield _across(circuit, branch.a, branch.b)
        elif branch.kind is PartKind.CAPACITOR and branch.plus is None:
            yield from (_to_ground(circuit, net) for net in (branch.a, branch.b) if net != GROUND)
    for section in circuit.sections():
        if "grid" in section.electrodes and section.electrodes["grid"] != GROUND:
            yield Place(f"{section.name}.grid", GROUND)


def _plug(circuit: Circuit) -> Iterator[Place]:
    metal = metal_of(circuit)
    pins = [p for p in ("line", "neutral") if p in circuit.points]
    if len(pins) == 2:
        yield Place("line", "neutral", kept=True, note=PINS_NOTE)
    for pin in pins:
        yield Place(pin, metal, kept=True)
    if "earth" in circuit.points and metal != "earth":
        yield Place("earth", metal, kept=True, wire=True, note=EARTH_NOTE)


def _rails(circuit: Circuit) -> Iterator[Place]:
    rails = set(rail_nets(circuit).values())
    for branch in _electrolytics(circuit):
        a, b = (branch.plus or branch.a), branch.other(branch.plus or branch.a)
        if GROUND not in (a, b):
            yield _across(circuit, a, b, kept=True)
        for net in (a, b):
            if net != GROUND:
                filters = net in rails and GROUND in (a, b)
                yield Place(shown_name(circuit, net), GROUND, kept=filters)


def _electrolytics(circuit: Circuit) -> list[Branch]:
    return [
        b
        for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and b.plus and b.a != b.b
    ]


def rail_nets(circuit: Circuit) -> dict[str, str]:
    """Named points that feed others and have a polarised capacitor on them, with their nets."""
    held = {n for b in _electrolytics(circuit) for n in (b.a, b.b)}
    electrodes = {
        n for s in circuit.sections() if s.kind is not SectionKind.RECTIFIER
        for e, n in s.electrodes.items() if e in ("cathode", "f1", "f2")
    }  # fmt: skip
    named = named_points(circuit).items()
    return {
        p: n for p, n in named if n in held and feeds_others(circuit, n) and n not in electrodes
    }


def _windings(circuit: Circuit) -> Iterator[Place]:
    for winding in circuit.windings():
        lead, low = f"{winding.name}.{winding.leads[0][0]}", plain(winding.volts, "volt", 0.0)
        if not winding.primary:
            heats = low <= HEATER_VOLTS_MAX
            note = "open: nothing holds this winding down" if heats else ""
            yield Place(lead, GROUND, kept=heats, wire=heats, note=note)
    for output in circuit.outputs.values():
        leads = [lead.removeprefix(f"{output.name}.") for lead, _ in output.leads]
        name = output.name
        if {"p1", "p2"} <= set(leads):
            yield Place(f"{name}.p1", f"{name}.p2", kept=True, note="the whole primary")
        yield from (Place(f"{name}.{lead}", metal_of(circuit)) for lead in leads)
    for coil in circuit.coils():
        ends = (f"{coil.name}.{coil.leads[0][0]}", f"{coil.name}.{coil.leads[-1][0]}")
        yield Place(*ends, note="the whole winding")
        yield Place(ends[0], metal_of(circuit))


def _across(circuit: Circuit, a: str, b: str, *, kept: bool = False) -> Place:
    return Place(shown_name(circuit, a), shown_name(circuit, b), kept=kept)


def _to_ground(circuit: Circuit, net: str) -> Place:
    return Place(shown_name(circuit, net), GROUND)


def known(circuit: Circuit, places: Iterator[Place]) -> list[Place]:
    """The places whose two points the circuit has."""
    return [p for p in places if p.point in circuit.points and p.other in circuit.points]


def wiring_faults(circuit: Circuit) -> list[Fault]:
    """Shorts that a bad part or a slip of wiring makes, and lost references of heaters."""
    found: dict[Fault, None] = {}
    for branch in circuit.branches.values():
        found.update(dict.fromkeys(_branch(branch)))
    for winding in circuit.windings():
        found.update(dict.fromkeys(_winding(circuit, winding)))
    for output in circuit.outputs.values():
        leads = [lead.removeprefix(f"{output.name}.") for lead, _ in output.leads]
        for lead in leads:
            if lead.startswith("p"):
                found[_bridge(f"{output.name}.{lead}", metal_of(circuit))] = None
        if {"p1", "s1"} <= set(leads):
            found[_bridge(f"{output.name}.p1", f"{output.name}.s1")] = None
    for coil_set in circuit.coil_sets.values():
        first, *others = [f"{c.name}.{c.leads[0][0]}" for c in coil_set.coils]
        found[_bridge(first, metal_of(circuit))] = None
        found.update({_bridge(first, other): None for other in others})
    return [x for x in found if x.kind != f.BRIDGE or apart(circuit, x)]


def _shorts(kind: PartKind) -> bool:
    """Whether a short of it is looked for before power is applied."""
    match kind:
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.ZENER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
            | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return True
        case (
            PartKind.RESISTOR | PartKind.INDUCTOR | PartKind.LED | PartKind.FUSE
            | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.PHOTOCELL
            | PartKind.LAMP | PartKind.SPEAKER
            | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING
            | PartKind.POT | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.RELAY | PartKind.METER
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _branch(branch: Branch) -> Iterator[Fault]:
    if branch.a == branch.b:
        return
    if _shorts(branch.kind):
        yield Fault(f.SHORT, branch.name)
    if branch.kind is PartKind.CAPACITOR and branch.plus is None:
        yield Fault(f.LEAK, branch.name, FILM_LEAK)


def _winding(circuit: Circuit, winding: Winding) -> Iterator[Fault]:
    lead = f"{winding.name}.{winding.leads[0][0]}"
    yield _bridge(lead, metal_of(circuit))
    if winding.primary:
        yield from (
            _bridge(lead, f"{w.name}.{w.leads[0][0]}") for w in circuit.windings() if not w.primary
        )
    elif plain(winding.volts, "volt", 0.0) <= HEATER_VOLTS_MAX:
        yield from (Fault(f.OPEN, b.name) for b in _references(circuit, winding))


def _references(circuit: Circuit, winding: Winding) -> Iterator[Branch]:
    """The resistors that hold a low winding: those on its leads, and one further on."""
    for net in winding.nets:
        if net != GROUND:
            yield from (b for b in circuit.at(net) if b.kind is PartKind.RESISTOR)


def _bridge(a: str, b: str) -> Fault:
    return Fault(f.BRIDGE, f"{a}~{b}")


def tube_places(circuit: Circuit) -> Iterator[Place]:
    """All tubes in: every electrode that may touch another, to gnd and between the two."""
    for section in circuit.sections():
        for name in section.electrodes:
            if section.electrodes[name] != GROUND:
                yield Place(f"{section.name}.{name}", GROUND)
        for a, b in TOUCH:
            if a in section.electrodes and b in section.electrodes:
                yield Place(f"{section.name}.{a}", f"{section.name}.{b}")
        try:
            heater, _ = f.heater_and_cathode(circuit, section.name)
        except NoSuchPart:
            continue
        yield Place(f"{section.name}.cathode", shown_name(circuit, heater))


def tube_faults(circuit: Circuit) -> list[Fault]:
    """Electrodes of a tube that touch, and heaters that touch their cathodes."""
    found: dict[Fault, None] = {}
    for section in circuit.sections():
        for a, b in TOUCH:
            if a in section.electrodes and b in section.electrodes:
                found[_bridge(f"{section.name}.{a}", f"{section.name}.{b}")] = None
        try:
            ends = f.heater_and_cathode(circuit, section.name)
        except NoSuchPart:
            continue
        tied = circuit.tubes[section.tube].type.cathode_heater is not None
        if ends[0] != ends[1] and not tied:
            found[Fault(f.HEATER_CATHODE, section.name)] = None
    return [x for x in found if x.kind != f.BRIDGE or apart(circuit, x)]


def output_tubes(circuit: Circuit) -> list[str]:
    """Tubes with a grid whose plate dissipation is an output tube's."""
    return [
        t.name
        for t in circuit.tubes.values()
        if not small(t) and any("grid" in s.electrodes for s in t.sections)
    ]


def joined_by(circuit: Circuit, net: str, without: str = GROUND) -> set[str]:
    """The nets that direct current reaches from a net without passing ``without``."""

    def leads(branch: Branch, here: str) -> bool:
        return branch.kind in DC_KINDS and branch.other(here) != without

    return set(spread(circuit, [net], leads))
