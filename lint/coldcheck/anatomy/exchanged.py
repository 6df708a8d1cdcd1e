"""A circuit with two leads of one winding exchanged."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.drawing.units import si
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Coil, CoilSet, Transformer, Winding


@dataclass(frozen=True, slots=True)
class Exchange:
    """Two leads of a ``winding`` by name, and the circuit with them exchanged."""

    winding: str
    leads: tuple[str, str]
    circuit: Circuit


def exchanges(circuit: Circuit, core: str) -> Iterator[Exchange]:
    """Every exchange on one core, the winding of fewest turns first: the one that is added."""
    coil_set, transformer = circuit.coil_sets.get(core), circuit.transformers.get(core)
    if coil_set is not None:
        for coil in sorted(coil_set.coils, key=lambda c: si(c.henries, "henry") or 0.0):
            yield from _of_a_coil(circuit, coil_set, coil)
    if transformer is not None:
        for winding in sorted(transformer.windings, key=lambda w: si(w.volts, "volt") or 0.0):
            yield from _of_a_winding(circuit, transformer, winding)


def _of_a_coil(circuit: Circuit, coil_set: CoilSet, coil: Coil) -> Iterator[Exchange]:
    for (one, a), (two, b) in combinations(coil.leads, 2):
        parts = tuple((share, _moved(branch, a, b)) for share, branch in coil.parts)
        leads = tuple((lead, {a: b, b: a}.get(net, net)) for lead, net in coil.leads)
        turned = replace(coil, parts=parts, leads=leads)
        coils = tuple(turned if c is coil else c for c in coil_set.coils)
        sets = {**circuit.coil_sets, coil_set.name: replace(coil_set, coils=coils)}
        yield Exchange(coil.name, (one, two), replace(circuit, coil_sets=sets))


def _of_a_winding(
    circuit: Circuit, transformer: Transformer, winding: Winding
) -> Iterator[Exchange]:
    for (one, a), (two, b) in combinations(winding.leads, 2):
        branches = tuple(_moved(x, a, b) for x in winding.branches)
        leads = tuple((lead, {a: b, b: a}.get(net, net)) for lead, net in winding.leads)
        turned = replace(winding, branches=branches, leads=leads)
        windings = tuple(turned if w is winding else w for w in transformer.windings)
        cores = {**circuit.transformers, transformer.name: replace(transformer, windings=windings)}
        yield Exchange(winding.name, (one, two), replace(circuit, transformers=cores))


def _moved(branch: Branch, one: str, other: str) -> Branch:
    to = {one: other, other: one}
    return replace(branch, a=to.get(branch.a, branch.a), b=to.get(branch.b, branch.b))
