"""Fuses against the voltage they have to break."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
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

FULL = Threshold("share of its rated voltage a fuse may have to break", 1.0, "", PRACTICE)


@rule(
    "supply.fuse-over-voltage",
    title="Fuse for less voltage than it has to break",
    level="notice",
    states="cold, warm and standby, nominal mains",
    needs="the volts written on the fuse, and a solved state",
    criterion=(
        "The rms voltage (DC and AC together) from the fuse to gnd, or of the winding its lead is "
        "on where that is more, exceeds the volts written on it."
    ),
    why=(
        "When a fuse blows, the whole voltage of the circuit stands across the gap. Beyond its "
        "rating the arc does not go out: the fuse goes on conducting, or bursts."
    ),
    source=Citation("drawing", "the rating written"),
    limits=(
        "A fuse without written volts is not judged. Whether the rating is for DC is not known: an "
        "AC rating is worth much less on DC. The energy of the fault (breaking capacity) is not "
        "looked at."
    ),
    thresholds=(FULL,),
)
def fuse_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare each rated fuse with what would stand across it, blown."""
    reason = unsolved(case)
    for branch in case.circuit.branches.values():
        limit = (
            si(branch.part.voltage, "volt")
            if branch.kind is PartKind.FUSE and branch.part
            else None
        )
        if limit is None:
            continue
        if reason is not None:
            yield fuse_over_voltage.not_judged((branch.name,), reason)
            continue
        use = most(case, (COLD, WARM, STANDBY), partial(_breaks, case, branch))
        if use is not None and use.beyond(FULL.value * limit):
            worst = use.figure.value
            yield over(
                fuse_over_voltage, case, (branch.name,), use, FULL.value * limit,
                (f"{branch.name} would have {volts(worst)} across it when it blows; it is made to "
                 f"break {volts(limit)}",
                 f"Use a fuse that breaks {volts(worst)} or more of this kind (AC or DC)"),
            )  # fmt: skip


def _breaks(case: Case, fuse: Branch, solution: Solution) -> Figure | None:
    waves = [solution.wave(n) for n in (fuse.a, fuse.b) if n != GROUND]
    found = [w.rms for w in waves if w is not None]
    found += [
        si(b.value, "volt") or 0.0
        for net in {fuse.a, fuse.b} - {GROUND}
        for b in case.circuit.at(net)
        if b.kind is PartKind.WINDING and b.owner not in case.circuit.outputs
    ]
    return figure(max(found), "V") if found else None


RULES: tuple[Rule, ...] = (fuse_over_voltage,)
