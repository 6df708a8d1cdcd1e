"""What differs between two pictures: parts, leads that go elsewhere, points where one is missing.

Names alone say it, as the pictures have them, so a layout is what it is without.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.picture.board import Item
    from coldcheck.picture.devices import Device, Lead
    from coldcheck.picture.model import Picture

_TURNABLE = frozenset(
    (Symbol.RESISTOR, Symbol.CAPACITOR, Symbol.INDUCTOR, Symbol.FUSE, Symbol.SWITCH,
     Symbol.THERMISTOR, Symbol.LAMP, Symbol.SPEAKER, Symbol.SOCKET, Symbol.HEATER, Symbol.LINK)
)  # fmt: skip
"""Symbols whose two leads are alike, where none has a +."""


@dataclass(frozen=True, slots=True)
class Changed:
    """What is marked in one picture.

    parts
        Names of devices that the other has not, or has with another value.
    leads
        (device, lead): those that are on another point there.
    nets
        Points to which the other has a part that this one lacks.
    """

    parts: frozenset[str] = frozenset()
    leads: frozenset[tuple[str, str]] = frozenset()
    nets: frozenset[str] = frozenset()


NOTHING = Changed()


@dataclass(frozen=True, slots=True)
class Twins:
    """What of the old picture is what of the new one, and which parts differ in themselves.

    nets
        Points of the old by their names -> of the new.
    renamed
        Parts that have another name in the new, by their old one.
    differing
        Parts with another value or type: their names in the old and in the new.
    """

    nets: Mapping[str, str]
    renamed: Mapping[str, str]
    differing: tuple[frozenset[str], frozenset[str]]


def changed(old: Picture, new: Picture, twins: Twins) -> tuple[Changed, Changed]:
    """What to mark in each."""
    was, now = _parts(old), _parts(new)
    there = {name: twins.renamed.get(name, name) for name in was}
    kept = [(was[a], now[b]) for a, b in there.items() if b in now]
    gone = [d for name, d in was.items() if there[name] not in now]
    come = [d for name, d in now.items() if name not in set(there.values())]
    moved = [pair for a, b in kept for pair in _moved(a, b, twins.nets)]
    back = {net: other for other, net in twins.nets.items()}
    return (
        Changed(
            _names(gone) | (twins.differing[0] & set(was)),
            frozenset(a for a, _ in moved if a),
            _missing(come, back, was),
        ),
        Changed(
            _names(come) | (twins.differing[1] & set(now)),
            frozenset(b for _, b in moved if b),
            _missing(gone, twins.nets, now),
        ),
    )


def items_of(picture: Picture) -> Iterator[Item]:
    """The symbols of parts, without flags and the marks of a point's own."""
    for panel in picture.panels:
        yield from (item for item in panel.items if _is_part(item.device))


def _is_part(device: Device) -> bool:
    """Also a mark that stands on another's point: earth on the chassis is somebody's doing."""
    if device.symbol in MARKS.values():
        return device.name in MARKS and device.name != device.leads[0].net
    return device.symbol is not Symbol.FLAG


def _parts(picture: Picture) -> dict[str, Device]:
    return {item.device.name: item.device for item in items_of(picture)}


def _names(devices: list[Device]) -> frozenset[str]:
    return frozenset(device.name for device in devices)


_Spot: TypeAlias = tuple[str, str] | None


def _moved(a: Device, b: Device, nets: Mapping[str, str]) -> Iterator[tuple[_Spot, _Spot]]:
    """Leads of a part that are on another point, in the old and in the new."""
    matched = _matched(a, b, nets)
    for one, two in matched:
        if nets.get(one.net) != two.net:
            yield (a.name, one.name), (b.name, two.name)
    ours, theirs = {one for one, _ in matched}, {two for _, two in matched}
    yield from (((a.name, lead.name), None) for lead in a.leads if lead not in ours)
    yield from ((None, (b.name, lead.name)) for lead in b.leads if lead not in theirs)


def _matched(a: Device, b: Device, nets: Mapping[str, str]) -> list[tuple[Lead, Lead]]:
    """Leads that belong together: by name, by the + of a part, or as they fit best."""
    ours, theirs = list(a.leads), list(b.leads)
    crossed = len(ours) == len(theirs) == 2
    if crossed and a.plus and b.plus:
        turn = a.plus != b.plus
    elif crossed and a.symbol in _TURNABLE:
        straight = sum(nets.get(x.net) == y.net for x, y in zip(ours, theirs, strict=True))
        turned = sum(nets.get(x.net) == y.net for x, y in zip(ours, theirs[::-1], strict=True))
        turn = turned > straight
    else:
        found = {lead.name: lead for lead in theirs}
        return [(lead, found[lead.name]) for lead in ours if lead.name in found]
    return list(zip(ours, theirs[::-1] if turn else theirs, strict=True))


def _missing(
    parts: list[Device], nets: Mapping[str, str], here: Mapping[str, Device]
) -> frozenset[str]:
    """For each part this picture lacks, the one of its points here with the fewest leads."""
    crowd: dict[str, int] = {}
    for device in here.values():
        for lead in device.leads:
            crowd[lead.net] = crowd.get(lead.net, 0) + 1
    ends = [[nets[n] for n in d.nets if nets.get(n) in crowd and n not in MARKS] for d in parts]
    return frozenset(min(found, key=lambda n: (crowd[n], n)) for found in ends if found)
