"""Capacitors against the ripple current written beside them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import amperes
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import HIGH, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

FULL = Threshold("share of the rated ripple current", 1.0, "", PRACTICE)


@rule(
    "capacitor.ripple-current",
    title="Capacitor with more ripple current than it is made for",
    level="notice",
    states="warm and high line",
    needs="the amperes written on the capacitor, and a solved state",
    criterion="The rms current through the capacitor is more than the ripple current written.",
    why=(
        "The first filter capacitor takes all the charging pulses of the rectifier: one and a "
        "half to two times the DC of the load. Ripple heats it from inside, heat dries it out, and "
        "a dry electrolytic vents."
    ),
    source=Citation("drawing", "the rating written"),
    limits=(
        "Without a written ripple current it is not judged. The rating is taken as written, at "
        "any frequency and temperature. The signal's own current is not in it."
    ),
    thresholds=(FULL,),
)
def ripple_current(case: Case) -> Iterator[Outcome]:
    """Compare the rms current of each rated capacitor."""
    reason = unsolved(case)
    for branch in case.circuit.branches.values():
        part = branch.part if branch.kind is PartKind.CAPACITOR else None
        limit = None if part is None else si(part.current, "ampere")
        if limit is None:
            continue
        if reason is not None:
            yield ripple_current.not_judged((branch.name,), reason)
            continue
        use = most(case, (WARM, HIGH), partial(ripple, branch))
        if use is not None and use.beyond(FULL.value * limit):
            yield over(
                ripple_current, case, (branch.name,), use, FULL.value * limit,
                (f"{branch.name} carries {amperes(use.figure.value)} rms of ripple; it is made "
                 f"for {amperes(limit)}", _remedy(branch, use.figure.value)),
            )  # fmt: skip


def ripple(branch: Branch, solution: Solution) -> Figure | None:
    """The rms of the ripple through a capacitor."""
    wave = solution.current(branch.name)
    return None if wave is None else figure(wave.ac_rms, "A")


def _remedy(branch: Branch, amps: float) -> str:
    farads = branch.farads
    half = f" ({engineering(preferred(farads / 2), 'F')} each)" if farads else ""
    return f"Use one made for {amperes(1.2 * amps)} of ripple, or two side by side{half}"


RULES: tuple[Rule, ...] = (ripple_current,)
