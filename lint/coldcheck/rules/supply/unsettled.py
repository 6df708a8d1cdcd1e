"""Capacitors whose charge the warm state does not tell: other states, or a word that it is open.

A floating grid or an unknown value leaves whole supplies without a number. A charge that could
kill must not pass in silence because of that.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.off.charging import at_their_highest
from coldcheck.solve.off.discharge import (
    Discharge,
    charged_capacitors,
    holds_enough,
    positions,
)
from coldcheck.solve.solution import PULLED, STANDBY
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

UNWRITTEN_V = Threshold(
    "voltage of a capacitor without a rating",
    500.0,
    "V",
    Citation("practice", "the highest supply of receiving tubes"),
)
"""Taken for a capacitor without a working voltage: the highest supply of receiving tubes."""


def charging_states(case: Case) -> list[Solution]:
    """The solved states a capacitor may be charged in.

    States with a tube out of its socket count only where a capacitor's warm voltage is not known:
    a set is not run like that, but its voltage is known there. They are handed on as states to
    run in, which is what they stand for here. States without load count at the highest mains.
    """
    running = [s for s in case.solved() if s.state.kind != PULLED]
    if _unknown_when_warm(case):
        pulled = (s for s in case.solved() if s.state.kind == PULLED)
        running += [replace(s, state=replace(s.state, kind=STANDBY)) for s in pulled]
    return at_their_highest(running)


def _unknown_when_warm(case: Case) -> tuple[Branch, ...]:
    return tuple(
        b
        for b in case.circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and b.a != b.b and case.warm.between(b.a, b.b) is None
    )


def unsettled(which: Rule, case: Case, limit_s: float) -> Iterator[Outcome]:
    """Say which capacitors may stay charged without any state telling to what."""
    for branch in case.circuit.branches.values():
        if branch.kind is PartKind.CAPACITOR and branch.plus and branch.value is None:
            yield which.not_judged((branch.name,), "its capacitance is not written")
    known = {b.name for b in charged_capacitors(case.circuit, charging_states(case))}
    kept = tuple(b for b in _unknown_when_warm(case) if b.name not in known and _worth(b))
    if not kept:
        return
    for branch, seconds in _from_their_ratings(case, kept):
        if seconds > limit_s:
            yield which.not_judged((branch.name,), _why(case, branch, seconds))


def _from_their_ratings(case: Case, kept: tuple[Branch, ...]) -> Iterator[tuple[Branch, float]]:
    """Each capacitor with its seconds to 60 V when all are charged to their working voltage."""
    held = {b.name: _rated(b) for b in kept}
    networks = [
        Discharge.build(case.circuit, kept, thrown, case.warm) for thrown in positions(case.circuit)
    ]
    for branch in kept:
        yield branch, max(n.seconds(branch, held) for n in networks)


def _why(case: Case, branch: Branch, seconds: float) -> str:
    reasons = [case.warm.why_lost(n) for n in (branch.a, branch.b)]
    reason = next((r for r in reasons if r), case.warm.reason or "it has no number")
    drain = (
        "nothing would drain it"
        if math.isinf(seconds)
        else f"from {volts(_rated(branch))} it would take {seconds:.0f} s to fall to 60 V"
    )
    return f"the voltage it is charged to is not known ({reason}); {drain}"


def _rated(branch: Branch) -> float:
    """The most it can be charged to: its working voltage, or what a receiver's supply gives."""
    written = None if branch.part is None else si(branch.part.voltage, "volt")
    return UNWRITTEN_V.value if written is None else written


def _worth(branch: Branch) -> bool:
    farads, held = branch.farads or 0.0, _rated(branch)
    return held > TOUCH_DC.value and holds_enough(farads, held)
