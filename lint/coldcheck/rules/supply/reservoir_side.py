"""A choke in the negative lead with both capacitors on the same side of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.lifted_returns import HIGH_V
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.supplies import FILTER_F, rectified
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.rules.supply.interrupted import FILTER_H
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.reservoir-past-choke",
    title="Choke in the negative lead without a reservoir ahead of it",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="the drawing alone",
    needs="the wiring between winding, choke and capacitors",
    criterion="A choke or speaker field of "
    f"{FILTER_H.value:g} H or more lies between the winding's tap and gnd, no capacitor of "
    f"{FILTER_F.value * 1e6:g} uF or more ends at the tap, and two or more electrolytics "
    "lead from the rectifier's output to gnd.",
    why="Ahead of a choke in the negative lead is the winding's side: the reservoir belongs from "
    "the rectifier's output to the tap, the filter capacitor from there to gnd. With both on gnd "
    "they are one capacitor behind the choke: the supply is by a third lower than it was to be, "
    "the bias from the field's drop with it, and one stage of filtering is gone.",
    source=(PRACTICE, Citation("arithmetic", "0.9 of the rms voltage in place of up to 1.4")),
    limits="A single capacitor behind the choke is a choke input by design; two in parallel could "
    "be. A choke in the positive lead is not looked at.",
    thresholds=(FILTER_H, FILTER_F, HIGH_V),
)
def reservoir_past_choke(case: Case) -> Iterator[Outcome]:
    """Look at each choke between a tap and gnd."""
    for choke in case.circuit.branches.values():
        tap = choke.other(GROUND) if GROUND in (choke.a, choke.b) else None
        if tap is None or not _filters(choke) or not _minus(case.circuit, tap):
            continue
        if not any(_large(b) for b in case.circuit.at(tap)):
            for found in _past(case.circuit).values():
                if len(found) > 1:
                    yield _finding(case, choke, tap, found)


def _filters(branch: Branch) -> bool:
    return branch.kind is PartKind.INDUCTOR and (si(branch.value, "henry") or 0.0) >= FILTER_H.value


def _minus(circuit: Circuit, net: str) -> bool:
    """Whether a high-voltage winding gives its current back to a net: its tap, or a diode."""
    high = [w for w in circuit.windings() if (si(w.volts, "volt") or 0.0) > HIGH_V.value]
    diode = any(b.kind is PartKind.DIODE and b.a == net for b in circuit.at(net))
    return diode or any(net in w.nets and not w.primary for w in high)


def _large(branch: Branch) -> bool:
    return (
        branch.kind is PartKind.CAPACITOR and (si(branch.value, "farad") or 0.0) >= FILTER_F.value
    )


def _past(circuit: Circuit) -> dict[str, list[Branch]]:
    """The electrolytics from each rectifier's output to gnd."""
    found: dict[str, list[Branch]] = {}
    for branch in circuit.branches.values():
        if _large(branch) and branch.plus not in (None, GROUND):
            plus = branch.plus or branch.a
            if branch.other(plus) == GROUND and rectified(circuit, plus):
                found.setdefault(plus, []).append(branch)
    return found


def _finding(case: Case, choke: Branch, tap: str, found: list[Branch]) -> Finding:
    names = listed(b.name for b in found)
    at = net_text(case.circuit, tap)
    return reservoir_past_choke.finding(
        case,
        (found[0].name, choke.name),
        f"{names} are in parallel behind {choke.name}, and no capacitor ends at {at} ahead of it",
        f"Take the - of {found[0].name}, the reservoir, from gnd to {at}",
        evidence={"parallel": names, "capacitors": figure(float(len(found)), "")},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (reservoir_past_choke,)
