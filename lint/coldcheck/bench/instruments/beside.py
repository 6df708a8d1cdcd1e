"""What the tip of a probe can bridge a point to: what stands next to it, and the metal around."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import block_leads, socket_pins, winding_leads
from coldcheck.circuit.leads import pin_key
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.sockets import closed_ring
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.circuit.model import Circuit, Tube

METAL = (GROUND, "chassis")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a tip can stand, as one names it (``V2:5 (grid)``), and the net that is there.

    ``keys`` are what the circuit calls the lead: by its electrode, by the number of its pin.
    """

    name: str
    keys: tuple[str, ...]
    net: str | None


def beside(circuit: Circuit, point: str) -> dict[str, str]:
    """Net -> the first place next to a point, or the metal, that is on it.

    A point that is a lead has its own neighbours; one that is only a name those of every lead on
    it, and the far ends of the parts it joins.
    """
    net = circuit.points.get(point, point)
    rows = list(_rows(circuit))
    own = any(point in place.keys for row, _ in rows for place in row)
    found: dict[str, str] = {}
    for row, ring in rows:
        here = [k for k, p in enumerate(row) if (point in p.keys if own else p.net == net)]
        for place in _next_to(row, here, ring=ring):
            if place.net is not None:
                found.setdefault(place.net, place.name)
    if not own:
        found = {**found, **{n: name for n, name in _far_ends(circuit, net) if n not in found}}
    metal = {circuit.points[name]: name for name in reversed(METAL) if name in circuit.points}
    return {n: name for n, name in {**found, **metal}.items() if n != net}


def _rows(circuit: Circuit) -> Iterator[tuple[list[Place], bool]]:
    """Leads side by side, and whether the last of them is next to the first."""
    for tube in circuit.tubes.values():
        yield _socket(circuit, tube), closed_ring(tube.type.base)
    others = [pins for _, pins in winding_leads(circuit)]
    others += [pins for _, _, pins in block_leads(circuit)]
    for pins in others:
        yield [Place(pin.point, (pin.point,), pin.net) for pin in pins], False


def _socket(circuit: Circuit, tube: Tube) -> list[Place]:
    """The pins of a socket; a cap is next to none."""
    if not tube.type.pins_known:
        return []
    pins = [pin for pin in socket_pins(circuit, tube) if pin.label.isdigit()]
    return [
        Place(
            f"{pin.point} ({pin.lead})" if pin.lead else pin.point,
            (_key(tube, pin.label), pin.point),
            pin.net,
        )
        for pin in pins
    ]


def _key(tube: Tube, pin: str) -> str:
    known = pin in tube.type.pins
    return pin_key(tube.name, tube.type, pin) if known else f"{tube.name}:{pin}"


def _next_to(row: Sequence[Place], here: Iterable[int], *, ring: bool) -> Iterator[Place]:
    """The neighbours of some places of a row."""
    for k in here:
        for j in (k - 1, k + 1):
            if ring or 0 <= j < len(row):
                yield row[j % len(row)]


def _far_ends(circuit: Circuit, net: str) -> Iterator[tuple[str, str]]:
    """(Net, name) of the other leads of two-lead parts on a net."""
    for branch in circuit.at(net):
        if branch.part is not None and branch.name == branch.owner:
            yield branch.other(net), f"the other lead of {branch.name}"
