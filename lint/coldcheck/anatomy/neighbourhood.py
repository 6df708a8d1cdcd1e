"""What is beside what: the sections in use, the names of nets, and ways through plain metal."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.circuit.kinds import TRAITS
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.paths import resistance
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.solve.solution import Solution, TubeReading

AMPLIFYING = frozenset(kind for kind in SectionKind if kind.amplifies)

CHOKE_OHMS = 100.0
"""Taken for a choke whose resistance is not written (only to rank paths)."""

METAL = frozenset(kind for kind, t in TRAITS.items() if t.series)
"""Kinds that stand in a line of wiring; a lamp does too where a path is looked for."""


def net_text(circuit: Circuit, net: str) -> str:
    """A net by the first name the drawing gives it."""
    return (circuit.names.get(net) or (net,))[0]


def is_own(name: str) -> bool:
    """Whether a name is one of the builder's own, not a lead or a pin."""
    return "." not in name and ":" not in name


def own_text(circuit: Circuit, net: str) -> str:
    """A net by the name the builder gave it, where there is one."""
    return next((n for n in circuit.names.get(net, ()) if is_own(n)), net_text(circuit, net))


def wired(circuit: Circuit, net: str | None) -> bool:
    """Whether the drawing joins anything to a lead's net (an undrawn lead is alone on its own)."""
    if net is None:
        return False
    joined = net in LANDMARKS or len(circuit.names.get(net, ())) > 1
    return joined or (net in circuit.graph and any(circuit.graph.adj[net].values()))


def drawn(circuit: Circuit, section: Section) -> bool:
    """Whether the drawing uses a section at all."""
    return any(wired(circuit, net) for net in section.electrodes.values())


def amplifiers(circuit: Circuit) -> Iterator[tuple[Tube, Section]]:
    """The tube sections with a grid that the drawing uses, in drawing order."""
    for tube in circuit.tubes.values():
        for section in tube.sections:
            if section.kind in AMPLIFYING and drawn(circuit, section):
                yield tube, section


def reading(solution: Solution, section: Section) -> TubeReading | None:
    """A section's reading in a state; ``None`` when its tube is out of the socket."""
    return None if section.tube in solution.state.pulled else solution.readings.get(section.name)


def without(solution: Solution) -> str | None:
    """What to say about a state with a tube out of its socket; ``None`` for any other state."""
    out = listed(sorted(solution.state.pulled))
    return f"Do not switch on with {out} out of its socket" if out else None


def sources_shorted(circuit: Circuit) -> Circuit:
    """The circuit with every DC source replaced by its own resistance, for path resistances."""
    branches = {
        name: replace(b, kind=PartKind.FUSE) if b.kind is PartKind.SOURCE else b
        for name, b in circuit.branches.items()
    }
    return replace(circuit, branches=branches)


@once
def regulated(circuit: Circuit) -> frozenset[str]:
    """gnd, and what gas regulators hold at a voltage to it."""
    steps: nx.Graph[str] = nx.Graph()
    steps.add_node(GROUND)
    gas = (s for s in circuit.sections() if s.kind is SectionKind.REGULATOR)
    steps.add_edges_from((s.electrodes["plate"], s.electrodes["cathode"]) for s in gas)
    return frozenset(nx.node_connected_component(steps, GROUND))


@once
def ohms_between(circuit: Circuit, a: str, b: str = GROUND) -> float | None:
    """DC resistance between two nets (sources shorted), ohms; ``inf`` without a path.

    ``None`` where an unknown value lies on a path. Give :func:`sources_shorted` of the circuit.
    """
    if a not in circuit.graph or b not in circuit.graph:
        return inf
    return resistance(circuit, a, b)


def metal_ohms(branch: Branch) -> float | None:
    """The least resistance of a branch that conducts like plain metal, else ``None``.

    Open switches and unknown values conduct nothing here: only what is known counts as a path.
    """
    if not branch.closed:
        return None
    kind = branch.kind
    match kind:
        case (
            PartKind.RESISTOR
            | PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.LAMP
        ):
            return branch.ohms
        case PartKind.RELAY | PartKind.METER:
            return branch.ohms
        case PartKind.INDUCTOR:
            return si(branch.resistance, "ohm") or CHOKE_OHMS
        case (
            PartKind.FUSE
            | PartKind.SWITCH
            | PartKind.CONTACT
            | PartKind.JACK_CONTACT
            | PartKind.PLUG
        ):
            return 0.0
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.SPEAKER | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER
            | PartKind.WINDING | PartKind.SIGNAL
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


@once
def metal(circuit: Circuit) -> nx.Graph[str]:
    """Nets joined by known resistances (ohms under ``weight``); no windings, heaters or tubes.

    Everybody has the same graph: change a copy.
    """
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    for branch in circuit.branches.values():
        weight = metal_ohms(branch)
        if weight is None or branch.a == branch.b:
            continue
        old = graph.get_edge_data(branch.a, branch.b)
        if old is None or weight < old["weight"]:
            graph.add_edge(branch.a, branch.b, weight=weight, branch=branch)
    return nx.freeze(graph)


def nearest(graph: nx.Graph[str], net: str, target: str) -> float | None:
    """The resistance of the easiest single path, ohms (0 on the same net); ``None`` without one."""
    if net == target:
        return 0.0
    if net not in graph or target not in graph:
        return None
    try:
        return float(nx.dijkstra_path_length(graph, net, target))
    except nx.NetworkXNoPath:
        return None


def resistors_at(circuit: Circuit, net: str) -> list[Branch]:
    """The resistors that end on a net."""
    return [b for b in circuit.at(net) if b.kind is PartKind.RESISTOR]


def capacitors_to_rest(circuit: Circuit, net: str, least: float = 0.0) -> list[Branch]:
    """The capacitors from a net to gnd or another landmark, of at least so many farads.

    One of unknown size counts where any does.
    """
    at = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) in LANDMARKS)
    return [b for b in at if (b.farads or 0.0) >= least]


def past_a_resistor(circuit: Circuit, net: str) -> list[str]:
    """A net and those that one resistor leads to from there."""
    return [net, *(b.other(net) for b in resistors_at(circuit, net))]


def leads_to_a_grid(circuit: Circuit, net: str, own: Section) -> bool:
    """Whether the grid of another section is on a net that is no landmark, or behind a stopper."""
    if net in LANDMARKS:
        return False
    nets = set(past_a_resistor(circuit, net)) - set(LANDMARKS)
    return any(
        e == "grid" and s.name != own.name for n in nets for s, e in circuit.electrodes_at(n)
    )


def resistors_across(circuit: Circuit, branch: Branch) -> list[Branch]:
    """The resistors right across a part; what a fault puts there is none of them."""
    ends = {branch.a, branch.b}
    near = resistors_at(circuit, branch.a)
    return [b for b in near if {b.a, b.b} == ends and not b.of_a_fault]


def in_series(circuit: Circuit, branch: Branch) -> list[Branch]:
    """The electrolytics on whose plus a polarised one's minus is, or the other way round."""
    if branch.kind is not PartKind.CAPACITOR or branch.plus is None:
        return []
    nets = {branch.a, branch.b} - set(LANDMARKS)
    near = ((n, b) for n in nets for b in circuit.at(n) if b is not branch)
    return [b for n, b in near if b.kind is PartKind.CAPACITOR and b.plus is not None
            and (b.plus == n) is not (branch.plus == n)]  # fmt: skip


def feeds_others(circuit: Circuit, net: str) -> bool:
    """Whether a net feeds others: held by a source or an electrolytic, or no electrode's own."""
    branches = circuit.at(net)
    held = any(b.kind is PartKind.SOURCE or b.plus is not None for b in branches)
    electrodes = {e for s, e in circuit.electrodes_at(net) if s.kind is not SectionKind.RECTIFIER}
    return held or not electrodes & {"plate", "cathode", "grid"}
