"""Meters of the set beyond the end of their scales."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
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
    from coldcheck.solve.solution import Solution, Wave

SCALE = Threshold("share of its scale that a meter may show", 1.0, "", PRACTICE)
MOSTLY_AC = 0.1
"""Below this share of the rms a mean is taken to be nothing: the meter is one for AC."""


@rule(
    "supply.meter-over-scale",
    title="Meter beyond the end of its scale",
    level="notice",
    states="cold, warm and standby, nominal mains",
    needs="the amperes or volts that take the meter to the end of its scale, and a solved state",
    criterion="The mean current through the meter, or the mean voltage across it, is more than "
    "what is written on it; of AC the rms.",
    why="A pointer against its stop says nothing, and bends. A movement stands some times its "
    "current for seconds; a shunt too small for it burns it out.",
    source=Citation("drawing", "the end of the scale written"),
    limits="Surges at switch-on are not solved. Where no ohms are written an ammeter is taken to "
    "drop 0.1 V at the end of its scale, and a voltmeter to have 1000 ohm a volt.",
    thresholds=(SCALE,),
)
def meter_over_scale(case: Case) -> Iterator[Outcome]:
    """Compare each meter with the end of its scale."""
    reason = unsolved(case)
    for meter in (b for b in case.circuit.branches.values() if b.kind is PartKind.METER):
        ends = _ends(meter)
        if ends and reason is not None:
            yield meter_over_scale.not_judged((meter.name,), reason)
            continue
        for end in ends:
            use = most(case, (COLD, WARM, STANDBY), partial(_shown, meter, end))
            if use is not None and use.beyond(SCALE.value * end.value):
                got, most_of = use.figure.text(3), end.text(3)
                yield over(
                    meter_over_scale, case, (meter.name,), use, SCALE.value * end.value,
                    (f"{meter.name} has {got}; its scale ends at {most_of}",
                     f"Use one to 1.5 times {got} or more, or another shunt or series resistor"),
                )  # fmt: skip


def _ends(meter: Branch) -> list[Figure]:
    """The amperes and volts at the end of the scale that are written."""
    part = meter.part
    amps, across = (None, None) if part is None else (part.current, part.voltage)
    a, v = si(amps, "ampere"), si(across, "volt")
    found = (figure(a, "A") if a else None, figure(v, "V") if v else None)
    return [end for end in found if end is not None]


def _shown(meter: Branch, end: Figure, solution: Solution) -> Figure | None:
    across = solution.between(meter.a, meter.b)
    wave = solution.current(meter.name) if end.unit == "A" else across
    return None if wave is None else Figure(_read(wave), end.unit)


def _read(wave: Wave) -> float:
    return wave.rms if abs(wave.dc) < MOSTLY_AC * wave.rms else abs(wave.dc)


RULES: tuple[Rule, ...] = (meter_over_scale,)
