"""Thyristors and triacs against what kills them; and a crowbar that nothing opens behind."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.galvanic import opens_in_time
from coldcheck.circuit.thyristors import rated
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Thyristor
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

SHEET = Citation("maker-sheet")
RATED = (Citation("drawing", "the rating written"), SHEET)
STANDS = Threshold("share of what a thyristor is rated that it may see", 1.0, "", SHEET)
OPENS = Threshold(
    "current at which a fuse ahead of a crowbar opens, over its rating", 2.1, "",
    Citation("practice", "IEC 60127-2 wants it within two to thirty minutes at 2.1 times"),
)  # fmt: skip


@rule(
    "transistor.thyristor-over-voltage",
    title="Thyristor or triac with more volts across it than it is rated",
    level="notice",
    states="every solved state",
    needs="the volts written, or those of a type on file, and a solved state",
    criterion="The highest instant across it, either way, is more than its repetitive peak volts.",
    why="Beyond its rating a thyristor breaks over: it fires by itself, or fails as a short.",
    source=RATED,
    limits="Surges and what an inductance adds are not in the figure; nor is the rate of rise that "
    "fires it by itself.",
    thresholds=(STANDS,),
)
def thyristor_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare the highest volts across each with its rating."""
    reason = unsolved(case)
    for one in case.circuit.thyristors.values():
        limit = si(one.main.part.voltage, "volt") if one.main.part is not None else None
        if limit is None or reason is not None:
            yield thyristor_over_voltage.not_judged((one.name,), reason or "its volts are open")
            continue
        use = most(case, (), partial(_across, one))
        if use is not None and use.beyond(STANDS.value * limit):
            yield over(
                thyristor_over_voltage, case, (one.name,), use, STANDS.value * limit,
                (f"{one.name} has {volts(use.figure.value)} across it; it is rated {volts(limit)}",
                 f"Use one for {volts(1.5 * use.figure.value)} or more"),
            )  # fmt: skip


@rule(
    "transistor.thyristor-overload",
    title="Fired thyristor or triac beyond its current",
    level="notice",
    states="every solved state, those in which it is fired among them",
    needs="the amperes written, or those of a type on file, and a solved state",
    criterion="The rms current through it is more than its rating, and no fuse in its path gets "
    f"more than {OPENS.value:g} times its own.",
    why="Its chip is a fraction of a gram and melts within a few cycles. A crowbar lives through "
    "its firing because a fuse opens; without one it is the fuse, and may fail open.",
    source=(*RATED, PRACTICE),
    limits="The first cycle, for which makers give a surge current, is not looked at; nor is heat "
    "below the rated current, which asks for a heat sink.",
    thresholds=(STANDS, OPENS),
)
def thyristor_overload(case: Case) -> Iterator[Outcome]:
    """Compare the rms current of each with its rating, where no fuse opens."""
    reason = unsolved(case)
    for one in case.circuit.thyristors.values():
        limit = si(one.main.part.current, "ampere") if one.main.part is not None else None
        if limit is None or reason is not None:
            yield thyristor_overload.not_judged((one.name,), reason or "its amperes are open")
            continue
        use = most(case, (), partial(_lasting, case.circuit, one))
        if use is not None and use.beyond(STANDS.value * limit):
            yield over(
                thyristor_overload, case, (one.name,), use, STANDS.value * limit,
                (f"{one.name} carries {amperes(use.figure.value)} when it is fired; it is rated "
                 f"{amperes(limit)}, and no fuse opens",
                 "Put a fuse ahead of it that opens at this current, or use a larger one"),
            )  # fmt: skip


@rule(
    "transistor.thyristor-gate-overload",
    title="Gate of a thyristor or triac beyond its rating",
    level="notice",
    states="every solved state",
    needs="a type on file and a solved state",
    criterion="The highest gate current is more than the gate's peak current, or the gate is "
    "further below the cathode than its reverse volts.",
    why="A gate is a small junction; it is what is burnt first, and the thyristor then stays off "
    "or never goes out.",
    source=SHEET,
    limits="Of types without figures on file nothing is said. A gate is taken to drop 0.7 V.",
    thresholds=(STANDS,),
)
def thyristor_gate_overload(case: Case) -> Iterator[Outcome]:
    """Compare gate current and reverse gate volts with those of the type."""
    for one in case.circuit.thyristors.values():
        known = rated(one.main.part) if one.main.part is not None else None
        if known is None:
            continue
        into = most(case, (), partial(_into_gate, one))
        if into is not None and into.beyond(STANDS.value * known.gate_amps):
            told = (
                f"the gate of {one.name} gets {amperes(into.figure.value)}; it is rated "
                f"{amperes(known.gate_amps)}",
                "Put a larger resistor ahead of it",
            )
            limit = STANDS.value * known.gate_amps
            yield over(thyristor_gate_overload, case, (one.name,), into, limit, told)
        back = most(case, (), partial(_behind_gate, one))
        stands = known.gate_volts
        if back is not None and stands is not None and back.beyond(STANDS.value * stands):
            told = (
                f"the gate of {one.name} is {volts(back.figure.value)} below its cathode; it is "
                f"rated {volts(stands)}",
                "Put a diode across the gate, or one in series with it",
            )
            limit = STANDS.value * stands
            yield over(thyristor_gate_overload, case, (one.name,), back, limit, told)


def _across(one: Thyristor, solution: Solution) -> Figure | None:
    wave = solution.between(one.main.a, one.main.b)
    return None if wave is None else figure(max(abs(wave.low), abs(wave.high)), "V")


def _lasting(circuit: Circuit, one: Thyristor, solution: Solution) -> Figure | None:
    """Its rms current, unless a fuse opens in that state."""
    through = solution.current(one.main.name)
    if through is None or any(
        _opens(circuit, name, solution) for name, b in circuit.branches.items() if opens_in_time(b)
    ):
        return None
    return figure(through.rms, "A")


def _opens(circuit: Circuit, name: str, solution: Solution) -> bool:
    fuse, through = circuit.branches[name], solution.current(name)
    limit = si(fuse.value, "ampere") if fuse.kind is PartKind.FUSE else None
    return through is not None and (limit is None or through.rms > OPENS.value * limit)


def _into_gate(one: Thyristor, solution: Solution) -> Figure | None:
    through = solution.current(one.gate.name)
    return None if through is None else figure(max(through.high, 0.0), "A")


def _behind_gate(one: Thyristor, solution: Solution) -> Figure | None:
    wave = solution.between(one.gate.a, one.gate.b)
    return None if wave is None else figure(max(-wave.low, 0.0), "V")


RULES: tuple[Rule, ...] = (thyristor_over_voltage, thyristor_overload, thyristor_gate_overload)
