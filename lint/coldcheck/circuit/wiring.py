"""Walks the wires: resolves every written point and joins what plain wire joins."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.circuit.leads import heater_ends, lead_key, pin_key, winding_leads
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.nets import LANDMARK, LEAD, PIN, WINDING_LEAD, Nets
from coldcheck.circuit.problems import (
    UNKNOWN_LEAD,
    UNKNOWN_NAME,
    USED_TWICE,
    ProblemLog,
    did_you_mean,
    nearest,
)
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, Point
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.circuit.declare import Declared
    from coldcheck.circuit.leads import Owner
    from coldcheck.drawing.model import Drawing, Part, Span


@dataclass(frozen=True, slots=True)
class Drawn:
    """A part on a wire, between the keys left and right of it."""

    part: Part
    left: str
    right: str


@dataclass(slots=True)
class Wiring:
    """What walking the wires found.

    ``strung``: tube -> its heater drawn on a wire. ``places``: points as written -> first span.
    """

    nets: Nets = field(default_factory=Nets)
    drawn: list[Drawn] = field(default_factory=list)
    strung: dict[str, Drawn] = field(default_factory=dict)
    places: dict[str, Span] = field(default_factory=dict)


def walk(drawing: Drawing, found: Declared, log: ProblemLog) -> Wiring:
    """Join all wires; problems with names and leads go to ``log``."""
    wiring = Wiring()
    _declare_leads(found, wiring.nets)
    for statement in drawing.statements:
        if isinstance(statement, Chain):
            _walk_chain(statement, found, wiring, log)
    for line in found.signals:
        resolve(_point(line.name, line.span), found, wiring, log)
    return wiring


def _point(text: str, span: Span) -> Point:
    """A point from its text, for statements that give only the text."""
    owner, colon, pin = text.partition(":")
    owner, dot, lead = owner.partition(".")
    return Point(owner, lead if dot else None, pin if colon else None, span)


def _declare_leads(found: Declared, nets: Nets) -> None:
    """Every lead of every declared thing exists, wired or not."""
    nets.lead(GROUND, LANDMARK)
    for name, (_, windings) in found.transformers.items():
        for winding in windings:
            for end in winding_leads(winding):
                nets.lead(f"{name}.{winding.name}.{end}", WINDING_LEAD)
    for name in found.tubes:
        _declare_tube(name, found, nets)
    for owner in found.owners.values():
        for key in owner.leads.values():
            nets.lead(key)


def _declare_tube(name: str, found: Declared, nets: Nets) -> None:
    kind = found.tubes[name][1]
    for section in kind.sections:
        for electrode in section.electrodes:
            nets.lead(lead_key(name, kind, section.name, electrode))
    for end in heater_ends(kind):
        nets.lead(f"{name}.{end}")
    if kind.cathode_heater:
        nets.join(f"{name}.cathode", f"{name}.{kind.cathode_heater}")
    for pair in kind.jumpers:
        for pin in pair:
            nets.lead(pin_key(name, kind, pin), PIN)


def _walk_chain(chain: Chain, found: Declared, wiring: Wiring, log: ProblemLog) -> None:
    keys = [
        _nameless(chain, index, wiring.nets)
        if point is None
        else resolve(point, found, wiring, log)
        for index, point in enumerate(chain.points)
    ]
    for link, left, right in zip(chain.links, keys, keys[1:], strict=False):
        if link is None:
            wiring.nets.join(left, right)
        elif link.kind is PartKind.HEATER:
            _string(Drawn(link, left, right), found, wiring, log)
        else:
            wiring.drawn.append(Drawn(link, left, right))


def _nameless(chain: Chain, index: int, nets: Nets) -> str:
    beside = (*chain.links[max(index - 1, 0) : index], *chain.links[index : index + 1])
    label = "-".join(link.name for link in beside if link is not None)
    return nets.nameless(label or "unnamed")


def _string(drawn: Drawn, found: Declared, wiring: Wiring, log: ProblemLog) -> None:
    """A ``[V5 heater]``; one whose tube is not known stays in the drawing as a plain part."""
    name, span = drawn.part.name, drawn.part.span
    if name in wiring.strung:
        log.add(span, USED_TWICE, f"{name} heater", f"the heater of {name} drawn once")
    elif name in found.tubes and not found.tubes[name][1].stranger:
        wiring.strung[name] = drawn
        return
    elif not _is_opaque(name, found) and not log.declared_in_vain(name):
        hint = did_you_mean(name, found.tubes)
        log.add(span, UNKNOWN_NAME, name, "the name of a declared tube", hint)
    wiring.drawn.append(drawn)


def _is_opaque(name: str, found: Declared) -> bool:
    return name in found.tubes or (name in found.owners and found.owners[name].opaque)


def resolve(point: Point, found: Declared, wiring: Wiring, log: ProblemLog) -> str:
    """The key of a written point; one that cannot be resolved becomes a net of its own."""
    key = find_key(point, found)
    if key is None:
        complain(point, found, log)
        key = point.text
    if point.lead is None and point.pin is None and point.owner not in found.owners:
        key = wiring.nets.name(point.text)
    else:
        wiring.nets.lead(key, PIN if key == point.text and point.pin is not None else LEAD)
        wiring.nets.write(key, point.text)
    for text in (point.text, key):
        wiring.places.setdefault(text, point.span)
    return key


def find_key(point: Point, found: Declared) -> str | None:
    """The key of a point, or ``None`` where a declared thing has no such lead."""
    owner = found.owners.get(point.owner)
    if owner is None:
        return point.text if point.lead is None and point.pin is None else None
    if owner.opaque:
        return point.text
    if point.pin is not None:
        return owner.pins.get(point.pin.casefold())
    return None if point.lead is None else owner.leads.get(point.lead.casefold())


def complain(point: Point, found: Declared, log: ProblemLog) -> None:
    """Say what is wrong with a point that could not be resolved."""
    owner = found.owners.get(point.owner)
    if owner is None:
        if not log.declared_in_vain(point.owner):
            near = nearest(point.owner, found.owners)
            hint = f"did you mean {near}{point.text[len(point.owner) :]}?" if near else ""
            hint = hint or f"declare {point.owner} first, or use a plain name for the point"
            log.add(point.span, UNKNOWN_NAME, point.text, "a lead of something declared", hint)
        return
    if log.wound_in_vain(point.lead):
        return
    hint = _winding_hint(point, owner) or owner.hint(point.lead, point.pin)
    expected = f"a pin of {owner.name}" if point.pin is not None else f"a lead of {owner.name}"
    if not owner.leads and not owner.pins:
        expected = "a point"
    log.add(point.span, UNKNOWN_LEAD, point.text, expected, hint)


def _second_half(rest: str, own: Sequence[str]) -> str:
    """How to write a tap of both halves, for ``T1.ht.240_2`` where only one half has it."""
    tap, line, half = rest.rpartition("_")
    one_sided = line and half in ("1", "2") and tap in {x.partition(".")[2] for x in own}
    return "; where both halves have the tap, write it on both sides of ct" if one_sided else ""


def _winding_hint(point: Point, owner: Owner) -> str:
    """For ``T1.warm``, ``T1.warm.3`` and ``T1.wrm.1``: the winding's leads, or its name."""
    if point.lead is None or not any("." in lead for lead in owner.shown):
        return ""
    first, _, rest = point.lead.partition(".")
    own = [lead for lead in owner.shown if lead.partition(".")[0].casefold() == first.casefold()]
    if own:
        leads = ", ".join(f"{owner.name}.{x}" for x in own)
        return f"{owner.name}.{first} has the leads {leads}{_second_half(rest, own)}"
    near = did_you_mean(first, dict.fromkeys(lead.partition(".")[0] for lead in owner.shown))
    if not near or not rest:
        return near.replace("mean ", f"mean {owner.name}.") if near else ""
    return near.replace("mean ", f"mean {owner.name}.").replace("?", f".{rest}?")
