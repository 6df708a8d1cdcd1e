"""Barretters outside the range in which they hold their current."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.ballasts import ends_of, held_a
from coldcheck.solve.solution import HIGH, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

END = Threshold("share of the end of its range that a barretter may have", 1.0, "", PRACTICE)


@rule(
    "heater.barretter-out-of-range",
    title="Barretter outside the volts in which it holds its current",
    level="notice",
    states="warm and high line above its range, warm below it",
    needs="both ends of its range and its amperes, and a solved state",
    criterion="The rms voltage across it is more than the upper end of its range, or with nominal "
    "mains less than the lower end.",
    why="Above its range a barretter lets the current of the heaters rise with the mains, and its "
    "wire burns out. Below it the current is less than the tubes are made for, and nothing "
    "holds it.",
    source=Citation("drawing", "the range written"),
    limits="Solved with all heaters hot. What it does in the first minute, when they are not, is "
    "not in it.",
    thresholds=(END,),
)
def barretter_out_of_range(case: Case) -> Iterator[Outcome]:
    """Compare the volts across each with the ends of its range."""
    for one in case.circuit.branches.values():
        if ends_of(one) is None or one.part is None:
            continue
        if (reason := unsolved(case)) is not None:
            yield barretter_out_of_range.not_judged((one.name,), reason)
            continue
        low, high = si(one.part.value, "volt") or 0.0, si(one.part.voltage, "volt") or 0.0
        use = most(case, (WARM, HIGH), partial(_across, one))
        if use is not None and use.beyond(END.value * high):
            yield over(
                barretter_out_of_range, case, (one.name,), use, END.value * high,
                (f"{one.name} has {volts(use.figure.value)}; it holds its current up to "
                 f"{volts(high)}",
                 f"Put a resistor in series that takes {volts(use.figure.value - high)} or more "
                 f"at {amperes(held_a(one))}"),
            )  # fmt: skip
        yield from _starved(case, one, low)


def _starved(case: Case, one: Branch, low: float) -> Iterator[Outcome]:
    """With nominal mains below the range: what the others of the line leave it is too little."""
    found = _across(one, case.warm)
    if found is None or found.value >= low / END.value or found.value < NOTHING_V:
        return
    excess = low / max(found.value, NOTHING_V)
    yield barretter_out_of_range.finding(
        case,
        (one.name,),
        f"{one.name} has {volts(found.value)}; it holds its current from {volts(low)} on",
        f"Take volts off what is in series with {one.name}, or use one with a lower range",
        state=WARM,
        evidence={"used": found},
        limit=figure(low, "V"),
        certainty=certainty(excess),
        excess=excess,
    )


NOTHING_V = 0.1
"""Below this nothing flows at all: a line that is broken, told elsewhere."""


def _across(one: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(one.a, one.b)
    return None if wave is None else figure(wave.rms, "V")


RULES: tuple[Rule, ...] = (barretter_out_of_range,)
