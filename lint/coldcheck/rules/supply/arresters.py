"""Varistors and spark gaps across more than they stand."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import COLD, PULLED, STANDBY, WARM, WARMING
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

DC_SHARE = Threshold(
    "direct voltage a varistor is rated for, over its rms rating", 1.28, "",
    Citation("varistor-sheets", "250 V rms is 320 V DC, 275 V is 350 V, 130 V is 170 V"),
)  # fmt: skip
STANDS = Threshold("share of what is written on it that an arrester may see", 1.0, "", PRACTICE)
STATES = (COLD, WARMING, WARM, STANDBY, PULLED)
MOSTLY_DC = 0.5
"""From this share of the rms on a mean is what counts, and no longer the rms."""


@rule(
    "supply.arrester-over-voltage",
    title="Surge arrester that conducts all the time",
    level="notice",
    states="every solved state at nominal mains",
    needs="the volts written on the arrester, and a solved state",
    criterion="The rms voltage across it is more than the volts written as `Vac`, or its mean more "
    f"than {DC_SHARE.value:g} times them; or the highest instant is more than the volts written "
    "without that.",
    why="An arrester is made for microseconds. Above its rating a varistor heats until "
    "it burns or shorts, and a spark gap that has struck holds the supply shorted.",
    source=Citation("varistor-sheets", "rms and DC ratings side by side"),
    limits="It conducts nothing here, so the voltages are those without it. Surges are not solved, "
    "neither its energy nor what it lets through is looked at, and high line is left to the maker: "
    "130 V is sold for a line of 120 V.",
    thresholds=(STANDS, DC_SHARE),
)
def arrester_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare each arrester with what is across it."""
    reason = unsolved(case)
    for arrester in case.circuit.branches.values():
        limit = si(arrester.value, "volt") if arrester.kind is PartKind.ARRESTER else None
        if limit is None:
            continue
        if reason is not None:
            yield arrester_over_voltage.not_judged((arrester.name,), reason)
            continue
        use = most(case, STATES, partial(_worth, arrester))
        if use is not None and use.beyond(STANDS.value * limit):
            yield over(
                arrester_over_voltage, case, (arrester.name,), use, STANDS.value * limit,
                (f"{arrester.name} has {use.figure.text(3)} across it; it is rated {volts(limit)}",
                 f"Use one for {volts(1.1 * use.figure.value)} or more"),
            )  # fmt: skip


def _worth(arrester: Branch, solution: Solution) -> Figure | None:
    """What is across it, in the volts that are written: an rms, or a highest instant."""
    wave = solution.between(arrester.a, arrester.b)
    if wave is None:
        return None
    if arrester.part is None or not arrester.part.voltage_is_ac:
        return figure(wave.peak, "V")
    direct = abs(wave.dc) / DC_SHARE.value if abs(wave.dc) > MOSTLY_DC * wave.rms else 0.0
    return figure(max(direct, wave.ac_rms), "V")


RULES: tuple[Rule, ...] = (arrester_over_voltage,)
