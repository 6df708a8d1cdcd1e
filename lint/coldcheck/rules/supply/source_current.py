"""DC sources against the current they can give."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import COLD, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

FULL = Threshold("share of its rated current a source may give", 1.0, "", PRACTICE)


@rule(
    "supply.source-overload",
    title="Source asked for more current than it gives",
    level="notice",
    states="cold, warm and standby",
    needs="the amperes written on the source, and a solved state",
    criterion="The mean current through the source is more than the amperes written on it.",
    why="A bench supply at its limit drops its voltage, and every figure worked out with the "
    "voltage written is wrong; a battery goes flat or hot.",
    source=Citation("drawing", "the rating written"),
    limits="Peaks are not looked at, and what charges a battery counts as well.",
    thresholds=(FULL,),
)
def source_overload(case: Case) -> Iterator[Outcome]:
    """Compare each rated source with what it gives."""
    reason = unsolved(case)
    for branch in case.circuit.branches.values():
        part = branch.part if branch.kind is PartKind.SOURCE else None
        limit = None if part is None else si(part.current, "ampere")
        if limit is None:
            continue
        if reason is not None:
            yield source_overload.not_judged((branch.name,), reason)
            continue
        use = most(case, (COLD, WARM, STANDBY), partial(_mean, branch))
        if use is not None and use.beyond(FULL.value * limit):
            amps = use.figure.value
            yield over(
                source_overload, case, (branch.name,), use, FULL.value * limit,
                (f"{branch.name} gives {amperes(amps)}; {amperes(limit)} is written on it",
                 f"Use one that gives {amperes(1.2 * amps)} or more, or let the circuit take less"),
            )  # fmt: skip


def _mean(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.current(branch.name)
    return None if wave is None else figure(abs(wave.dc), "A")


RULES: tuple[Rule, ...] = (source_overload,)
