"""Jacks against the volts and amperes written on them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.jacks import jacks
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.rules.supply.switch import AC_SWITCH_DC_V
from coldcheck.solve.solution import COLD, HIGH, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.jacks import Jack
    from coldcheck.circuit.model import Rating
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

STATES = (COLD, WARM, HIGH, STANDBY)
FULL = Threshold("share of its rating a jack may have", 1.0, "", PRACTICE)


@rule(
    "supply.jack-over-rating",
    title="Jack beyond what is written on it",
    level="notice",
    states="cold, warm, high line and standby",
    needs="the volts or amperes written on the jack, and a solved state",
    criterion="The rms voltage (DC and AC together) between tip and sleeve is more than the volts "
    "written, its DC more than 30 V where they are written Vac, or the rms current through its "
    "switch contact more than the amperes written.",
    why="The insulation of a jack is a washer, and its contact a spring: it tracks, or burns, "
    "where a hand puts in a plug.",
    source=Citation("drawing", "the rating written"),
    limits="The current of what is plugged in is not known. Whether the voltage may be touched is "
    "another rule's.",
    thresholds=(FULL,),
)
def jack_over_rating(case: Case) -> Iterator[Outcome]:
    """Compare each rated jack with what is on it."""
    reason = unsolved(case)
    for jack in jacks(case.circuit):
        rating = next((b.rating for b in case.circuit.branches.values()
                       if b.owner == jack.name and b.rating is not None), None)  # fmt: skip
        if rating is not None and reason is not None:
            yield jack_over_rating.not_judged((jack.name,), reason)
        elif rating is not None:
            yield from _judge(case, jack, rating)


def _judge(case: Case, jack: Jack, rating: Rating) -> Iterator[Outcome]:
    limit, amps = si(rating.voltage, "volt"), si(rating.current, "ampere")
    direct = AC_SWITCH_DC_V.value if rating.ac_only else None
    for bound, measure in ((limit, _rms), (direct, _dc)):
        use = most(case, STATES, partial(measure, jack))
        if bound and use is not None and use.beyond(FULL.value * bound):
            got = volts(use.figure.value)
            yield over(
                jack_over_rating, case, (jack.name,), use, FULL.value * bound,
                (f"{jack.name} has {got}{' of DC' if measure is _dc else ''} between tip and "
                 f"sleeve; it is made for {volts(bound)}",
                 f"Keep it off this point, or use a connector made for {got}"),
            )  # fmt: skip
            return
    use = most(case, STATES, partial(_contact, jack))
    if amps and use is not None and use.beyond(FULL.value * amps):
        yield over(
            jack_over_rating, case, (jack.name,), use, FULL.value * amps,
            (f"the contact of {jack.name} carries {amperes(use.figure.value)}; it is made for "
             f"{amperes(amps)}", "Let a switch or a relay carry this current"),
        )  # fmt: skip


def _rms(jack: Jack, solution: Solution) -> Figure | None:
    wave = solution.between(jack.tip, jack.sleeve)
    return None if wave is None else figure(wave.rms, "V")


def _dc(jack: Jack, solution: Solution) -> Figure | None:
    wave = solution.between(jack.tip, jack.sleeve)
    return None if wave is None else figure(abs(wave.dc), "V")


def _contact(jack: Jack, solution: Solution) -> Figure | None:
    wave = solution.current(f"{jack.name}.switch-tip")
    return None if wave is None else figure(wave.rms, "A")


RULES: tuple[Rule, ...] = (jack_over_rating,)
