"""Squelch: stages whose grid another tube takes down while there is no station."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import capacitors_to_rest, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

QUIETS_F = 1e-9
"""A capacitor that keeps audio off the gate's line is larger (common practice)."""


@dataclass(frozen=True, slots=True)
class Gate:
    """A ``stage`` whose grid leak ends at the plate of a ``gate``, fed by ``feed`` from a net."""

    stage: Section
    gate: Section
    feed: Branch
    supply: str


def gates(circuit: Circuit) -> Iterator[Gate]:
    """The stages with a signal by a capacitor whose grid leak ends at another tube's plate."""
    plates = {p: s for _, s in working(circuit) if (p := s.net("plate")) is not None}
    for _, stage in working(circuit):
        grid = stage.net("grid")
        leaks = [] if grid is None else resistors_at(circuit, grid)
        if len(leaks) != 1 or not _hears(circuit, stage):
            continue
        line = leaks[0].other(grid or "")
        gate = plates.get(line)
        feeds = [b for b in resistors_at(circuit, line) if b is not leaks[0]]
        if gate is None or gate.name == stage.name or len(feeds) != 1:
            continue
        if _quiet(circuit, line):
            yield Gate(stage, gate, feeds[0], feeds[0].other(line))


def gated(circuit: Circuit) -> frozenset[str]:
    """The sections with a signal whose grid hangs by resistors on another tube's plate.

    Without a station they are cut off, as they are to be: what leads there keeps audio off it.
    """
    return frozenset(
        s.name for _, s in working(circuit) if _hears(circuit, s) and _hung(circuit, s)
    )


def _hung(circuit: Circuit, stage: Section) -> bool:
    """Whether resistors lead from a grid to another tube's plate past a point that is quiet."""
    seen, todo = {stage.net("grid") or ""}, [stage.net("grid") or ""]
    while todo:
        net = todo.pop()
        for far in (b.other(net) for b in resistors_at(circuit, net)):
            if far in {*seen, *LANDMARKS}:
                continue
            seen.add(far)
            others = [(s, e) for s, e in circuit.electrodes_at(far) if s.name != stage.name]
            if any(e == "plate" for _, e in others):
                return any(_quiet(circuit, n) for n in seen)
            todo += [far] if not others and far not in still_nets(circuit) else []
    return False


def _hears(circuit: Circuit, stage: Section) -> bool:
    """Whether a stage with a load at its plate gets something by a capacitor."""
    grid, plate, still = stage.net("grid") or "", stage.net("plate"), still_nets(circuit)
    at = [b for b in circuit.at(grid) if b.kind is PartKind.CAPACITOR]
    return plate not in {None, *still} and any(b.other(grid) not in still for b in at)


def _quiet(circuit: Circuit, line: str) -> bool:
    return bool(capacitors_to_rest(circuit, line, QUIETS_F))
