"""The circuit a drawing describes: nets joined by branches, tubes sitting across them.

A *net* is everything joined by plain wire; its name is the name the builder gave it (or the
first lead on it). A *branch* has two ends: a resistor, one half of a tapped winding, a heater.
Tubes are not branches: their electrodes hang on nets. The graph is a ``networkx.MultiGraph``
whose nodes are nets and whose edges carry the branch under ``branch``.
"""

from __future__ import annotations

from dataclasses import field, replace
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.kinds import GLOWING, TRAITS
from coldcheck.circuit.once import once
from coldcheck.circuit.usual import USUAL
from coldcheck.drawing.model import Span
from coldcheck.drawing.units import in_unit
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Hashable, Iterator, Mapping

    import networkx as nx

    from coldcheck.circuit.kinds import Traits
    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.circuit.tubes import SectionType, TubeType
    from coldcheck.circuit.tubes_types import SectionKind
    from coldcheck.circuit.usual import Usual
    from coldcheck.drawing.kinds import PartKind
    from coldcheck.drawing.model import Drawing, Mains, Part, Problem
    from coldcheck.drawing.units import Quantity

GROUND = "gnd"
LANDMARKS = ("gnd", "chassis", "earth", "line", "neutral")


@dataclass(frozen=True, slots=True)
class Rating:
    """What the contacts of a switch or jack may break; ``ac_only``: the voltage is for AC."""

    voltage: Quantity | None
    ac_only: bool
    current: Quantity | None


@dataclass(frozen=True, slots=True)
class Branch:
    """Anything with two ends.

    kind
        What ``coldcheck.circuit.kinds`` has the traits of.
    a, b
        Nets. A diode conducts from ``a`` to ``b``; a source is positive at ``a``; a winding has
        its polarity dot at ``a``, or towards ``a`` where it is part of a tapped one;
        ``plus`` is the net on the + side of a polarised capacitor, else ``None``.
    owner
        The declared part it belongs to: ``R1``, ``T1.ht`` for a winding half, ``P1``, ``V5``.
    value
        Ohm, farad, henry, volt (source, zener; rms emf at rated load for a winding half);
        ``None`` if unknown. ``resistance`` is the series resistance of inductors and windings.
    closed
        For switches, contacts and jack contacts: the operating state. A signal that is not closed
        passes no direct current.
    rating
        For switches, contacts and jacks, where the drawing gives one.
    throws
        What changes a contact of a switch with more than two positions
        (:mod:`coldcheck.circuit.throws`); of all others it is what they belong to.
    glows
        A neon lamp without figures, which is solved with those of the trade.
    of_a_fault
        No part of the drawing: what a fault puts there, named as a reader may see it.
    """

    name: str
    kind: PartKind
    a: str
    b: str
    owner: str
    span: Span
    value: Quantity | None = None
    resistance: Quantity | None = None
    plus: str | None = None
    closed: bool = True
    part: Part | None = None
    rating: Rating | None = None
    throws: tuple[str, ...] = ()
    glows: bool = False
    of_a_fault: bool = False

    @property
    def thrown_by(self) -> tuple[str, ...]:
        """What changes it, where it is a contact."""
        return self.throws or (self.owner,)

    def closed_with(self, thrown: frozenset[str]) -> bool:
        """Whether a contact is closed with these switches thrown or turned."""
        return self.closed is thrown.isdisjoint(self.thrown_by)

    @property
    def ohms(self) -> float | None:
        """Its value where that is a resistance."""
        return in_unit(self.value, "ohm")

    @property
    def farads(self) -> float | None:
        """Its value where that is a capacitance."""
        return in_unit(self.value, "farad")

    @property
    def henries(self) -> float | None:
        """Its value where that is an inductance."""
        return in_unit(self.value, "henry")

    @property
    def traits(self) -> Traits:
        """What a part of its kind does, electrically."""
        return GLOWING if self.glows else TRAITS[self.kind]

    def other(self, net: str) -> str:
        """The net at the far end from ``net``."""
        return self.b if net == self.a else self.a


@dataclass(frozen=True, slots=True)
class Winding:
    """One winding of a mains transformer; ``branches`` are its halves in order of the leads.

    ``current`` is the rating. ``volts`` is the whole winding, end to end, rms; ``None`` where they
    are not known, and ``taken`` where the drawing has ``?`` and the mains or the heaters on it say
    what they are. ``dot`` is the lead with the polarity dot, ``insulation`` what the winding stands
    against the core.
    """

    name: str
    primary: bool
    volts: Quantity | None
    current: Quantity | None
    resistance: Quantity | None
    leads: tuple[tuple[str, str], ...]
    branches: tuple[Branch, ...]
    span: Span
    dot: str = "1"
    insulation: Quantity | None = None
    taken: bool = False

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets of its leads, in order (1, ct, 2)."""
        return tuple(net for _, net in self.leads)

    @property
    def centred(self) -> bool:
        """Whether it has a centre tap."""
        return any(lead == "ct" for lead, _ in self.leads)

    @property
    def half(self) -> tuple[Branch, ...]:
        """The parts from lead 1 to the centre tap; of a winding without one, all."""
        ends = [lead for lead, _ in self.leads]
        return self.branches[: ends.index("ct")] if self.centred else self.branches


@dataclass(frozen=True, slots=True)
class Transformer:
    """A mains transformer. ``wired`` says that the drawing shows where its primary goes.

    ``taken`` counts the parts of the first primary up to the tap nearest to the mains voltage;
    ``None`` is all of it.
    """

    name: str
    windings: tuple[Winding, ...]
    wired: bool
    span: Span
    taken: int | None = None

    @property
    def fed(self) -> tuple[Branch, ...]:
        """The parts of the first primary that are made for the mains there is."""
        return self.primaries[0].branches[: self.taken] if self.primaries else ()

    @property
    def primaries(self) -> tuple[Winding, ...]:
        """The primary windings."""
        return tuple(w for w in self.windings if w.primary)

    @property
    def secondaries(self) -> tuple[Winding, ...]:
        """All windings that are not primaries."""
        return tuple(w for w in self.windings if not w.primary)


@dataclass(frozen=True, slots=True)
class Coil:
    """One winding of a signal transformer, or a coil: ``parts`` are (share of its turns, branch).

    ``turns`` compares it with the other windings of its set. ``henries`` is its inductance, which
    is ``assumed`` where the drawing does not say; ``unsized`` is one of unknown size, whose turns
    are none to compare. ``impedance`` what it is made for. ``current`` is
    the rated DC, ``dot`` the lead with the polarity dot.
    """

    name: str
    primary: bool
    turns: float
    henries: Quantity
    assumed: bool
    impedance: Quantity | None
    current: Quantity | None
    resistance: Quantity | None
    leads: tuple[tuple[str, str], ...]
    parts: tuple[tuple[float, Branch], ...]
    span: Span
    dot: str = "1"
    insulation: Quantity | None = None
    unsized: bool = False
    springs: bool = False

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets of its leads, in order."""
        return tuple(net for _, net in self.leads)


@dataclass(frozen=True, slots=True)
class CoilSet:
    """Coils that couple: an interstage or microphone transformer, an IF can, an oscillator coil.

    ``coupling`` is the coefficient between any two, ``None`` where the drawing does not say;
    ``iron``: it has a core of laminations, ``gapped`` or not.
    """

    name: str
    coils: tuple[Coil, ...]
    coupling: float | None
    gapped: bool | None
    iron: bool
    span: Span

    @property
    def springs(self) -> bool:
        """Whether they are those of a spring tank, coupled by nothing that is worked out."""
        return any(coil.springs for coil in self.coils)

    @property
    def sized(self) -> bool:
        """Whether the size of every coil is known."""
        return not any(coil.unsized for coil in self.coils)

    @property
    def branches(self) -> tuple[tuple[float, Branch], ...]:
        """(Turns, branch) of every part of every coil."""
        return tuple((c.turns * share, b) for c in self.coils for share, b in c.parts)


@dataclass(frozen=True, slots=True)
class OutputTransformer:
    """An output transformer: ``branches`` are (turns ratio to the whole primary, branch).

    They go from ``p1`` to ``p2``, then from ``s1`` to ``s2``; ``secondary`` is the impedance of the
    whole secondary, ``steps`` those of its taps. ``current`` is the rated DC of the primary;
    ``gapped`` whether the core has an air gap for it, ``None`` where the drawing does not say.
    """

    name: str
    primary: Quantity
    secondary: Quantity
    inductance: Quantity | None
    branches: tuple[tuple[float, Branch], ...]
    leads: tuple[tuple[str, str], ...]
    span: Span
    current: Quantity | None = None
    gapped: bool | None = None
    steps: tuple[Quantity, ...] = ()

    @property
    def primary_parts(self) -> tuple[tuple[float, Branch], ...]:
        """The parts of the primary, as in ``branches``."""
        return self.branches[: -len(self.steps) - 1]

    @property
    def secondary_parts(self) -> tuple[tuple[float, Branch], ...]:
        """The parts of the secondary, as in ``branches``."""
        return self.branches[-len(self.steps) - 1 :]

    @property
    def secondary_leads(self) -> tuple[tuple[str, str, float], ...]:
        """Lead, net and share of the secondary's turns, counted from ``s1``, of its leads."""
        ratios = [ratio for ratio, _ in self.secondary_parts]
        below = accumulate(ratios, initial=0.0)
        leads = self.leads[-len(self.steps) - 2 :]
        return tuple(
            (lead, net, turns / sum(ratios))
            for (lead, net), turns in zip(leads, below, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Relay:
    """A relay. ``volts`` is what its coil is made for, ``ac``: in AC; ``delay`` in seconds.

    ``released``: it is at rest while the set works, as the drawing says. Its contacts stand as
    they do then.
    """

    name: str
    coil: Branch
    contacts: tuple[Branch, ...]
    volts: Quantity
    ac: bool
    delay: float | None
    released: bool
    span: Span


@dataclass(frozen=True, slots=True)
class Coupler:
    """An optocoupler: what shines, and the photocell that it shines on."""

    name: str
    lamp: Branch
    cell: Branch


@dataclass(frozen=True, slots=True)
class Thyristor:
    """A thyristor or triac: its main path, and its gate. ``main.part`` has what it is rated."""

    name: str
    main: Branch
    gate: Branch


@dataclass(frozen=True, slots=True)
class Vibrator:
    """A vibrator: ``main`` is between its two contacts, its value the volts of its battery.

    ``reed`` is the net of what swings between them.
    """

    name: str
    main: Branch
    reed: str
    hertz: float


@dataclass(frozen=True, slots=True)
class Bridge:
    """Four diodes in one block; ``part`` is what is written on it (``drawing.model.BridgeLine``).

    ``diodes`` are the two into plus, then the two out of minus.
    """

    name: str
    part: Part
    diodes: tuple[Branch, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Transistor:
    """A transistor or three-terminal regulator.

    ``nets`` maps its leads to nets. ``channel`` goes from where the current enters to where it
    leaves (of an n-channel type from drain to source), ``control`` from what steers it to that.
    ``sink`` is the thermal resistance of its heat sink, ``None`` where the drawing says none.
    """

    name: str
    type: TransistorType
    nets: Mapping[str, str]
    channel: Branch
    control: Branch
    sink: Quantity | None
    span: Span


@dataclass(frozen=True, slots=True)
class Heater:
    """A tube's heater or filament as wired: its branches (two when the halves are in parallel).

    ``volts`` and ``amps`` are the rated figures of the way it is wired (``mode``).
    ``winding`` is the winding's full name (``T1.warm``) when declared with ``heater``.
    """

    tube: str
    mode: str
    volts: Quantity
    amps: Quantity
    branches: tuple[Branch, ...]
    winding: str | None

    @property
    def nets(self) -> tuple[str, ...]:
        """The nets its ends and its tap are on, without repetition."""
        return tuple(dict.fromkeys(n for b in self.branches for n in (b.a, b.b)))


@dataclass(frozen=True, slots=True)
class Section:
    """One system of a tube: ``name`` as the drawing writes it (``V1A``; ``V2`` if only one)."""

    name: str
    tube: str
    type: SectionType
    electrodes: Mapping[str, str]
    """Electrode -> net. A directly heated cathode is given as ``f1`` and ``f2`` instead."""
    middle: str | None = None
    """The net of the tap of a filament whose halves are wired."""

    @property
    def kind(self) -> SectionKind:
        """Triode, pentode, converter, rectifier, regulator and so on."""
        return self.type.kind

    def net(self, electrode: str) -> str | None:
        """The net of an electrode, or ``None`` where this section has no such electrode."""
        return self.electrodes.get(electrode)

    @property
    def cathode_nets(self) -> tuple[str, ...]:
        """The cathode's net, or the two filament ends of a directly heated tube.

        Of a filament whose halves are wired: the end of each half, so that the mean is right.
        """
        if "cathode" in self.electrodes:
            return (self.electrodes["cathode"],)
        first, last = self.electrodes["f1"], self.electrodes["f2"]
        return (first, last) if self.middle is None else (first, self.middle, self.middle, last)

    @property
    def plates(self) -> tuple[str, ...]:
        """The electrodes that are plates: plate, or plate1 and plate2 of a rectifier."""
        return tuple(e for e in ("plate", "plate1", "plate2") if e in self.electrodes)


@dataclass(frozen=True, slots=True)
class Tube:
    """A tube in its socket. ``heater`` is ``None`` where the drawing does not show it."""

    name: str
    type: TubeType
    sections: tuple[Section, ...]
    heater: Heater | None
    span: Span

    @property
    def directly_heated(self) -> bool:
        """Whether the filament is the cathode."""
        return self.type.cathode == "filament"


@dataclass(frozen=True, slots=True)
class Circuit:
    """All of it. ``points`` maps every name the drawing uses (and every lead) to its net."""

    drawing: Drawing
    graph: nx.MultiGraph[str]
    points: Mapping[str, str]
    names: Mapping[str, tuple[str, ...]]
    """Net -> the points on it, in the order the drawing wrote them."""
    branches: Mapping[str, Branch]
    tubes: Mapping[str, Tube]
    transformers: Mapping[str, Transformer]
    outputs: Mapping[str, OutputTransformer]
    mains: Mains | None
    places: Mapping[str, Span]
    """Name of a part, point or net -> where the drawing first mentions it."""
    problems: tuple[Problem, ...] = field(default=())
    usual: Usual = USUAL
    """How far off what states no tolerance is taken to be."""
    coil_sets: Mapping[str, CoilSet] = field(default_factory=dict)
    relays: Mapping[str, Relay] = field(default_factory=dict)
    bridges: Mapping[str, Bridge] = field(default_factory=dict)
    couplers: Mapping[str, Coupler] = field(default_factory=dict)
    thyristors: Mapping[str, Thyristor] = field(default_factory=dict)
    vibrators: Mapping[str, Vibrator] = field(default_factory=dict)
    plugs: Mapping[str, str] = field(default_factory=dict)
    """Name of a plug -> what a state is called in which it is turned, out or in."""
    transistors: Mapping[str, Transistor] = field(default_factory=dict)
    kept: dict[Hashable, Any] = field(default_factory=dict, init=False, repr=False, compare=False)
    """Answers about this circuit (:mod:`coldcheck.circuit.once`)."""

    @property
    def mains_tolerance(self) -> float:
        """Of the mains voltage, as a fraction: the drawing's, else the usual one."""
        stated = self.mains.tolerance if self.mains else None
        return self.usual.mains if stated is None else stated

    def net(self, point: str) -> str:
        """The net of a point or lead; raises KeyError for an unknown one."""
        return self.points[point]

    def sections(self) -> Iterator[Section]:
        """All tube sections, in drawing order."""
        for tube in self.tubes.values():
            yield from tube.sections

    def windings(self) -> Iterator[Winding]:
        """All mains-transformer windings."""
        for transformer in self.transformers.values():
            yield from transformer.windings

    def coils(self) -> Iterator[Coil]:
        """All windings of transformers for signals, and tapped coils."""
        for coil_set in self.coil_sets.values():
            yield from coil_set.coils

    def at(self, net: str) -> list[Branch]:
        """The branches that end on a net (a branch shorted on itself is listed once)."""
        return [*_beside(self).get(net, ())]

    def without(self, names: Collection[str]) -> Circuit:
        """The circuit less some parts or single branches, given by name.

        Leads, windings and heaters stay declared: for questions to the wiring, and to solve it
        where parts with two leads are gone.
        """
        gone = {n: b for n, b in self.branches.items() if n in names or b.owner in names}
        graph = self.graph.copy()
        graph.remove_edges_from([(b.a, b.b, n) for n, b in gone.items()])
        left = {n: b for n, b in self.branches.items() if n not in gone}
        return replace(self, graph=graph, branches=left)

    def electrodes_at(self, net: str) -> list[tuple[Section, str]]:
        """The (section, electrode) pairs on a net."""
        return [(s, e) for s in self.sections() for e, n in s.electrodes.items() if n == net]

    def span(self, name: str) -> Span:
        """Where a part, tube, point or lead stands in the drawing."""
        owner = name.split(".")[0]
        for key in (name, owner, owner.rstrip("ABC")):
            if key in self.places:
                return self.places[key]
        return next(iter(self.places.values()), Span(self.drawing.file, 1, 1, 1))


@once
def _beside(circuit: Circuit) -> dict[str, list[Branch]]:
    """Rules walk the circuit by this; the library's views of its graph cost ten times more."""
    return {
        net: [e["branch"] for edges in near.values() for e in edges.values()]
        for net, near in circuit.graph.adjacency()
    }
