"""What a place of a circuit looks like from the circuit alone, without anybody's names.

Each net and each thing on the nets is told apart by what is beside it, then by what is beside
that, and so on. Two places with the same shape are in the same position of the circuit, whatever
the drawing calls them. Values are no part of it; landmarks keep their names.
"""

from __future__ import annotations

from hashlib import blake2b
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit

_ROUNDS = 8
"""So many things away a difference is still seen."""


@dataclass(frozen=True, slots=True)
class _Thing:
    """Something on nets: ``leads`` are (role, net); what has no direction has one role twice."""

    name: str
    label: str
    leads: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Shapes:
    """The shapes of a circuit's nets and of what is on them, by name."""

    circuit: Circuit
    nets: Mapping[str, str]
    things: Mapping[str, str]

    def of(self, place: str) -> str:
        """The shape of a place; a place that is none keeps its name."""
        if place in self.things:
            return self.things[place]
        net = self.circuit.points.get(place)
        if net is not None:
            return self.nets.get(net, place)
        owner = next((s for s in self.circuit.sections() if s.name == place), None)
        if owner is not None:
            return _hashed([self.things[owner.tube], owner.type.name])
        head, _, tail = place.partition(".")
        return _hashed([self.things[head], tail]) if head in self.things else place


def shapes_of(circuit: Circuit) -> Shapes:
    """Work the shapes of a circuit out."""
    things = list(_things(circuit))
    landmarks = {circuit.points[n]: n for n in LANDMARKS if n in circuit.points}
    nets = {net: landmarks.get(net, "net") for net in circuit.names}
    for thing in things:
        nets.update({net: "net" for _, net in thing.leads if net not in nets})
    seen: dict[str, str] = {}
    for _ in range(_ROUNDS):
        seen = {t.name: _seen(t, nets) for t in things}
        beside: dict[str, list[str]] = {net: [] for net in nets}
        for thing in things:
            for role, net in thing.leads:
                beside[net].append(f"{role} {seen[thing.name]}")
        nets = {net: _hashed([nets[net], *sorted(told)]) for net, told in beside.items()}
    return Shapes(circuit, nets, seen)


def _seen(thing: _Thing, nets: Mapping[str, str]) -> str:
    return _hashed([thing.label, *sorted(f"{role} {nets[net]}" for role, net in thing.leads)])


def _things(circuit: Circuit) -> Iterator[_Thing]:
    for branch in circuit.branches.values():
        yield _Thing(branch.name, branch.kind.value, _ends(branch))
    for tube in circuit.tubes.values():
        leads = tuple(
            (f"{s.type.name}.{e}", net) for s in tube.sections for e, net in s.electrodes.items()
        )
        yield _Thing(tube.name, tube.type.name, leads)
    for transformer in circuit.transformers.values():
        wound = tuple(
            ("primary" if w.primary else "secondary", net)
            for w in transformer.windings
            for net in w.nets
        )
        yield _Thing(transformer.name, "transformer", wound)
    for output in circuit.outputs.values():
        yield _Thing(output.name, "output", output.leads)
    for coil_set in circuit.coil_sets.values():
        coiled = tuple((lead, net) for c in coil_set.coils for lead, net in c.leads)
        yield _Thing(coil_set.name, "signal transformer", coiled)


def _ends(branch: Branch) -> tuple[tuple[str, str], ...]:
    nets = (branch.a, branch.b) if branch.plus != branch.b else (branch.b, branch.a)
    directed = branch.traits.one_way or branch.kind is PartKind.SOURCE or branch.plus is not None
    return tuple(zip(("from", "to") if directed else ("end", "end"), nets, strict=True))


def _hashed(lines: Iterable[str]) -> str:
    return blake2b("\n".join(lines).encode("utf-8", "backslashreplace"), digest_size=8).hexdigest()
