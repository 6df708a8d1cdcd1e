"""A filter capacitor that lies across the part in the line, and not from the line to gnd."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

FILTER_F = Threshold(
    "capacitor that filters a supply", 2e-6, "F",
    Citation("practice", "a choke is tuned with less, a screen bypassed with less"),
)  # fmt: skip


@rule(
    "supply.filter-bridged",
    title="Filter capacitor across the resistor or choke it should follow",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the capacitor's value and the wiring",
    criterion=f"A capacitor of {1e6 * FILTER_F.value:g} uF or more lies across a resistor or choke "
    "between two points, of which one has another such capacitor to gnd, and the other none.",
    why="Behind a resistor or a choke, to gnd, a capacitor takes the ripple out. Across it, it "
    "carries the ripple past and the supply point behind is as rough as the one before.",
    source=PRACTICE,
    limits="A small capacitor that tunes a choke to the ripple is left alone, and so are two in "
    "series with balancing resistors, and one at a cathode or at what steers a transistor.",
    thresholds=(FILTER_F,),
)
def filter_bridged(case: Case) -> Iterator[Outcome]:
    """Look at the large capacitors with no end on gnd."""
    circuit = case.circuit
    for branch in circuit.branches.values():
        farads = _filters(branch)
        if farads is None or {branch.a, branch.b} & set(LANDMARKS) or _steers(circuit, branch):
            continue
        for line in circuit.at(branch.a):
            if not _feeds(line):
                continue
            fed = _fed(circuit, branch) if line.other(branch.a) == branch.b else None
            if fed is not None:
                name = net_text(circuit, fed)
                yield filter_bridged.finding(
                    case,
                    (branch.name, line.owner, name),
                    f"{branch.name} ({engineering(farads, 'F')}) lies across {line.owner} and "
                    f"carries the ripple past it to {name}",
                    f"Take {branch.name} from {name} to gnd",
                    evidence={"capacitor": figure(farads, "F")},
                    limit=FILTER_F.figure,
                    certainty="likely",
                )


def _steers(circuit: Circuit, branch: Branch) -> bool:
    """Whether an end is on a cathode or on what steers a transistor: it has its place there."""
    ends = {branch.a, branch.b}
    third = {q.nets[q.type.family.leads[2]] for q in circuit.transistors.values()}
    return bool(ends & third) or any(
        e == "cathode" for n in ends for _, e in circuit.electrodes_at(n)
    )


def _feeds(line: Branch) -> bool:
    """Whether a part stands in a supply's line; what balances or bleeds is larger."""
    dropper = line.kind is PartKind.RESISTOR and (line.ohms or DROPS_OHM) < DROPS_OHM
    return dropper or line.kind is PartKind.INDUCTOR


DROPS_OHM = 50e3
"""Droppers between filter capacitors have less (common practice)."""


def _filters(branch: Branch) -> float | None:
    """Farads of a capacitor that is one of a supply's filter."""
    farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return farads if farads is not None and farads >= FILTER_F.value else None


def _fed(circuit: Circuit, across: Branch) -> str | None:
    """The one end of a capacitor without a filter to gnd, beside one that has it.

    Two capacitors in series with their resistors look the same, but for their middle, where
    nothing else is, or a doubler's winding.
    """
    ends = [n for n in (across.a, across.b) if not _filtered(circuit, n, across)]
    if len(ends) != 1:
        return None
    middle = across.other(ends[0])
    at = circuit.at(middle)
    wound = any(b.kind is PartKind.WINDING for b in at)
    return None if wound or len(at) <= STACKED else ends[0]


STACKED = 4
"""Parts at the middle of two capacitors in series, each with its resistor."""


def _filtered(circuit: Circuit, net: str, but: Branch) -> bool:
    others = (b for b in circuit.at(net) if b.name != but.name and _filters(b) is not None)
    return any(b.other(net) in LANDMARKS for b in others)


RULES: tuple[Rule, ...] = (filter_bridged,)
