"""How much of a signal gets through the stages ahead: each gives no more than it can swing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.spread import spread
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.signal.results import Driven


def arriving(circuit: Circuit, driven: Driven, section: Section) -> float:
    """Peak volts at the source beyond which the stages before a section let nothing more through.

    A stage is followed up to the later of its limits: then it clips on both sides.
    """
    stages = {s.section: s for s in driven.stages}
    peak = stages[section.name].source_peak
    ahead = drivers(circuit, section)
    limits = [stages[s.name].limits for s in ahead if s.name in stages]
    return min([peak, *(max(x.source_peak for x in own) for own in limits if own)])


def drivers(circuit: Circuit, section: Section) -> tuple[Section, ...]:
    """The sections whose plates or cathodes a section's grid is driven from, and theirs again."""
    still = stiff_nets(circuit) | set(LANDMARKS)
    found: dict[str, Section] = {}
    todo = [section]
    while todo:
        for other in _ahead(circuit, todo.pop(), still):
            if other.name not in found and other.name != section.name:
                found[other.name] = other
                todo.append(other)
    return tuple(found.values())


def _ahead(circuit: Circuit, section: Section, still: frozenset[str]) -> list[Section]:
    """The sections with a plate, or a cathode, where this one's grid gets its signal from."""
    nets = _coupled(circuit, section.net("grid"), still)
    return [
        other
        for net in nets
        for other, electrode in circuit.electrodes_at(net)
        if electrode in ("plate", "cathode") and other.name != section.name
    ]


def _coupled(circuit: Circuit, grid: str | None, still: frozenset[str]) -> set[str]:
    """The nets a grid is coupled to, the supply and gnd not passed."""

    def leads(branch: Branch, here: str) -> bool:
        if not _couples(branch) or branch.other(here) in still:
            return False
        return all(e == "grid" for _, e in circuit.electrodes_at(here))

    return set(spread(circuit, [] if grid is None else [grid], leads))


def _couples(branch: Branch) -> bool:
    through = branch.kind in (PartKind.CAPACITOR, PartKind.WINDING)
    return (through or branch.traits.steady or branch.traits.opens) and branch.closed
