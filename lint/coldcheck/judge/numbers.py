"""Whether there are any numbers to judge by, and what a pulled tube is worth."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import without
from coldcheck.solve.solution import PULLED

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding


def unsolved(case: Case) -> str | None:
    """Why no state at all has numbers; ``None`` as soon as one has.

    Single states that were not solved are said once for the whole review.
    """
    if any(True for _ in case.solved()):
        return None
    reasons = [s.reason for s in case.solutions.values() if s.reason]
    return f"no voltages could be worked out: {reasons[0] if reasons else 'nothing was solved'}"


def sockets_last(case: Case, found: Iterable[Finding]) -> Iterator[Finding]:
    """The findings of one place; those with a tube out of its socket only where all else is right.

    A set is not run with a tube out, so they are advice then, except where a person can be hurt.
    What only the edge of a range brings does not silence them.
    """
    everything = list(found)
    pulled = [f for f in everything if case.solutions[f.state].state.kind == PULLED]
    steady = [f for f in everything if case.solutions[f.state].state.kind != PULLED]
    yield from steady
    if any(not f.only_edge for f in steady):
        return
    for finding in pulled:
        advice = without(case.solutions[finding.state]) or ""
        if finding.level == "notice":
            yield replace(finding, level="advice", remedy=f"{advice}. {finding.remedy}")
        else:
            yield replace(finding, remedy=f"{advice}. {finding.remedy}")
