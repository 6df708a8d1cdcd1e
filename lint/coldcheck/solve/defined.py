"""Which nets have no number: nothing in the drawing fixes their potential.

A net is defined when conductors, diodes or the plate-cathode and screen-cathode paths of tubes
join it to gnd. Capacitors, insulation and control grids do not hold a potential.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND
from coldcheck.solve.network import branch_siemens

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import State

SWITCHED = ("switch", "contact", "jack-contact", "heater")
CONDUCTORS = ("resistor", "inductor", "winding", "fuse", "thermistor", "lamp", "speaker", "pot")
ONE_WAY = ("diode", "zener", "led", "source", "signal")
CONTROL = ("grid", "grid3", "suppressor")


def undefined_nets(circuit: Circuit, state: State) -> dict[str, str]:
    """Net -> why it has no number in this state."""
    graph = _holding_graph(circuit, state)
    held = nx.node_connected_component(graph, GROUND) if GROUND in graph else set()
    return {
        net: "floating: nothing ties it to gnd" for net in circuit.graph.nodes if net not in held
    }


def floating_ends(circuit: Circuit, state: State) -> tuple[str, ...]:
    """One net of each island that nothing ties to gnd."""
    graph = _holding_graph(circuit, state)
    islands = nx.connected_components(graph)
    return tuple(min(island) for island in islands if GROUND not in island)


def floating_grids(circuit: Circuit, state: State, floating: dict[str, str]) -> tuple[str, ...]:
    """Undefined nets that hold a control grid of a tube that is in its socket and wired."""
    nets: dict[str, None] = {}
    for section in circuit.sections():
        if section.tube in state.pulled or not _used(circuit, section):
            continue
        for electrode in CONTROL:
            net = section.net(electrode)
            if net is not None and net in floating:
                nets[net] = None
    return tuple(nets)


def unknown_values(circuit: Circuit) -> tuple[Branch, ...]:
    """Branches whose main value is not known and matters."""
    by_ratio = {b.name for o in circuit.outputs.values() for _, b in o.branches}
    return tuple(
        b
        for b in circuit.branches.values()
        if b.value is None and b.name not in by_ratio and _needs_value(b)
    )


def _needs_value(branch: Branch) -> bool:
    if branch.kind == "lamp" and branch.part is not None:
        return not (branch.part.voltage and branch.part.current)
    return branch.kind in (
        "resistor", "pot", "capacitor", "inductor", "source", "zener", "winding", "speaker", "lamp",
        "thermistor",
    )  # fmt: skip


def _holding_graph(circuit: Circuit, state: State) -> nx.Graph[str]:
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    for branch in circuit.branches.values():
        if branch.kind in CONDUCTORS + ONE_WAY or (
            branch.kind in SWITCHED and branch_siemens(branch, state)
        ):
            graph.add_edge(branch.a, branch.b)
    for a, b in (("line", "neutral"), ("neutral", "earth")):
        if a in circuit.points and b in circuit.points:
            graph.add_edge(circuit.points[a], circuit.points[b])
    for section in circuit.sections():
        if section.tube not in state.pulled:
            _hold_section(graph, section)
    return graph


def _hold_section(graph: nx.Graph[str], section: Section) -> None:
    """Every electrode that takes current holds its net to the cathode's."""
    first = section.cathode_nets[0]
    for net in section.cathode_nets:
        graph.add_edge(first, net)
    for electrode, net in section.electrodes.items():
        if electrode not in CONTROL:
            graph.add_edge(first, net)


def _used(circuit: Circuit, section: Section) -> bool:
    """Whether the drawing wires this section's plate to anything."""
    return any(circuit.at(section.electrodes[e]) for e in section.plates)
