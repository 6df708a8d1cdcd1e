"""A signal that comes in and goes nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.leads-nowhere",
    title="Signal that leads nowhere",
    level="notice",
    states="the drawing alone",
    needs="a `signal` line",
    criterion="Nothing is wired to the point of a `signal` line.",
    why="The wire from the input was forgotten, or the point is spelt in two ways. All voltages at "
    "rest are right, and the set is silent.",
    source=PRACTICE,
    limits="Whether a signal that is wired gets through the stages is judged by other rules.",
)
def leads_nowhere(case: Case) -> Iterator[Outcome]:
    """Look at what is on the net of every signal source."""
    for branch in case.circuit.branches.values():
        if branch.kind is not PartKind.SIGNAL:
            continue
        others = [b for b in case.circuit.at(branch.a) if b.name != branch.name]
        if others or case.circuit.electrodes_at(branch.a):
            continue
        name = net_text(case.circuit, branch.a)
        yield leads_nowhere.finding(
            case,
            (name,),
            f"the signal at {name} leads nowhere: nothing else is wired to that point",
            f"Wire {name} to the input of the first stage",
            evidence={"signal": branch.name},
            certainty="certain",
        )


RULES: tuple[Rule, ...] = (leads_nowhere,)
