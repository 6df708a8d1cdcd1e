"""Semiconductor diodes against the current and the power written beside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import COLD, HIGH, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Bridge
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

STATES = (COLD, WARM, HIGH, STANDBY)
FULL = Threshold("share of the rated current a diode may carry", 1.0, "", PRACTICE)
TYPES_A: Mapping[str, float] = {
    **{f"1N400{n}": 1.0 for n in range(1, 8)},
    **{f"1N540{n}": 3.0 for n in range(9)},
    "UF4007": 1.0,
    "1N4148": 0.2,
    "1N914": 0.2,
}
"""Mean forward current of common types, amperes (their registrations, memory)."""


@rule(
    "supply.diode-overload",
    title="Diode with more current than it is made for",
    level="notice",
    states="cold, warm, high line and standby",
    needs="the amperes or watts written on the diode, or a common type, and a solved state",
    criterion=(
        "The mean current of a diode, light-emitting diode or zener is more than the amperes "
        "written (or those of its type), that of a bridge block more than its own; or the mean "
        "power of a diode or light-emitting diode is "
        "more than the watts written."
    ),
    why=(
        "A diode beyond its current gets hot, and a hot diode fails as a short: in a rectifier "
        "that puts AC on the electrolytics and shorts the winding."
    ),
    source=(Citation("drawing", "the rating written"), Citation("jedec-1n4001", "1 A")),
    limits=(
        "The inrush of the first cycles is not in the figure. A type whose current is not known "
        "and not written is not judged. A zener's watts are supply.zener-overload's."
    ),
    thresholds=(FULL,),
)
def diode_overload(case: Case) -> Iterator[Outcome]:
    """Compare each diode's mean current and power with its ratings."""
    reason = unsolved(case)
    for branch in case.circuit.branches.values():
        if not branch.traits.one_way or branch.part is None:
            continue
        amps, power = _amps(branch), si(branch.part.power, "watt")
        if amps is None and power is None:
            continue
        if reason is not None:
            yield diode_overload.not_judged((branch.name,), reason)
            continue
        yield from _current(case, branch, amps)
        if branch.kind is not PartKind.ZENER:
            yield from _power(case, branch, power)
    for block in case.circuit.bridges.values():
        yield from _block(case, block, reason)


def _block(case: Case, block: Bridge, reason: str | None) -> Iterator[Outcome]:
    """The DC that leaves a block at its plus; four of a type give twice what one carries."""
    written, one = si(block.part.current, "ampere"), TYPES_A.get((block.part.type or "").upper())
    limit = written if written is not None or one is None else 2 * one
    if limit is not None and reason is not None:
        yield diode_overload.not_judged((block.name,), reason)
    elif limit is not None:
        yield from _mean(case, block.name, tuple(d.name for d in block.diodes[:2]), limit)


def _amps(branch: Branch) -> float | None:
    part = branch.part
    written = None if part is None else si(part.current, "ampere")
    kind = "" if part is None else (part.type or "").upper()
    return TYPES_A.get(kind) if written is None else written


def _current(case: Case, branch: Branch, limit: float | None) -> Iterator[Outcome]:
    if limit is not None:
        yield from _mean(case, branch.name, (branch.name,), limit)


def _mean(case: Case, name: str, through: tuple[str, ...], limit: float) -> Iterator[Outcome]:
    def mean(solution: Solution) -> Figure | None:
        waves = [solution.current(one) for one in through]
        known = [abs(w.dc) for w in waves if w is not None]
        return figure(sum(known), "A") if len(known) == len(waves) else None

    use = most(case, STATES, mean)
    if use is not None and use.beyond(FULL.value * limit):
        amps = use.figure.value
        said = f"{name} carries {amperes(amps)} on average; it is made for {amperes(limit)}"
        yield over(
            diode_overload, case, (name,), use, FULL.value * limit,
            (said, f"Use one for {amperes(1.5 * amps)} or more, or find what draws that much"),
        )  # fmt: skip


def _power(case: Case, branch: Branch, limit: float | None) -> Iterator[Outcome]:
    def mean(solution: Solution) -> Figure | None:
        across, through = solution.between(branch.a, branch.b), solution.current(branch.name)
        if across is None or through is None:
            return None
        return figure(float(np.mean(across.samples * through.samples)), "W")

    use = most(case, STATES, mean)
    if limit is not None and use is not None and use.beyond(FULL.value * limit):
        power = use.figure.value
        said = f"{branch.name} turns {watts(power)} into heat; it is made for {watts(limit)}"
        yield over(
            diode_overload, case, (branch.name,), use, FULL.value * limit,
            (said, f"Use one for {watts(1.5 * power)} or more, or let it carry less"),
        )  # fmt: skip


RULES: tuple[Rule, ...] = (diode_overload,)
