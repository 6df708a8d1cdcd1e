"""The capacitor that holds a point down while it is still empty."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit


def held_down(circuit: Circuit, net: str, least: float) -> Branch | None:
    """The largest capacitor from a net to gnd, of ``least`` farads or more."""
    every = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND)
    found = [(farads, b) for b in every if (farads := b.farads or 0.0) >= least]
    return max(found, key=lambda pair: pair[0])[1] if found else None
