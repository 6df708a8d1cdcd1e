"""Where a probe's tip that slips does most: the bridges beside the points a plan reads, solved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.instruments.clipped import ClipSolver
from coldcheck.bench.instruments.slips import slips_at
from coldcheck.bench.plan.model import DC
from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.bench.instruments.slips import Slip
    from coldcheck.bench.plan.model import Check
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution

LOOKED_AT, TOLD = 24, 3
"""Points of which the bridges are solved, and how many of the worst are told."""


def slipping(circuit: Circuit, warm: Solution, checks: Iterable[Check]) -> Iterator[str]:
    """One sentence about the worst slips from the points that are read, where any passes a limit.

    A bridge to gnd is left out, which is dangerous everywhere.
    """
    solver = ClipSolver(circuit, warm.state.name)
    points = dict.fromkeys(c.point for c in checks if c.unit == DC and c.other == GROUND)
    found: dict[frozenset[str], tuple[str, Slip]] = {}
    for point in [p for p in points if p in circuit.points][:LOOKED_AT]:
        for slip in slips_at(circuit, point, GROUND, warm, solver).harmful:
            if slip.net != GROUND and slip.done.findings:
                found.setdefault(frozenset((circuit.points[point], slip.net)), (point, slip))
    worst = sorted(found.values(), key=lambda each: each[1].rank, reverse=True)[:TOLD]
    if worst:
        told = "; ".join(f"from {point} to {slip.to}: {_what(slip)}" for point, slip in worst)
        yield (
            "Where a tip that slips does most, solved with the bridge held on, the set as drawn: "
            f"{told}. Clip on there with the power off; chart --at tells the same of every point."
        )


def _what(slip: Slip) -> str:
    return slip.done.findings[0].message.rstrip(".")
