"""What the mains reaches by metal: through wires, fuses, switches and resistances, not windings."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.circuit.kinds import Passage
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import JackLine
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Branch, Circuit

SERIES_OHM = Threshold(
    "most resistance in the mains lead that is in series with the set", 1000.0, "ohm", PRACTICE
)
"""A resistor up to this in the mains lead is in series with the set, not its load."""

POLES = ("line", "neutral")

LAMP_SHARE = 0.7
"""A lamp for more than this of the mains burns on the mains, not on a winding."""


def mains_drawn(circuit: Circuit) -> bool:
    """Whether the drawing takes a wire to line or neutral."""
    return any(
        circuit.at(net) or circuit.electrodes_at(net) or len(circuit.names.get(net, ())) > 1
        for net in poles(circuit)
    )


def poles(circuit: Circuit) -> tuple[str, ...]:
    """The mains conductors the drawing uses, as nets."""
    return tuple(circuit.points[p] for p in POLES if p in circuit.points)


def mains_lamps(circuit: Circuit) -> list[Branch]:
    """The lamps that are made for the mains."""
    mains = 0.0 if circuit.mains is None else si(circuit.mains.voltage, "volt") or 0.0
    lamps = [b for b in circuit.branches.values() if b.kind is PartKind.LAMP and b.part is not None]
    rated = [(b, si(b.part.voltage, "volt") or 0.0) for b in lamps if b.part is not None]
    return [b for b, volts in rated if volts > LAMP_SHARE * mains > 0.0]


def primary_branches(circuit: Circuit) -> dict[str, Branch]:
    """Primary windings' branches by name."""
    return {b.name: b for w in circuit.windings() if w.primary for b in w.branches}


@once
def transformerless(circuit: Circuit) -> bool:
    """Whether the set itself hangs on the mains: gnd or a tube reached without a winding."""
    reached = touch_ohms(circuit, SERIES_OHM.value)
    tubes = (n for s in circuit.sections() for n in s.electrodes.values())
    heaters = (n for t in circuit.tubes.values() if t.heater for n in t.heater.nets)
    return any(n in reached for n in (GROUND, *tubes, *heaters))


def touch_ohms(circuit: Circuit, limit: float, opened: Iterable[str] = ()) -> dict[str, float]:
    """Net -> least ohms to line or neutral by metal, up to ``limit``; switches count as closed."""
    return _distances(circuit, poles(circuit), limit, opened)


def _distances(
    circuit: Circuit, starts: Iterable[str], limit: float, opened: Iterable[str]
) -> dict[str, float]:
    sources = set(starts)
    if not sources:
        return {}
    graph = _graph(circuit, sources, opened)
    found = nx.multi_source_dijkstra_path_length(graph, sources, cutoff=limit)
    return {net: float(ohms) for net, ohms in found.items()}


def _graph(circuit: Circuit, starts: Iterable[str], opened: Iterable[str]) -> nx.Graph[str]:
    """The metal that carries a touch current; an edge has its least ohms and that branch."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(starts)
    left_out = set(opened)
    for branch in circuit.branches.values():
        ohms = _metal(branch)
        if ohms is None or branch.name in left_out:
            continue
        old = graph.get_edge_data(branch.a, branch.b, {"weight": float("inf")})
        if ohms < old["weight"]:
            graph.add_edge(branch.a, branch.b, weight=ohms, branch=branch)
    return graph


def way_from_mains(circuit: Circuit, net: str) -> tuple[str, tuple[str, ...]]:
    """The nearest mains conductor to a net by metal, and the parts on the way, in order.

    Raises networkx.NetworkXNoPath where no metal leads there.
    """
    sources = set(poles(circuit))
    graph = _graph(circuit, sources, ())
    _, path = nx.multi_source_dijkstra(graph, sources, net)
    parts = (graph.edges[a, b]["branch"].owner for a, b in pairwise(path))
    first = next(p for p in POLES[::-1] if circuit.points.get(p) == path[0])
    return first, tuple(dict.fromkeys(parts))


def live_common(circuit: Circuit) -> bool:
    """Whether gnd is on the mains by metal."""
    return mains_drawn(circuit) and GROUND in touch_ohms(circuit, SERIES_OHM.value)


def pole_of(circuit: Circuit, net: str, limit: float) -> str:
    """``line`` or ``neutral``, whichever is nearer to a net by metal; neutral when equal."""
    near = {}
    for pole in POLES:
        start = circuit.points.get(pole)
        found = {} if start is None else _distances(circuit, [start], limit, ())
        near[pole] = found.get(net, float("inf"))
    return "line" if near["line"] < near["neutral"] else "neutral"


def _metal(branch: Branch) -> float | None:
    """Ohms for a touch current; diodes conduct, capacitors and mains windings do not."""
    kind = branch.kind
    if kind is PartKind.PLUG and not branch.closed:
        return None  # the way that is made when the plug is turned: a state of its own
    match kind:
        case (
            PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT | PartKind.LAMP | PartKind.DIODE
            | PartKind.INDUCTOR | PartKind.JACK_CONTACT | PartKind.PLUG | PartKind.WINDING
            | PartKind.CHANNEL | PartKind.BASE | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR
        ):  # fmt: skip
            return 0.0
        case (
            PartKind.RESISTOR | PartKind.POT | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.PHOTOCELL | PartKind.SPEAKER
            | PartKind.HEATER | PartKind.RELAY | PartKind.METER
        ):  # fmt: skip
            return branch.ohms or 0.0
        case (
            PartKind.CAPACITOR | PartKind.ZENER | PartKind.LED | PartKind.JACK | PartKind.SOURCE
            | PartKind.SIGNAL
            | PartKind.ARRESTER | PartKind.CRYSTAL | PartKind.GATE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def opens_in_time(branch: Branch) -> bool:
    """Whether it is there to open when too much flows: a fuse, or a resistor that is fusible."""
    fusible = branch.part is not None and "fusible" in branch.part.words
    return branch.kind is PartKind.FUSE or (branch.kind is PartKind.RESISTOR and fusible)


def upstream(circuit: Circuit, pole: str, *, through_fuses: bool) -> frozenset[str]:
    """The nets between a mains conductor and the set: through switches, and fuses if asked.

    ``pole`` is a net of :func:`poles`; the walk does not go on through the other conductor.
    """
    graph: nx.Graph[str] = nx.Graph()
    for branch in circuit.branches.values():
        if through_fuses if opens_in_time(branch) else _in_lead(branch):
            graph.add_edge(branch.a, branch.b)
    graph.remove_nodes_from([p for p in poles(circuit) if p != pole and p in graph])
    graph.add_node(pole)
    return frozenset(nx.node_connected_component(graph, pole))


def _in_lead(branch: Branch) -> bool:
    kind = branch.kind
    match kind:
        case PartKind.PLUG:
            return branch.closed
        case (
            PartKind.SWITCH
            | PartKind.CONTACT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.INDUCTOR
            | PartKind.THYRISTOR
        ):
            return True
        case PartKind.RESISTOR | PartKind.METER:
            ohms = branch.ohms
            return ohms is not None and ohms <= SERIES_OHM.value
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.FUSE | PartKind.PHOTOCELL | PartKind.LAMP | PartKind.SPEAKER | PartKind.JACK
            | PartKind.ARRESTER | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING | PartKind.POT
            | PartKind.JACK_CONTACT | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _loads(branch: Branch) -> bool:
    return branch.traits.passage is Passage.RECTIFIES or branch.kind is PartKind.HEATER


@once
def mains_leads(circuit: Circuit) -> dict[str, frozenset[str]]:
    """Mains conductor -> the nets of its lead, as far as the set.

    Where the set's common is itself a mains conductor, gnd is that lead: the walk goes no further,
    since everything in the set hangs on it.
    """
    found = {}
    for pole in POLES:
        net = circuit.points.get(pole)
        if net == GROUND:
            found[pole] = frozenset((GROUND,))
        elif net is not None:
            found[pole] = upstream(circuit, net, through_fuses=True)
    return found


def service(circuit: Circuit) -> tuple[float, float]:
    """Volts rms and hertz of the mains; 120 V, 60 Hz where the drawing does not say."""
    if circuit.mains is None:
        return 120.0, 60.0
    mains = circuit.mains
    return si(mains.voltage, "volt") or 120.0, si(mains.frequency, "hertz") or 60.0


def loads_at(circuit: Circuit, nets: frozenset[str]) -> tuple[str, ...]:
    """What draws the set's power from these nets: primaries, rectifiers, heaters."""
    found: list[str] = []
    loading = primary_branches(circuit)
    for net in nets:
        found += [b.owner for b in circuit.at(net) if b.name in loading or _loads(b)]
        found += [s.tube for s, e in circuit.electrodes_at(net) if e.startswith("plate")]
    return tuple(dict.fromkeys(found))


def jacks(circuit: Circuit) -> dict[str, tuple[str, ...]]:
    """Jack -> the nets of its leads (declared ones and those drawn on a wire)."""
    declared = {s.name for s in circuit.drawing.statements if isinstance(s, JackLine)}
    found = {
        name: tuple(
            circuit.points[f"{name}.{lead}"]
            for lead in ("tip", "sleeve", "ring")
            if f"{name}.{lead}" in circuit.points
        )
        for name in declared
    }
    for branch in circuit.branches.values():
        if branch.kind is PartKind.JACK:
            found[branch.name] = (branch.a, branch.b)
    return dict(sorted(found.items()))
