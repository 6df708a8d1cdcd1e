"""Copies of a circuit as they come off the bench: every value somewhere within its tolerance.

Each deviation is even within the range that `spread` takes: resistors and
pots, winding resistances and voltages, bench sources, zeners, gas tubes, the mains; capacitors
20 %. Other tubes are put on as faults that change their emission, all sections of a tube together.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.faults.fault import WEAK, Fault

if TYPE_CHECKING:
    from random import Random

    from coldcheck.circuit.model import Branch, Circuit, Tube

CAPACITORS = 0.20


def copy_of(circuit: Circuit, random: Random) -> tuple[Circuit, tuple[Fault, ...]]:
    """A copy, and what its tubes' emission differs by."""
    branches = {b.name: _moved(circuit, b, random) for b in circuit.branches.values()}
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(circuit.graph.nodes)
    for u, v, key, data in circuit.graph.edges(keys=True, data=True):
        graph.add_edge(u, v, key=key, **{**data, "branch": branches[data["branch"].name]})
    mains = circuit.mains
    if mains is not None:
        mains = replace(mains, voltage=mains.voltage * _share(circuit.mains_tolerance, random))
    copy = replace(
        circuit, branches=branches, graph=graph, mains=mains, tubes=_gas(circuit, random),
        transformers={
            n: replace(t, windings=tuple(
                replace(w, branches=tuple(branches[b.name] for b in w.branches))
                for w in t.windings
            ))
            for n, t in circuit.transformers.items()
        },
        outputs={
            n: replace(o, branches=tuple((r, branches[b.name]) for r, b in o.branches))
            for n, o in circuit.outputs.items()
        },
    )  # fmt: skip
    return copy, tuple(_tubes(circuit, random))


def _gas(circuit: Circuit, random: Random) -> dict[str, Tube]:
    """The tubes, with the voltage that gas tubes hold somewhere within its spread."""
    found = dict(circuit.tubes)
    for name, tube in circuit.tubes.items():
        held = tube.type.ratings.get("operating-voltage")
        if held is not None:
            moved = replace(held, value=held.value * _share(circuit.usual.gas_tube, random))
            ratings = {**tube.type.ratings, "operating-voltage": moved}
            found[name] = replace(tube, type=replace(tube.type, ratings=ratings))
    return found


def _share(deviation: float, random: Random) -> float:
    return 1 + deviation * random.uniform(-1, 1)


def _moved(circuit: Circuit, branch: Branch, random: Random) -> Branch:
    usual = circuit.usual
    shares = {
        PartKind.RESISTOR: usual.resistor,
        PartKind.POT: usual.resistor,
        PartKind.THERMISTOR: usual.resistor,
        PartKind.SPEAKER: usual.resistor,
        PartKind.SOURCE: usual.source,
        PartKind.ZENER: usual.zener,
        PartKind.CAPACITOR: CAPACITORS,
        PartKind.WINDING: usual.winding_voltage,
    }
    share = shares.get(branch.kind)
    stated = branch.part.tolerance if branch.part else None
    factor = _share(share if stated is None else stated, random) if share is not None else 1.0
    value = None if branch.value is None else branch.value * factor
    ohms = branch.resistance
    if ohms is not None:
        ohms = ohms * _share(usual.winding_resistance, random)
    return replace(branch, value=value, resistance=ohms)


def _tubes(circuit: Circuit, random: Random) -> list[Fault]:
    usual, found = circuit.usual, []
    for tube in circuit.tubes.values():
        kinds = {s.kind for s in tube.sections}
        spread = usual.rectifier if kinds == {SectionKind.RECTIFIER} else usual.tube
        if tube.type.cathode != "cold":
            found.append(Fault(WEAK, tube.name, _share(spread, random)))
    return found
