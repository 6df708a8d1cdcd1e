"""What is near some places of a circuit: parts, tube sections and windings, by steps from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit

CROWDED = 8
"""A point with more than this on it is a rail: it leads everywhere, so no step goes through it."""


@dataclass(frozen=True, slots=True)
class Vicinity:
    """Owners (a part, a section, a winding, a transformer) and nets with the steps to them."""

    owners: Mapping[str, int]
    nets: Mapping[str, int]


def vicinity(circuit: Circuit, places: Iterable[str], steps: int = 2) -> Vicinity:
    """What can be reached from places of findings within some parts; 0 is named itself."""
    owners: dict[str, int] = {}
    nets: dict[str, int] = {}
    for place in places:
        _named(circuit, place, owners, nets)
    for grid in _grids(circuit, owners):
        for net in reach(circuit, [grid], _fixed(circuit)):
            nets.setdefault(net, 0)
    for step in range(1, steps + 1):
        for net in [n for n, far in nets.items() if far == step - 1]:
            if step > 1 and _crowded(circuit, net):
                continue
            for owner, ends in _on(circuit, net):
                owners.setdefault(owner, step)
                for end in ends:
                    nets.setdefault(end, step)
    return Vicinity(owners, {n: k for n, k in nets.items() if n not in LANDMARKS})


def _grids(circuit: Circuit, owners: Iterable[str]) -> list[str]:
    """The grids of sections: what feeds them belongs to them, however many parts away."""
    named = set(owners)
    grids = (s.net("grid") for s in circuit.sections() if s.name in named)
    return [g for g in grids if g is not None and g not in LANDMARKS]


def _fixed(circuit: Circuit) -> set[str]:
    """The landmarks, and what a capacitor or a source holds positive: everything hangs on those."""
    held = {b.plus for b in circuit.branches.values() if b.plus is not None}
    return {
        *LANDMARKS,
        *held,
        *(b.a for b in circuit.branches.values() if b.kind == PartKind.SOURCE),
    }


def _crowded(circuit: Circuit, net: str) -> bool:
    return len(circuit.at(net)) + len(circuit.electrodes_at(net)) > CROWDED


def _named(circuit: Circuit, place: str, owners: dict[str, int], nets: dict[str, int]) -> None:
    """The place itself: what it is called, and the points it is on."""
    owner = place.partition(".")[0]
    found: list[tuple[str, Iterable[str]]]
    found = [(s.name, s.electrodes.values()) for s in circuit.sections()
             if owner in (s.name, s.tube)]  # fmt: skip
    wound = [(w.name, w.nets) for w in circuit.windings()]
    wound += [(c.name, c.nets) for c in circuit.coils()]
    found += [(name, nets) for name, nets in wound if name in (place, _stem(place))]
    found += [(b.owner, (b.a, b.b)) for b in circuit.branches.values()
              if place in (b.name, b.owner)]  # fmt: skip
    for name, ends in found:
        owners[name] = 0
        nets |= dict.fromkeys((n for n in ends if n not in LANDMARKS), 0)
    if not found and place in circuit.points and circuit.points[place] not in LANDMARKS:
        nets[circuit.points[place]] = 0


def _stem(place: str) -> str:
    return place.rpartition(".")[0]


def _on(circuit: Circuit, net: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What hangs on a net, with the nets it leads to that no landmark is."""
    for branch in circuit.at(net):
        yield branch.owner, _open_ends(branch)
    for section, _ in circuit.electrodes_at(net):
        yield section.name, tuple(n for n in section.electrodes.values() if n not in LANDMARKS)


def _open_ends(branch: Branch) -> tuple[str, ...]:
    return tuple(n for n in (branch.a, branch.b) if n not in LANDMARKS)
