"""Stages that amplify twice: the intermediate frequency, and the audio that comes of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

COUPLES_F = 1e-9
"""A capacitor that hands audio on is larger (common practice)."""


@dataclass(frozen=True, slots=True)
class Reflexed:
    """A stage with a coil at its grid and one at its plate, whose cold ends carry audio.

    ``cold`` is the net at the far end of the grid's coil, ``audio`` that of the plate's.
    """

    section: Section
    cold: str
    audio: str


def reflexed(circuit: Circuit) -> Iterator[Reflexed]:
    """Each stage from whose plate coil's cold end a capacitor takes audio to a grid or control."""
    still = still_nets(circuit)
    for _, section in working(circuit):
        grid, plate = section.net("grid"), section.net("plate")
        if grid is None or plate is None:
            continue
        before = [n for n in _far_ends(circuit, grid) if n not in LANDMARKS]
        behind = [n for n in _far_ends(circuit, plate) if _hands_on(circuit, n, still)]
        if len(before) == 1 and behind:
            yield Reflexed(section, before[0], behind[0])


def _far_ends(circuit: Circuit, net: str) -> list[str]:
    """The other ends of the windings that begin at a net."""
    coils = (c.nets for s in circuit.coil_sets.values() for c in s.coils)
    ends = [(n[-1] if n[0] == net else n[0]) for n in coils if net in (n[0], n[-1])]
    return list(dict.fromkeys(ends))


def _hands_on(circuit: Circuit, net: str, still: Collection[str]) -> bool:
    """Whether a load is at a net, and a capacitor to a grid or a control; no filter of a supply."""
    at = circuit.at(net)
    if net in LANDMARKS or any(b.kind is PartKind.SOURCE or b.plus is not None for b in at):
        return False
    loaded = any(b.kind is PartKind.RESISTOR for b in at)
    far = [b.other(net) for b in circuit.at(net) if _couples(b)]
    return loaded and any(_heard(circuit, n, still) for n in far)


def _couples(branch: Branch) -> bool:
    farad = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return (farad or 0.0) >= COUPLES_F


def _heard(circuit: Circuit, net: str, still: Collection[str]) -> bool:
    """Whether a grid, straight or by one resistor, or a control is at a net."""
    if net in still:
        return False
    stoppers = (b.other(net) for b in circuit.at(net) if b.kind is PartKind.RESISTOR)
    near = {net, *stoppers} - set(still)
    return any(e == "grid" for n in near for _, e in circuit.electrodes_at(n)) or any(
        b.kind is PartKind.POT for b in circuit.at(net)
    )
