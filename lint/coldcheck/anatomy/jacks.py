"""Jacks and their switch contacts, as the rules on inputs and outputs look at them.

A plug in the jack lifts the contact (lead ``switch``) from the tip. What a drawing hangs on the
tip and sleeve of a declared jack by their own names is what the plug brings.
"""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, JackLine, Part
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit


@dataclass(frozen=True, slots=True)
class Jack:
    """A jack by the nets of its leads; one drawn on a wire has neither ``switch`` nor ``ring``."""

    name: str
    tip: str
    sleeve: str
    switch: str | None
    ring: str | None = None


def jacks(circuit: Circuit) -> Iterator[Jack]:
    """Every jack, declared or on a wire."""
    for statement in circuit.drawing.statements:
        if isinstance(statement, JackLine):
            name = statement.name
            tip, sleeve, switch, ring = (
                circuit.points[f"{name}.{x}"] for x in ("tip", "sleeve", "switch", "ring")
            )
            yield Jack(name, tip, sleeve, switch, ring)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.JACK:
            yield Jack(branch.name, branch.a, branch.b, None)


def key_at(circuit: Circuit, net: str) -> str | None:
    """The jack or contact that takes a net straight to gnd, by name."""
    plugs = (j.name for j in jacks(circuit) if (j.tip, j.sleeve) == (net, GROUND))
    contacts = (b.owner for b in circuit.at(net) if b.traits.by_hand and b.other(net) == GROUND)
    return next(chain(plugs, contacts), None)


def plugged_parts(circuit: Circuit) -> frozenset[str]:
    """Names of parts drawn right at a jack's tip or sleeve: outside the set, on the plug's lead."""
    return frozenset(part for part, _ in _plugged(circuit))


def plugged_jacks(circuit: Circuit) -> frozenset[str]:
    """Names of the jacks of which the drawing says what is in them."""
    return frozenset(jack for _, jack in _plugged(circuit))


def _plugged(circuit: Circuit) -> Iterator[tuple[str, str]]:
    """The speakers at leads of jacks, each with its jack."""
    names = {j.name for j in jacks(circuit)}
    for statement in circuit.drawing.statements:
        if isinstance(statement, Chain):
            ends = zip(statement.points, statement.links, statement.points[1:], strict=False)
            for left, link, right in ends:
                if not isinstance(link, Part) or link.kind is not PartKind.SPEAKER:
                    continue
                for point in (left, right):
                    outside = point is not None and point.lead in ("tip", "sleeve")
                    if point is not None and outside and point.owner in names:
                        yield link.name, point.owner
