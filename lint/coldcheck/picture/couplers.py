"""Transformers and coils of the signal path: where a signal enters and leaves them.

A winding has a hot end and a cold one: cold is what is on a rail, a mark, or a point that a
capacitor of a nanofarad or more ties to one. Capacitors below that tune.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.devices import MARKS, Symbol
from coldcheck.picture.scene import is_two_lead, other_net

if TYPE_CHECKING:
    from coldcheck.picture.devices import Coil, Device, Inventory


def hot_nets(stock: Inventory, device: Device, ends: frozenset[str]) -> list[str]:
    """The nets of a coupler's leads that a signal is on."""
    return [net for net in device.nets if net not in ends and not _quiet(stock, net)]


def _quiet(stock: Inventory, net: str) -> bool:
    """Whether a capacitor that only bypasses ties a net to a mark."""
    return any(
        is_two_lead(d) and d.symbol is Symbol.CAPACITOR and other_net(d, net) in MARKS
        and not _tunes(d)
        for d in stock.at(net)
    )  # fmt: skip


def _tunes(device: Device) -> bool:
    """Whether a capacitor is one of picofarads."""
    return len(device.lines) > 1 and "p" in device.lines[1]


def across(stock: Inventory, coil: Coil, device: Device) -> list[Device]:
    """The parts from one end of a winding to the other, by name the first first."""
    nets = {lead.net for lead in device.leads if lead.name in (coil.leads[0], coil.leads[-1])}
    near = [d for net in sorted(nets) for d in stock.at(net) if len(nets) == 2]
    found = {d.name: d for d in near if is_two_lead(d) and set(d.nets) == nets}
    return [found[name] for name in sorted(found)]


def tunes(stock: Inventory, device: Device) -> bool:
    """Whether a part is across a winding of a coupler."""
    if not is_two_lead(device):
        return False
    near = [d for d in stock.at(device.leads[0].net) if d.symbol is Symbol.TRANSFORMER]
    return any(device in across(stock, coil, d) for d in near for coil in d.coils)


def tuned_parts(stock: Inventory) -> frozenset[str]:
    """Every part across a winding of a coupler: it stands where the winding does."""
    return frozenset(d.name for d in stock.devices.values() if tunes(stock, d))
