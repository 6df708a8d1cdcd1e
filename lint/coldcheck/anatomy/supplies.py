"""Which parts of a drawing make direct current: sources, rectifier tubes, diodes on a winding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import metal_ohms, wired
from coldcheck.circuit.kinds import Passage, Stamp
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.spread import spread
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.kinds import Traits
    from coldcheck.circuit.model import Branch, Circuit

SERIES_OHMS = Threshold(
    "most resistance between a winding and its diode",
    470e3,
    "ohm",
    Citation("practice", "a bias taken from the high-tension winding comes through 47 to 220 kohm"),
)
"""Between a winding and its diode there is no more than this: a bias taken from the high-tension
winding comes through 47 to 220 kohm (common practice)."""

FILTER_F = Threshold("least capacitance that filters", 1e-6, "F", PRACTICE)
"""From here up a capacitor filters; smaller ones quieten the line or a diode."""


def has_plate_supply(circuit: Circuit) -> bool:
    """Whether anything in the drawing makes a positive supply at all, whatever it feeds."""
    if any(b.kind is PartKind.SOURCE and b.a not in LANDMARKS for b in circuit.branches.values()):
        return True
    for section in circuit.sections():
        if section.kind is SectionKind.RECTIFIER and any(
            wired(circuit, section.net(p)) for p in section.plates
        ):
            return True
    return any(True for _ in _positive(circuit))


def _positive(circuit: Circuit) -> Iterator[Branch]:
    """The diodes that AC gets to at the anode, so that the cathode's side is a positive supply."""
    live = _alternating(circuit, forward=True)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE and branch.a in live and branch.b not in LANDMARKS:
            yield branch


def rectifying_diodes(circuit: Circuit) -> Iterator[Branch]:
    """The diodes that AC gets to from a mains winding or the mains itself."""
    live = _alternating(circuit)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE and {branch.a, branch.b} & live:
            yield branch


@once
def _alternating(circuit: Circuit, *, forward: bool = False) -> frozenset[str]:
    """Nets that AC reaches from mains windings or the line, as far as the first filter capacitor.

    It passes capacitors (a doubler), resistors, and diodes in series; with ``forward`` diodes
    only the way they conduct.
    """
    seen = {n for w in circuit.windings() if not w.primary for n in w.nets}
    seen |= {circuit.points[n] for n in ("line",) if n in circuit.points}
    seen -= {GROUND}
    prime = frozenset(seen)

    def leads(branch: Branch, here: str) -> bool:
        against = forward and branch.kind is PartKind.DIODE and here != branch.a
        if not _carries(branch) or against or branch.other(here) in LANDMARKS:
            return False
        return here in prime or not _filtered(circuit, here)

    return spread(circuit, prime, leads)


def _filtered(circuit: Circuit, net: str) -> bool:
    """Whether a filter capacitor from here to a landmark ends the AC."""
    to_gnd = (
        b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) in LANDMARKS
    )
    return any(b.plus is not None or (b.farads or 1.0) >= FILTER_F.value for b in to_gnd)


def _passes_ac(traits: Traits) -> bool:
    """What AC passes on its way from a winding to a rectifier (a doubler's capacitor too)."""
    through = traits.stamp is Stamp.COUPLED or traits.stamp is Stamp.CAPACITANCE
    return through or traits.passage is Passage.RECTIFIES


def _carries(branch: Branch) -> bool:
    ohms = metal_ohms(branch)
    return _passes_ac(branch.traits) or (ohms is not None and ohms <= SERIES_OHMS.value)


def quick_supply(circuit: Circuit) -> bool:
    """Whether the plate supply is there at once: silicon, or a directly heated rectifier."""
    if any(True for _ in _positive(circuit)):
        return True
    return any(
        section.kind is SectionKind.RECTIFIER
        and circuit.tubes[section.tube].directly_heated
        and any(wired(circuit, section.net(p)) for p in section.plates)
        for section in circuit.sections()
    )


def negative_lines(circuit: Circuit) -> list[str]:
    """Nets that a capacitor or a source with its plus on gnd holds."""
    held = (b.other(GROUND) for b in circuit.branches.values() if _plus(b) == GROUND)
    return list(dict.fromkeys(n for n in held if n not in LANDMARKS))


def _plus(branch: Branch) -> str | None:
    return branch.a if branch.kind is PartKind.SOURCE else branch.plus


def held_up(circuit: Circuit, net: str) -> bool:
    """Whether an electrolytic with its plus on a net, or a source, holds it: a supply point."""
    return any(b.plus == net or b.kind is PartKind.SOURCE for b in circuit.at(net))


def rectified(circuit: Circuit, net: str) -> bool:
    """Whether a rectifier gives its current to a net: a tube's cathode or filament, or a diode."""
    tubes = any(
        s.kind is SectionKind.RECTIFIER and e in ("cathode", "f1", "f2")
        for s, e in circuit.electrodes_at(net)
    )
    return tubes or any(b.kind is PartKind.DIODE and b.b == net for b in circuit.at(net))
