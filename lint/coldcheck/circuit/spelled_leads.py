"""The lead a written point means, whichever way it is spelled, and how to write that lead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.leads import (
    output_owner,
    plain_owner,
    reverb_owner,
    switch_leads,
    tube_owners,
)
from coldcheck.drawing.model import (
    BRIDGE_LEADS,
    BridgeLine,
    CompoundLine,
    OutputLine,
    Point,
    PotLine,
    RelayLine,
    ReverbLine,
    SwitchLine,
)

if TYPE_CHECKING:
    from coldcheck.circuit.leads import Owner
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Span


def owners_of(circuit: Circuit) -> dict[str, Owner]:
    """Everything with leads, by what is written before the dot."""
    found = {o.name: o for t in circuit.tubes.values() for o in tube_owners(t.name, t.type)}
    for transformer in circuit.transformers.values():
        leads = [f"{w.name.partition('.')[2]}.{lead}"
                 for w in transformer.windings for lead, _ in w.leads]  # fmt: skip
        found[transformer.name] = plain_owner(transformer.name, "", leads)
    for coil_set in circuit.coil_sets.values():
        leads = [
            f"{c.name.partition('.')[2]}.{lead}" for c in coil_set.coils for lead, _ in c.leads
        ]
        found[coil_set.name] = plain_owner(coil_set.name, "", leads)
    for transistor in circuit.transistors.values():
        found[transistor.name] = plain_owner(transistor.name, "", transistor.nets)
    for line in circuit.drawing.statements:
        match line:
            case OutputLine():
                found[line.name] = output_owner(line)
            case ReverbLine():
                found[line.name] = reverb_owner(line)
            case PotLine():
                found[line.name] = plain_owner(line.name, "", line.leads)
            case RelayLine() | CompoundLine():
                found[line.name] = plain_owner(line.name, "", line.leads)
            case BridgeLine():
                found[line.name] = plain_owner(line.name, "", BRIDGE_LEADS)
            case SwitchLine():
                found[line.name] = plain_owner(line.name, "", switch_leads(line))
            case _:
                pass
    return found


def key_of(owners: dict[str, Owner], point: Point) -> str:
    """The lead's own name (``V1A.grid`` for ``V1:2``); a named point's is its text."""
    owner = owners.get(point.owner)
    if owner is None:
        return point.text
    if point.pin is not None:
        return owner.pins.get(point.pin.casefold(), point.text)
    return owner.leads.get((point.lead or "").casefold(), point.text)


def point_of(key: str, span: Span) -> Point:
    """A point from a lead's own name, or from the name of a point."""
    owner, colon, pin = key.partition(":")
    if colon:
        return Point(owner, None, pin, span)
    owner, dot, lead = key.partition(".")
    return Point(owner, lead if dot else None, None, span)
