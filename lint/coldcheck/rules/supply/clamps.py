"""Two diodes side by side that were to conduct one each way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.supplies import rectifying_diodes
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.clamp-diodes-alike",
    title="Two diodes side by side that conduct the same way",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring",
    criterion="Two diodes, and no third, lie between the same two points, both the same way round, "
    "where they rectify no winding and no mains: across a meter, a signal or a relay's coil.",
    why="One of two such diodes is for the one polarity and one for the other. Both the same way "
    "round they do nothing that one would not do, and against the other polarity the meter's "
    "movement, or the grid, has nothing.",
    source=PRACTICE,
    limits="Rectifiers in parallel for more current are left out. Which of the two was turned "
    "cannot be seen, and need not be: either will do.",
)
def clamp_diodes_alike(case: Case) -> Iterator[Outcome]:
    """Look for pairs between the same two points."""
    rectifying = {b.name for b in rectifying_diodes(case.circuit)}
    pairs: dict[tuple[str, str], list[Branch]] = {}
    for branch in case.circuit.branches.values():
        if branch.kind is PartKind.DIODE and branch.name == branch.owner:
            pairs.setdefault((branch.a, branch.b), []).append(branch)
    for (a, b), found in pairs.items():
        alone = len(found) == 2 and (b, a) not in pairs and a != b
        if alone and not rectifying & {d.name for d in found}:
            yield _finding(case, found)


def _finding(case: Case, found: list[Branch]) -> Finding:
    names = tuple(b.name for b in found)
    beside = _guarded(case.circuit, found[0])
    over = f" across {listed(beside)}" if beside else ""
    return clamp_diodes_alike.finding(
        case,
        (*names, *beside),
        f"{listed(names)} conduct the same way{over}: against the other polarity there is nothing",
        f"Turn {names[0]} round: of two such diodes each takes one polarity",
        certainty="likely",
    )


def _guarded(circuit: Circuit, diode: Branch) -> tuple[str, ...]:
    """The meter or coil that a diode lies across."""
    ends = {diode.a, diode.b}
    net = next((n for n in sorted(ends - set(LANDMARKS))), diode.a)
    across = (b for b in circuit.at(net) if {b.a, b.b} == ends)
    return tuple(b.owner for b in across if b.kind is PartKind.METER or b.traits.coil)


RULES: tuple[Rule, ...] = (clamp_diodes_alike,)
