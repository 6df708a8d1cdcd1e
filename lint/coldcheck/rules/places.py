"""Words, numbers and neighbourhoods that the tube-side rule families share."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.paths import resistance
from coldcheck.drawing.units import engineering, magnitude

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.drawing.units import Quantity
    from coldcheck.rules.model import Case
    from coldcheck.solve.solution import Solution, TubeReading

AMPLIFYING = ("triode", "pentode", "converter")
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)  # fmt: skip
"""IEC 60063 (memory); E3, E6 and E12 are part of E24. Not round(10^(k/24)): the 27 to 47 and 82 of
the standard differ from it."""

CHOKE_OHMS = 100.0
"""Taken for a choke whose resistance is not written (only to rank paths)."""

METAL = ("resistor", "fuse", "switch", "contact", "jack-contact", "inductor", "pot", "thermistor")
METAL_TOO = ("lamp",)


def volts(number: float) -> str:
    """Three digits, and no millivolts of rounding dust: ``volts(0.01) == "0 V"``."""
    return "0 V" if abs(number) < 0.05 else engineering(number, "V")


def ohms(number: float) -> str:
    """Three digits with a prefix: ``ohms(47000) == "47 kohm"``."""
    return "0 ohm" if number < 1e-3 else engineering(number, "ohm")


def amperes(number: float) -> str:
    """Three digits with a prefix."""
    return engineering(number, "A")


def watts(number: float) -> str:
    """Three digits with a prefix."""
    return engineering(number, "W")


def si(value: Quantity | None, unit: str) -> float | None:
    """A quantity as a plain float, ``None`` where it is not given."""
    return None if value is None else magnitude(value, unit)


def cited(limit: Sourced) -> str:
    """A limit's source with how sure it is."""
    return f"{limit.source} ({limit.confidence})"


def preferred(number: float) -> float:
    """The nearest E12 value (on a logarithmic scale) to a positive number."""
    return min(_e12_near(number), key=lambda s: max(s / number, number / s))


def preferred_below(number: float) -> float:
    """The largest E12 value that is no more than a positive number, but for rounding."""
    return max(s for s in _e12_near(number) if s <= number * 1.0001)


def preferred_above(number: float) -> float:
    """The smallest E12 value that is no less than a positive number, but for rounding."""
    return min(s for s in _e12_near(number) if s >= number * 0.9999)


def _e12_near(number: float) -> list[float]:
    """The E12 values of the number's decade, and the first of the next."""
    decade = 10.0 ** int(f"{number:e}".partition("e")[2])
    return [s / 10 * decade for s in E12] + [10 * decade]


def listed(names: Iterable[str]) -> str:
    """``A``, ``A and B``, ``A, B and C``."""
    all_names = list(dict.fromkeys(names))
    if len(all_names) < 2:
        return "".join(all_names)
    return f"{', '.join(all_names[:-1])} and {all_names[-1]}"


def net_text(circuit: Circuit, net: str) -> str:
    """A net by the first name the drawing gives it."""
    return (circuit.names.get(net) or (net,))[0]


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


def warm_volts(case: Case, net: str) -> float | None:
    """The DC of a net in the nominal state, where that is solved."""
    warm = case.solutions.get("warm")
    wave = warm.waves.get(net) if warm is not None and warm.converged else None
    return None if wave is None else wave.dc


def unsolved_reason(case: Case) -> str | None:
    """Why there are no numbers for the nominal state; ``None`` when there are."""
    warm = case.solutions.get("warm")
    if warm is None:
        return "the circuit was not solved"
    return None if warm.converged else f"no voltages could be worked out: {warm.reason}"


def sources_shorted(circuit: Circuit) -> Circuit:
    """The circuit with every DC source replaced by its own resistance, for path resistances."""
    branches = {
        name: replace(b, kind="fuse") if b.kind == "source" else b
        for name, b in circuit.branches.items()
    }
    return replace(circuit, branches=branches)


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
    if branch.kind not in METAL + METAL_TOO or not branch.closed:
        return None
    if branch.kind in ("resistor", "pot", "thermistor", "lamp"):
        return si(branch.value, "ohm")
    if branch.kind == "inductor":
        return si(branch.resistance, "ohm") or CHOKE_OHMS
    return 0.0


def metal(circuit: Circuit) -> nx.Graph[str]:
    """Nets joined by known resistances (ohms under ``weight``); no windings, heaters or tubes."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    for branch in circuit.branches.values():
        weight = metal_ohms(branch)
        if weight is None or branch.a == branch.b:
            continue
        old = graph.get_edge_data(branch.a, branch.b)
        if old is None or weight < old["weight"]:
            graph.add_edge(branch.a, branch.b, weight=weight, branch=branch)
    return graph


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
