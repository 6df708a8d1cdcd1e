"""What a person can touch: metal, jacks, input terminals, speaker leads, and against what.

The mains and its parts are looked at apart (:mod:`coldcheck.anatomy.galvanic`): here it is any
voltage that a solved state has at a place within reach.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.jacks import plugged_parts
from coldcheck.anatomy.loose import wired_points
from coldcheck.circuit.model import GROUND, Branch
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import JackLine
from coldcheck.drawing.units import quantity
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit

METAL = "metal"
TERMINAL = "terminal"
SPEAKER = "speaker"

BODY = "a person"
"""Name of the resistor that stands for one; no drawing can use it."""


@dataclass(frozen=True, slots=True)
class Touchable:
    """A net within reach: ``name`` as a finding's place, ``point`` as a text says it."""

    name: str
    point: str
    net: str
    kind: str


def touchables(circuit: Circuit) -> tuple[Touchable, ...]:
    """Every net within reach, once, by the name that says most."""
    found: dict[str, Touchable] = {}
    for one in _all(circuit):
        found.setdefault(one.net, one)
    return tuple(found.values())


def references(circuit: Circuit, touched: Touchable) -> tuple[str, ...]:
    """What the other hand is on, the likeliest first: earth, the chassis, the mains, gnd."""
    points = circuit.points
    marks = ["earth", "chassis", *(["neutral"] if "line" in points else []), GROUND]
    nets = dict.fromkeys(points[m] for m in marks if m in points)
    return tuple(n for n in nets if n != touched.net)


def hung_on(circuit: Circuit) -> frozenset[str]:
    """Branches that are only there while a plug is in: generators, and speakers at jacks."""
    signals = (b.name for b in circuit.branches.values() if b.kind is PartKind.SIGNAL)
    return frozenset((*signals, *plugged_parts(circuit)))


def opened(circuit: Circuit) -> Circuit:
    """The circuit with a cable in every jack and nothing at its far end."""
    return circuit.without(hung_on(circuit))


def with_person(circuit: Circuit, net: str, other: str, ohms: float) -> Circuit:
    """The circuit with a resistance between two nets, as a person is one."""
    value = quantity(ohms, "ohm")
    person = Branch(BODY, PartKind.RESISTOR, net, other, BODY, circuit.span(GROUND), value)
    return replace(circuit, branches={**circuit.branches, BODY: person})


def _all(circuit: Circuit) -> Iterator[Touchable]:
    if "chassis" in circuit.points:
        yield Touchable("chassis", "chassis", circuit.points["chassis"], METAL)
    drawn = wired_points(circuit)
    for name in (s.name for s in circuit.drawing.statements if isinstance(s, JackLine)):
        for lead in ("tip", "ring", "sleeve"):
            net = circuit.points.get(f"{name}.{lead}")
            if net is not None and net in drawn:
                yield Touchable(name, f"{name}.{lead}", net, TERMINAL)
    for output in circuit.outputs.values():
        for lead, net, _ in output.secondary_leads:
            if net in drawn:
                yield Touchable(output.name, f"{output.name}.{lead}", net, SPEAKER)
    for branch in circuit.branches.values():
        yield from _of(branch)


def _of(branch: Branch) -> Iterator[Touchable]:
    match branch.kind:
        case PartKind.SIGNAL if not branch.closed:
            return  # given at an electrode or a coil: it comes from inside, as a loop's does
        case PartKind.SIGNAL:
            yield Touchable(branch.name, branch.name, branch.a, TERMINAL)
        case PartKind.JACK:
            yield from (Touchable(branch.name, branch.name, n, TERMINAL) for n in _ends(branch))
        case PartKind.SPEAKER:
            leads = f"a lead of {branch.name}"
            yield from (Touchable(branch.name, leads, n, SPEAKER) for n in _ends(branch))
        case _:
            return


def _ends(branch: Branch) -> tuple[str, str]:
    return branch.a, branch.b
