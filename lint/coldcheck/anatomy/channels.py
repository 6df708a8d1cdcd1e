"""Which inputs a stage hears and which outputs it ends at, followed through the stages between."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.signal.outputs import named_out

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Circuit, Section

GIVEN_AT = ("plate", "cathode")


def behind(circuit: Circuit, section: Section) -> frozenset[str]:
    """All that brings a signal to a grid, by name: sources, jacks, and the sections between.

    A section that drives itself the long way round is among them.
    """
    sections, still = {s.name: s for s in circuit.sections()}, still_nets(circuit)
    found: set[str] = set()
    todo = [section]
    while todo:
        grid = todo.pop().net("grid")
        near = {n for n, _ in givers(circuit, coupled(circuit, [grid] if grid else [], still))}
        todo += [sections[name] for name in near - found if name in sections]
        found |= near
    return frozenset(found)


def at_coils(circuit: Circuit, section: Section) -> bool:
    """Whether coils or windings other than an output transformer's are at its grid or plate.

    A stage at radio frequency: what small capacitors hold still there is not what they do at 1 kHz.
    """
    still = still_nets(circuit)
    nets = coupled(circuit, [n for e in ("grid", "plate") if (n := section.net(e))], still)
    coils = (b for n in nets for b in circuit.at(n) if b.traits.coil or b.kind is PartKind.WINDING)
    return any(b.owner not in circuit.outputs for b in coils)


def inputs(circuit: Circuit, section: Section) -> frozenset[str]:
    """The signal sources and jacks behind a section's grid, by name."""
    return behind(circuit, section) - {s.name for s in circuit.sections()}


def outputs(circuit: Circuit, section: Section) -> frozenset[str]:
    """Where a section's plate leads in the end: speakers, transformers, jacks, points ``OUT``."""
    still, found, seen = still_nets(circuit), set(), {section.name}
    todo = [n for n in (section.net("plate"),) if n is not None]
    while todo:
        nets = coupled(circuit, [todo.pop()], still)
        found |= _ends(circuit, nets)
        for other, electrode in [p for n in nets for p in circuit.electrodes_at(n)]:
            if electrode == "grid" and other.name not in seen:
                seen.add(other.name)
                todo += [n for e in GIVEN_AT if (n := other.net(e)) and n not in LANDMARKS]
    return frozenset(found)


def _ends(circuit: Circuit, nets: Iterable[str]) -> set[str]:
    """The outputs on these nets; the tip and the ring of a jack are two."""
    reached = set(nets)
    kinds = (PartKind.WINDING, PartKind.SPEAKER)
    found = {b.owner for n in reached for b in circuit.at(n) if b.kind in kinds}
    found |= {f"{j.name}.tip" for j in jacks(circuit) if j.tip in reached}
    found |= {f"{j.name}.ring" for j in jacks(circuit) if j.ring in reached}
    return found | {p for n in reached for p in circuit.names.get(n, ()) if named_out(p)}
