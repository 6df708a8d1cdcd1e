"""A circuit with other values, as building it of the changed text would give it, at less cost.

What is on a net does not depend on values, so only the branches that have them are made anew.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.circuit import expand
from coldcheck.drawing import valued as written
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Mains, PotLine

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.drawing.values import Amount


def valued(circuit: Circuit, new: Mapping[str, Amount]) -> Circuit:
    """The circuit with these values; names are of :func:`coldcheck.drawing.valued.values`."""
    new = written.turned_together(circuit.drawing, new)
    drawing = written.valued(circuit.drawing, new)
    changed = {b.name: b for b in _changed(circuit, drawing, new)}
    gone = {n for n, b in circuit.branches.items() if b.kind is PartKind.POT and b.owner in new}
    graph = circuit.graph.copy()
    for name in gone:
        graph.remove_edge(circuit.branches[name].a, circuit.branches[name].b, key=name)
    for branch in changed.values():
        graph.add_edge(branch.a, branch.b, key=branch.name, branch=branch)
    mains = circuit.mains
    if written.MAINS in new:
        mains = next((s for s in drawing.statements if isinstance(s, Mains)), mains)
    return replace(
        circuit,
        drawing=drawing,
        branches=_in_place(circuit, changed, gone),
        graph=graph,
        mains=mains,
    )


def _in_place(
    circuit: Circuit, changed: Mapping[str, Branch], gone: Collection[str]
) -> dict[str, Branch]:
    """The branches in the drawing's order: a track's parts stand where its old ones stood."""
    found: dict[str, Branch] = {}
    for name, branch in circuit.branches.items():
        if name in gone:
            found.update((n, b) for n, b in changed.items() if b.owner == branch.owner)
        else:
            found[name] = changed.get(name, branch)
    return found


def _changed(circuit: Circuit, drawing: Drawing, new: Mapping[str, Amount]) -> Iterator[Branch]:
    for name, amount in new.items():
        branch = circuit.branches.get(name)
        if branch is not None and branch.part is not None:
            part = written.valued_part(branch.part, new)
            yield replace(branch, value=amount.quantity, part=part)
    for line in drawing.statements:
        if isinstance(line, PotLine) and line.name in new:
            yield from expand.pot(line, circuit.net)
