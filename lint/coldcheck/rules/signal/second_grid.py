"""The second grid of a long-tailed pair: it has to hold still for the signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.switching import switches
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

HOLDS_OHM = Threshold(
    "resistance through which a second grid still holds still", 47e3, "ohm", PRACTICE
)


@rule(
    "signal.second-grid-loose",
    title="Second grid of a long-tailed pair not held still",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the pair",
    criterion=(
        "Two sections on one cathode point, each with a plate of its own: the grid of one hangs on "
        f"resistors of {HOLDS_OHM.value / 1e3:g} kohm or more only, with no capacitor and no "
        "electrode on it that would hold it for the signal; a capacitor to the pair's own tail "
        "does not."
    ),
    why=(
        "The second tube works from the cathode, against a grid at signal zero. Without its "
        "capacitor that grid follows the tail, the second plate gives next to nothing, and one "
        "output tube is hardly driven. All voltages at rest are right."
    ),
    source=PRACTICE,
    limits="A signal led to both grids, pairs whose tail is bypassed, and triggers are left alone.",
    thresholds=(HOLDS_OHM,),
)
def second_grid_loose(case: Case) -> Iterator[Outcome]:
    """Look at both grids of every pair."""
    still = still_nets(case.circuit)
    for pair in _pairs(case.circuit, still):
        loose = [s for s in pair if _loose(case.circuit, s, still)]
        if len(loose) == 1 and not switches(case.circuit, loose[0]):
            yield _told(case, loose[0])


def _pairs(circuit: Circuit, still: frozenset[str]) -> Iterator[tuple[Section, Section]]:
    """Sections that share a cathode point which holds still for no signal."""
    by_tail: dict[str, list[Section]] = {}
    for _, section in working(circuit):
        tail = section.cathode_nets[0]
        if "grid" in section.electrodes and tail not in still:
            by_tail.setdefault(tail, []).append(section)
    for pair in by_tail.values():
        if len(pair) == 2 and len({s.net("plate") for s in pair} - {None}) == 2:
            yield pair[0], pair[1]


def _loose(circuit: Circuit, section: Section, still: frozenset[str]) -> bool:
    """Whether only large resistors, or a tie to the tail, hang on a grid, and nothing at rest."""
    grid = section.electrodes["grid"]
    at, tail = circuit.at(grid), _tail(circuit, section, still)
    alone = grid not in LANDMARKS and len(circuit.electrodes_at(grid)) == 1
    ties = [b for b in at if b.kind is PartKind.CAPACITOR and b.other(grid) in tail]
    rest = [b for b in at if b not in ties]
    return alone and bool(at) and all(_large(b) for b in rest) and (
        bool(ties) or all(_idle(circuit, b.other(grid), still) for b in rest)
    )  # fmt: skip


def _large(branch: Branch) -> bool:
    value = si(branch.value, "ohm") if branch.kind is PartKind.RESISTOR else None
    return value is not None and value >= HOLDS_OHM.value


def _idle(circuit: Circuit, net: str, still: frozenset[str]) -> bool:
    """Whether a point neither brings a signal, as an electrode would, nor holds still."""
    return not circuit.electrodes_at(net) and net not in still


def _tail(circuit: Circuit, section: Section, still: frozenset[str]) -> frozenset[str]:
    """What moves with the pair: its cathodes, and the points a resistor away from them."""
    cathode = section.cathode_nets[0]
    near = (b.other(cathode) for b in resistors_at(circuit, cathode))
    return frozenset({cathode, *near}) - still


def _told(case: Case, section: Section) -> Outcome:
    grid = section.electrodes["grid"]
    at = case.circuit.at(grid)
    held = next((b for b in at if b.kind is PartKind.CAPACITOR), None)
    leak = next((b for b in at if b.kind is PartKind.RESISTOR), at[0])
    value = si(leak.value, "ohm") or 0.0
    only = f"only {leak.name} ({ohms(value)}) is on its grid, nothing holds it for the signal"
    if held is not None:
        to = net_text(case.circuit, held.other(grid))
        only = f"{held.name} ties its grid to {to}, the pair's own tail, which moves"
    return second_grid_loose.finding(
        case,
        (section.name, (held or leak).name),
        f"{section.name}: {only}: it follows the common cathode, and this half hardly works",
        f"Take {held.name} to gnd instead (to the feedback point where feedback comes in there)"
        if held is not None
        else f"Put 100 nF from {net_text(case.circuit, grid)} to gnd (to the feedback point where "
        "feedback comes in there)",
        evidence={"grid leak": figure(value, "ohm")},
        limit=HOLDS_OHM.figure,
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (second_grid_loose,)
