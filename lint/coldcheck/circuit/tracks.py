"""The track of a pot, parted by its wiper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit


def halves(circuit: Circuit, pot: str) -> tuple[tuple[Branch, ...], tuple[Branch, ...]]:
    """What is above the wiper and what is below it, from the top down; taps part it further."""
    own = [b for b in circuit.branches.values() if b.kind is PartKind.POT and b.owner == pot]
    cut = next((n for n, b in enumerate(own) if b.name.startswith(f"{pot}.wiper-")), len(own))
    return tuple(own[:cut]), tuple(own[cut:])
