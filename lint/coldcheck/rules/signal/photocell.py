"""Triggers and relays that a photocell cannot tip."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.controls import pots_on
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.switching import switches
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.solve.engine import Solver
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

DECADES = (10.0, 0.1)
"""What a slip of the pen makes of a resistor, undone."""


@rule(
    "signal.photocell-tips-nothing",
    title="Photocell that tips nothing, bright or dark",
    level="notice",
    states="warm and lit",
    needs="the resistance of the photocell in the dark and in light, and both states solved",
    criterion="A photocell leads by resistors to the grid of a trigger whose halves share their "
    "cathode; of the two halves the same one draws the more with the cell dark and lit; and with a "
    "resistor beside the cell ten times as large, or as small, they would change places.",
    why="A trigger tips where its first grid passes what holds the second one. A divider that "
    "stays on one side of that, whatever the light, does nothing at all.",
    source=PRACTICE,
    limits="Triggers with a control at either grid are not judged, nor cells without the two "
    "resistances. Which of the two levels a trigger falls back at is not looked at.",
)
def photocell_tips_nothing(case: Case) -> Iterator[Outcome]:
    """Look at what each cell with figures does to the trigger behind."""
    for cell in case.circuit.branches.values():
        dark, lit = case.solutions.get("warm"), case.solutions.get(f"lit {cell.owner}")
        if cell.kind is not PartKind.PHOTOCELL or dark is None or lit is None:
            continue
        if dark.converged and lit.converged:
            for first, second in _triggers(case.circuit, cell):
                if _on(dark, first, second) is _on(lit, first, second) is not None:
                    yield from _told(case, cell, (first, second))


def _triggers(circuit: Circuit, cell: Branch) -> Iterator[tuple[Section, Section]]:
    """The triggers to whose first grid resistors lead from a cell, without a control."""
    still = still_nets(circuit)
    reached = coupled(circuit, {cell.a, cell.b} - still, still)
    for _, first in working(circuit):
        if first.net("grid") not in reached or not switches(circuit, first):
            continue
        shared = set(first.cathode_nets) - set(LANDMARKS)
        for _, second in working(circuit):
            grids = [n for s in (first, second) if (n := s.net("grid")) is not None]
            if second.name == first.name or not shared & set(second.cathode_nets):
                continue
            if not pots_on(circuit, coupled(circuit, grids, still)):
                yield first, second


def _on(solution: Solution, first: Section, second: Section) -> bool | None:
    """Whether the first half draws more than the second; ``None`` where it is not known."""
    one, two = (solution.readings.get(s.name) for s in (first, second))
    return None if one is None or two is None else one.plate_ma > two.plate_ma


def _told(case: Case, cell: Branch, pair: tuple[Section, Section]) -> Iterator[Finding]:
    """The first resistor beside the cell, nearest the grid, whose decade makes it tip."""
    still, grid = still_nets(case.circuit), pair[0].electrodes["grid"]
    near = coupled(case.circuit, [grid], still, {cell.owner})
    ends = sorted((cell.a, cell.b), key=lambda n: n not in near)
    beside = [b for n in ends for b in resistors_at(case.circuit, n)]
    for part in dict.fromkeys(b.name for b in beside if b is not cell):
        branch = case.circuit.branches[part]
        ohm = branch.ohms if branch.kind is PartKind.RESISTOR else None
        for times in DECADES if ohm else ():
            if _tips(case, cell, branch, (ohm or 0.0) * times, pair):
                yield _finding(case, cell, branch, times, pair)
                return


def _tips(
    case: Case, cell: Branch, part: Branch, ohm: float, pair: tuple[Section, Section]
) -> bool:
    other = replace(part, value=quantity(ohm, "ohm"))
    graph = case.circuit.graph.copy()
    graph.add_edge(other.a, other.b, key=other.name, branch=other)
    branches = {**case.circuit.branches, part.name: other}
    circuit = replace(case.circuit, graph=graph, branches=branches)
    solver = Solver(circuit)
    names = ("warm", f"lit {cell.owner}")
    found = [solver.solve(case.solutions[n].state) for n in names]
    on = [_on(s, *pair) if s.converged else None for s in found]
    return None not in on and on[0] is not on[1]


def _finding(
    case: Case, cell: Branch, part: Branch, times: float, pair: tuple[Section, Section]
) -> Finding:
    first, second = pair
    ohm = part.ohms or 0.0
    grid = first.electrodes["grid"]
    volts = [case.solutions[n].waves[grid].dc for n in ("warm", f"lit {cell.owner}")]
    return photocell_tips_nothing.finding(
        case,
        (part.owner, cell.owner, first.name, second.name),
        f"The grid of {first.name} is at {volts[0]:.0f} V with {cell.owner} dark and at "
        f"{volts[1]:.0f} V with light on it: the trigger of {listed([first.name, second.name])} "
        f"does not tip either way. {part.owner} is {ohms(ohm)}; with {ohms(ohm * times)} it would",
        f"Use about {ohms(ohm * times)} for {part.owner}",
        state=f"lit {cell.owner}",
        evidence={"dark": figure(volts[0], "V"), "lit": figure(volts[1], "V")},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (photocell_tips_nothing,)
