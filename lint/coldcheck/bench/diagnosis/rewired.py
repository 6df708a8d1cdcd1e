"""Leads that go elsewhere than drawn: off, or in each other's place.

These are no faults of a part, so the fault engine does not have them; the circuit that has one is
drawn anew here and solved like any other.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

import networkx as nx
import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.faults.spread import Shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Coil, Section, Transformer, Winding


@dataclass(frozen=True, slots=True)
class Rewiring:
    """The leads of ``part`` that went to a net go to another: ``moved`` is (old, new) pairs.

    part
        A branch, a winding (``T1.warm``), an output transformer, a transistor or the section of a
        tube.
    """

    part: str
    moved: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Rewound:
    """The branch of a winding gives ``share`` of its voltage."""

    part: str
    share: float


Wiring: TypeAlias = "Rewiring | Rewound"


def exchanged(part: str, one: str, other: str) -> Rewiring:
    """Two leads of a part, on these nets, in each other's place."""
    return Rewiring(part, ((one, other), (other, one)))


def lead_off(part: str, lead: str, net: str) -> Rewiring:
    """A lead that has come off its net, and hangs in the air."""
    return Rewiring(part, ((net, f"{lead} (off)"),))


def rewired(circuit: Circuit, change: Wiring) -> Circuit:
    """The circuit as it is with the leads, or the turns, so."""
    if isinstance(change, Rewound):
        return revalued(circuit, change.part, change.share)
    moved = dict(change.moved)
    branches = {
        name: _branch(b, moved) if change.part in (name, b.owner, b.owner.split(".")[0]) else b
        for name, b in circuit.branches.items()
    }
    new = {net: (net,) for net in moved.values() if net not in circuit.names}
    return replace(
        with_branches(circuit, branches), names={**circuit.names, **new},
        points={**circuit.points, **{net: net for net in new}},
        tubes={n: replace(t, sections=tuple(_section(s, change, moved) for s in t.sections))
               for n, t in circuit.tubes.items()},
    )  # fmt: skip


def revalued(circuit: Circuit, name: str, factor: float) -> Circuit:
    """The circuit with a branch's value, which must be known, times so much."""
    branch = circuit.branches[name]
    assert branch.value is not None
    changed = replace(branch, value=branch.value * factor)
    return with_branches(circuit, {**circuit.branches, name: changed})


def with_branches(circuit: Circuit, branches: Mapping[str, Branch]) -> Circuit:
    """The circuit with these branches in place of those of the same names, everywhere."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from((GROUND, *circuit.graph.nodes))
    for branch in branches.values():
        graph.add_edge(branch.a, branch.b, key=branch.name, branch=branch)
    outputs = {
        name: replace(o, branches=tuple((ratio, branches[b.name]) for ratio, b in o.branches))
        for name, o in circuit.outputs.items()
    }
    wound = _transformers(circuit, branches)
    coil_sets = {
        name: replace(s, coils=tuple(_coil(c, branches) for c in s.coils))
        for name, s in circuit.coil_sets.items()
    }
    transistors = {
        name: replace(q, channel=branches[q.channel.name], control=branches[q.control.name])
        for name, q in circuit.transistors.items()
    }
    return replace(
        circuit, branches=branches, graph=graph, transformers=wound, outputs=outputs,
        coil_sets=coil_sets, transistors=transistors,
    )  # fmt: skip


def _coil(coil: Coil, branches: Mapping[str, Branch]) -> Coil:
    return replace(coil, parts=tuple((share, branches[b.name]) for share, b in coil.parts))


def _transformers(circuit: Circuit, branches: Mapping[str, Branch]) -> dict[str, Transformer]:
    """The transformers with their windings' branches as they are now."""

    def wound(winding: Winding) -> Winding:
        return replace(winding, branches=tuple(branches[b.name] for b in winding.branches))

    return {
        name: replace(t, windings=tuple(wound(w) for w in t.windings))
        for name, t in circuit.transformers.items()
    }


def _branch(branch: Branch, moved: Mapping[str, str]) -> Branch:
    plus = branch.plus
    return replace(
        branch, a=moved.get(branch.a, branch.a), b=moved.get(branch.b, branch.b),
        plus=None if plus is None else moved.get(plus, plus),
    )  # fmt: skip


def _section(section: Section, change: Rewiring, moved: Mapping[str, str]) -> Section:
    if section.name != change.part:
        return section
    return replace(section, electrodes={e: moved.get(n, n) for e, n in section.electrodes.items()})


def as_drawn(shown: Shown, nets: Sequence[str]) -> Shown:
    """What the nets of the drawing show, in their order; NaN for one that is no longer there."""
    place = {net: k for k, net in enumerate(shown.nets)}
    at = np.array([place.get(net, len(place)) for net in nets])

    def put(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.append(values, np.nan)[at])

    moved = {cause: put(volts) for cause, volts in shown.deviations.items()}
    waves = np.vstack([shown.waves, np.full_like(shown.waves[:1], np.nan)])
    behind = np.pad(shown.behind, (0, 1), constant_values=np.nan)
    return Shown(
        tuple(nets), put(shown.volts), put(shown.ac), put(shown.ohms), moved,
        waves[at], behind[np.ix_(at, at)],
    )  # fmt: skip
