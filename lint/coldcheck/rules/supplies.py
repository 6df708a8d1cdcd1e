"""Which parts of a drawing make direct current: sources, rectifier tubes, diodes on a winding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.rules.places import metal_ohms, wired

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit

SERIES_OHMS = 22e3
"""Between a winding and its diode there is no more than this (common practice)."""

AC = ("winding", "capacitor", "diode")
"""What AC passes on its way from a winding to a rectifier (a doubler has its capacitor there)."""


def has_plate_supply(circuit: Circuit) -> bool:
    """Whether anything in the drawing makes a positive supply at all, whatever it feeds."""
    if any(b.kind == "source" and b.a not in LANDMARKS for b in circuit.branches.values()):
        return True
    for section in circuit.sections():
        if section.kind == "rectifier" and any(
            wired(circuit, section.net(p)) for p in section.plates
        ):
            return True
    return any(_positive(circuit, d) for d in rectifying_diodes(circuit))


def _positive(circuit: Circuit, diode: Branch) -> bool:
    """A diode whose cathode side is the rectified one: no winding and no landmark is on it."""
    return diode.b not in LANDMARKS and not any(b.kind == "winding" for b in circuit.at(diode.b))


def rectifying_diodes(circuit: Circuit) -> Iterator[Branch]:
    """The diodes that AC gets to from a mains winding or the mains itself."""
    live = _alternating(circuit)
    for branch in circuit.branches.values():
        if branch.kind == "diode" and {branch.a, branch.b} & live:
            yield branch


def _alternating(circuit: Circuit) -> set[str]:
    """Nets that AC reaches from mains windings, by capacitors, diodes and small resistors."""
    prime = [n for w in circuit.windings() if not w.primary for n in w.nets]
    prime += [circuit.points[n] for n in ("line",) if n in circuit.points]
    seen = {n for n in prime if n != GROUND}
    todo = list(seen)
    while todo:
        net = todo.pop()
        for branch in circuit.at(net):
            far = branch.other(net)
            if far not in seen and far not in LANDMARKS and _carries(branch):
                seen.add(far)
                todo.append(far)
    return seen


def _carries(branch: Branch) -> bool:
    ohms = metal_ohms(branch)
    return branch.kind in AC or (ohms is not None and ohms <= SERIES_OHMS)


def quick_supply(circuit: Circuit) -> bool:
    """Whether the plate supply is there at once: silicon, or a directly heated rectifier."""
    if any(_positive(circuit, d) for d in rectifying_diodes(circuit)):
        return True
    return any(
        section.kind == "rectifier"
        and circuit.tubes[section.tube].directly_heated
        and any(wired(circuit, section.net(p)) for p in section.plates)
        for section in circuit.sections()
    )
