"""Filaments of a battery set that its switch does not put out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.throws import switches_of
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

LIT = Threshold("share of its warm volts at which a filament goes on burning", 0.5, "", PRACTICE)


@rule(
    "heater.left-lit",
    title="Filament that the switch of a battery set does not put out",
    level="notice",
    blame=Blame.SLIP,
    states="each switch thrown, against warm",
    needs="filaments on a battery, and solved states",
    criterion=f"With a switch thrown a filament of a set on batteries keeps more than "
    f"{LIT.value:g} times its warm volts, and as many others or more do not.",
    why="A filament takes 50 mA or more day and night: the set seems off, and its cell is flat "
    "within a day or two.",
    source=PRACTICE,
    limits="Where more filaments go on than go out, they are taken to be what the switch is not "
    "for, and nothing is said. A bias battery that a potentiometer drains is not looked at.",
    thresholds=(LIT,),
)
def left_lit(case: Case) -> Iterator[Outcome]:
    """Compare the filaments on each battery with a switch thrown."""
    if unsolved(case) is not None:
        return
    told = set[str]()
    for solution in case.solved(STANDBY):
        for lit in _burning(case, solution):
            if lit.name not in told:
                told.add(lit.name)
                yield _finding(case, solution, lit)


def _burning(case: Case, solution: Solution) -> list[Tube]:
    """The filaments that go on where most others on a battery go out."""
    shares = {
        t.name: s for t in case.circuit.tubes.values()
        if t.directly_heated and (s := _share(case, solution, t)) is not None
    }  # fmt: skip
    lit = [t for t, s in shares.items() if s > LIT.value]
    cells = any(b.kind is PartKind.SOURCE for b in case.circuit.branches.values())
    few = cells and not _wound(case.circuit) and 2 * len(lit) <= len(shares)
    return [case.circuit.tubes[t] for t in lit] if few else []


def _wound(circuit: Circuit) -> bool:
    """Whether the set has a mains transformer: its filaments are hardly a battery's."""
    return any(not w.primary for w in circuit.windings())


def _share(case: Case, solution: Solution, tube: Tube) -> float | None:
    """What a filament keeps of its warm volts in a state."""
    now, before = (_rms(s, tube) for s in (solution, case.warm))
    return None if now is None or not before else now / before


def _rms(solution: Solution, tube: Tube) -> float | None:
    waves = [solution.between(b.a, b.b) for b in (tube.heater.branches if tube.heater else ())]
    return max((w.rms for w in waves if w is not None), default=None)


def _finding(case: Case, solution: Solution, tube: Tube) -> Finding:
    switch, now = listed(switches_of(solution.state.thrown)), _rms(solution, tube) or 0.0
    share = _share(case, solution, tube) or 0.0
    return left_lit.finding(
        case,
        (tube.name, f"{tube.name}.heater", *switches_of(solution.state.thrown)),
        f"{tube.name} keeps {volts(now)} across its filament with {switch} thrown, which puts "
        "others out: it goes on emptying the battery",
        f"Take the filament of {tube.name} to the far side of {switch}, where the others are",
        state=solution.state.name,
        evidence={"filament": figure(now, "V"), "share": figure(share, "")},
        limit=LIT.figure,
        certainty="certain",
        excess=share / LIT.value,
    )


RULES: tuple[Rule, ...] = (left_lit,)
