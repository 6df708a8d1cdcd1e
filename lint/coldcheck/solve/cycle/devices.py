"""The nonlinear parts of a circuit in a state: one-way ports, and tubes with control grids."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, assert_never

from coldcheck.circuit.kinds import Stamp
from coldcheck.circuit.lamps import STRIKES_V, glow
from coldcheck.circuit.model import Section
from coldcheck.circuit.thyristors import TRIAC
from coldcheck.circuit.tubes_types import CONTROL, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.diodes import Curve, Glow, Junction, Open, Thermionic, Threshold, Zener
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.cycle.triplets import DENSE_UP_TO, dense_matrix, sparse_matrix
from coldcheck.solve.transistors import eased, transistor_law
from coldcheck.solve.tubes.laws import law_for

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Transistor, Tube
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.setting import Setting
    from coldcheck.solve.tubes.laws import Law

_OWN_LAW = {
    **dict.fromkeys(("diode1", "diode2", "diode3"), "diode-perveance"),
    "target": "target-perveance",
    "grid2": "grid2-perveance",
}
"""Electrode beside the ones a section's law is of -> its parameter."""
_CATHODES = ("cathode", "f1", "f2")

LED_VOLTS, LED_OHM = 1.9, 2.0
FIRED_V, FIRED_OHM = 0.9, 0.1
"""A fired thyristor: 1 to 1.7 V at some amperes (sheets of small ones; common practice)."""
ZENER_OHM_PER_VOLT = 0.5
"""Slope of a zener, typical (common practice, from memory)."""


@dataclass(frozen=True, slots=True)
class Port:
    """A two-terminal nonlinear part; ``ends`` maps nets to weights (+ where current enters).

    ``electrode`` names the plate of a tube; ``owner`` is the branch or section.
    """

    owner: str
    electrode: str
    curve: Curve
    ends: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Valve:
    """A section or transistor with a law: ``ends`` per electrode, weights as in :class:`Port`."""

    section: Section | Transistor
    law: Law
    ends: tuple[Mapping[str, float], ...]

    @property
    def part(self) -> str:
        """What fails or is pulled as a whole: the tube, the transistor."""
        return self.section.tube if isinstance(self.section, Section) else self.section.name


def across(section: Section, electrode: str) -> dict[str, float]:
    """Electrode against the cathode; a filament counts as the mean of its two ends."""
    ends: dict[str, float] = {}
    cathodes = section.cathode_nets
    for net, weight in [(section.electrodes[electrode], 1.0)] + [
        (n, -1.0 / len(cathodes)) for n in cathodes
    ]:
        ends[net] = ends.get(net, 0.0) + weight
    return ends


def valves(circuit: Circuit, setting: Setting) -> tuple[Valve, ...]:
    """The sections with a grid that emit in this setting."""
    found = []
    for section in circuit.sections():
        if not setting.emits(circuit.tubes[section.tube]) or not section.kind.amplifies:
            continue
        law = law_for(section.type)
        if law is None:
            continue  # one of the ports, with what is assumed of it
        ends = tuple(across(section, e) for e in law.electrodes)
        found.append(Valve(section, law, ends))
    return (*found, *_transistors(circuit, setting.ease))


def _transistors(circuit: Circuit, ease: float) -> Iterator[Valve]:
    for transistor in circuit.transistors.values():
        law = transistor_law(transistor.type)
        if law is not None:
            paths = (transistor.channel, transistor.control)
            law = law if ease == 1 else eased(law, ease)
            yield Valve(transistor, law, tuple(map(_along, paths)))


def _along(path: Branch) -> dict[str, float]:
    """The ends of a path, the way its current flows: so a p-channel type has an n-channel's law."""
    if path.a == path.b:
        return {}
    return {path.a: 1.0, path.b: -1.0}


def ports(circuit: Circuit, setting: Setting) -> tuple[Port, ...]:
    """All one-way parts that may conduct in this setting."""
    found = [p for b in circuit.branches.values() if (p := semiconductor(b, setting.assumed))]
    found += [_neon(b, setting) for b in circuit.branches.values() if b.glows]
    gated = (b for b in circuit.branches.values() if b.traits.stamp is Stamp.GATED)
    found += [_thyristor(b, setting) for b in gated]
    found += [_body(q) for q in circuit.transistors.values() if q.type.family.insulated]
    for section in circuit.sections():
        tube = circuit.tubes[section.tube]
        if setting.emits(tube):
            found += _thermionic(section, setting)
    return tuple(found)


def one_way_ends(circuit: Circuit) -> list[Mapping[str, float]]:
    """Ends of everything that can block, in any state."""
    found: list[Mapping[str, float]] = [
        {b.a: 1.0, b.b: -1.0}
        for b in circuit.branches.values()
        if b.traits.blocks or b.traits.steered
    ]
    for section in circuit.sections():
        found += [across(section, e) for e in section.electrodes if _one_way(section, e)]
    return found


def _neon(branch: Branch, setting: Setting) -> Port:
    curve = Glow(*glow(branch)) if branch.name in setting.lit else Open()
    return Port(branch.name, "", curve, {branch.a: 1.0, branch.b: -1.0})


def _thyristor(branch: Branch, setting: Setting) -> Port:
    """Its main path: nothing while it is off, its drop once fired; a triac's either way. Its gate.

    A triac's gate is taken one way, as it is fired by most who draw one.
    """
    curve: Curve = Open()
    if branch.kind is PartKind.TRIGGER:
        curve = Threshold(plain(branch.value, "volt", 0.0), LED_OHM)
    elif not setting.state.thrown.isdisjoint(branch.thrown_by):
        both = branch.part is not None and TRIAC in branch.part.words
        curve = (Glow if both else Threshold)(FIRED_V, FIRED_OHM)
    return Port(branch.name, "", curve, {branch.a: 1.0, branch.b: -1.0})


def _body(transistor: Transistor) -> Port:
    """The diode between the source of a MOSFET and its drain."""
    channel = transistor.channel
    return Port(transistor.name, "", Junction(), {channel.b: 1.0, channel.a: -1.0})


def _one_way(section: Section, electrode: str) -> bool:
    """Whether an electrode takes current by itself, whatever a grid says."""
    if section.kind is SectionKind.UNKNOWN:
        return False
    if section.type.law is None:
        return electrode not in (*CONTROL, *_CATHODES)
    if electrode in section.plates:
        return not section.kind.amplifies
    return electrode in _OWN_LAW


def semiconductor(branch: Branch, assumed: Mapping[str, float]) -> Port | None:
    """The port of a diode, an LED or a zener; ``None`` for any other branch."""
    ends = {branch.a: 1.0, branch.b: -1.0}
    match branch.traits.stamp:
        case Stamp.JUNCTION:
            return Port(branch.name, "", Junction(), ends)
        case Stamp.THRESHOLD:
            volts = plain(branch.value, "volt", LED_VOLTS)
            return Port(branch.name, "", Threshold(volts, LED_OHM), ends)
        case Stamp.ZENER:
            volts = plain(branch.value, "volt", assumed.get(branch.name, 0.0))
            return Port(branch.name, "", Zener(volts, ZENER_OHM_PER_VOLT * volts), ends)
        case (
            Stamp.CONDUCTANCE | Stamp.CAPACITANCE | Stamp.INDUCTANCE | Stamp.VOLTAGE
            | Stamp.COUPLED | Stamp.OPEN | Stamp.GLOW | Stamp.GATED | Stamp.CHOPPED | Stamp.LAW
            | Stamp.UNSOLVED
        ):  # fmt: skip
            return None
        case _ as stamp:
            assert_never(stamp)


def _between_pins(section: Section, setting: Setting) -> Iterator[Port]:
    """What may flow between the pins of a tube of which only they are known: from each to all."""
    assumed = setting.assumed.get(section.name, 0.0)
    curve: Curve = Thermionic(assumed) if assumed else Open()
    pins = {e: n for e, n in section.electrodes.items() if e not in ("plate", *_CATHODES)}
    for one, a in pins.items():
        for other, b in pins.items():
            if a != b:
                yield Port(section.name, f"{one} to {other}", curve, {a: 1.0, b: -1.0})


def _thermionic(section: Section, setting: Setting) -> Iterator[Port]:
    if section.kind is SectionKind.UNKNOWN:
        yield from _between_pins(section, setting)
        return
    for electrode in section.electrodes:
        curve = _curve(section, electrode, setting)
        if curve is not None:
            yield Port(section.name, electrode, curve, across(section, electrode))


def _curve(section: Section, electrode: str, setting: Setting) -> Curve | None:
    """The one-way law of an electrode, or ``None`` where it has none of its own."""
    if not _one_way(section, electrode):
        return None
    if section.type.law is None:
        assumed = setting.assumed.get(section.name, 0.0)
        return Thermionic(assumed) if assumed else Open()
    if section.kind is SectionKind.REGULATOR:
        return None if section.name in setting.lit else Open()
    parameters = section.type.law.parameters
    own = "perveance" if electrode in section.plates else _OWN_LAW[electrode]
    return Thermionic(parameters[own]) if own in parameters else Open()


def gas_line(tube: Tube) -> tuple[float, float]:
    """A struck gas tube as a straight line: volts at no current, and slope in ohms.

    Its maintaining voltage holds in the middle of its current range; the slope is its regulation.
    """
    volts = rating(tube, "operating-voltage", 0.0)
    low, high = rating(tube, "minimum-current", 5e-3), rating(tube, "maximum-current", 30e-3)
    slope = rating(tube, "regulation", 0.0) / (high - low)
    return volts - slope * (low + high) / 2, slope


def strike_volts(tube: Tube) -> float:
    """What a gas tube needs across it to strike (the starting voltage, volts)."""
    return rating(tube, "starting-voltage", rating(tube, "operating-voltage", 0.0))


def neon_strikes(setting: Setting) -> float:
    """What a neon is taken to need to strike, volts: the most, or the least that it may be."""
    return STRIKES_V[0] if setting.early else STRIKES_V[1]


def rating(tube: Tube, name: str, default: float) -> float:
    """A rating as an SI float."""
    found = tube.type.rating(name)
    return default if found is None else found.value


def incidence(network: Network, ends: list[Mapping[str, float]]) -> Any:
    """Columns for a list of ends, shape (size, len(ends)); sparse for a large network."""
    rows = [network.nets.get(net) for column in ends for net in column]
    columns = [k for k, column in enumerate(ends) for _ in column]
    weights = [w for column in ends for w in column.values()]
    entries = [(r, c, w) for r, c, w in zip(rows, columns, weights, strict=True) if r is not None]
    shape = (network.size, len(ends))
    return (
        sparse_matrix(shape, entries)
        if network.size > DENSE_UP_TO
        else dense_matrix(shape, entries)
    )
