"""Chokes that need a least current to do their work."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.choke_inputs import bleeders, critical_ohms, input_chokes, is_input
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import FILTER_F
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.capacitor.over_voltage import line_factor
from coldcheck.solve.solution import COLD, STANDBY
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.solve.solution import Solution

RUNNING = ("warm", "high line", "low line")
NEVER_ZERO = Threshold(
    "least current of a choke that never runs dry, as a share of its mean", 0.02, "", PRACTICE
)

SOARS = Threshold(
    "rise of a supply behind a choke when its load is switched off", 1.25, "",
    Citation("arithmetic", "from 0.9 of the rms volts of the winding it may rise to 1.41 of them"),
)  # fmt: skip

SOME_A = 1e-6
"""Less is no current."""

ALL_OF_IT = 0.1
"""Off by no more of its value a bleeder is all the load that a choke has."""

HOT_W = 15.0
"""A bleeder that burns more than this is no remedy: it would load what feeds the choke."""


@rule(
    "supply.choke-below-critical",
    title="Choke input with too little current",
    level="notice",
    states="warm, high and low line; standby and cold where a capacitor is beyond its rating then",
    needs="a solved state, and the choke's inductance",
    criterion=(
        "The current of a choke that comes straight after the rectifier falls to nothing (less "
        "than 2 % of its mean) in every cycle. The least inductance is about the load in ohms "
        "over 6 pi f, that is over 1131 at 60 Hz and over 942 at 50 Hz: 12 H holds a load of up "
        "to 13.6 kohm at 60 Hz. With a load switched off the same, where no capacitor is "
        f"overrated, if the supply rises to more than {SOARS.value:g} times what it is at work and "
        "a bleeder is rated for what a tenth of its ohms, below the critical ones, would burn."
    ),
    why=(
        "As long as its current never stops, a choke holds the output at nine tenths of the rms "
        "voltage. Below that it works as a capacitor input does, and the supply soars to "
        "one and a half times what was reckoned with."
    ),
    source=Citation("wiki-ripple", "R / (6 pi f), full wave"),
    limits=(
        "The choke's inductance is taken as written, at any current; a real one has less at "
        "full current and more near zero. Resonance with the capacitor at the ripple "
        "frequency is in the solved waveform, not judged by itself."
    ),
    thresholds=(NEVER_ZERO, FILTER_F, SOARS),
)
def choke_below_critical(case: Case) -> Iterator[Outcome]:
    """Look for input chokes whose current stops."""
    chokes = input_chokes(case.circuit)
    reason = unsolved(case)
    if reason is not None and chokes:
        yield choke_below_critical.not_judged(tuple(c.name for c in chokes), reason)
    for choke in chokes:
        if choke.value is None:
            yield choke_below_critical.not_judged((choke.name,), "its inductance is not known")
            continue
        for solution in case.solved(*RUNNING):
            yield from _stops(case, choke, solution)
        for solution in case.solved(STANDBY, COLD):
            if _overfed(case, choke, solution):
                yield from _stops(case, choke, solution)
            else:
                yield from _unloaded(case, choke, solution)


def _unloaded(case: Case, choke: Branch, solution: Solution) -> Iterator[Outcome]:
    """A bleeder ten times too large to hold a supply down whose load is switched off."""
    least, mean = _least(choke, solution)
    far = choke.b if is_input(case.circuit, choke.a) else choke.a
    high, warm = solution.wave(far), warm_volts(case, far)
    if mean < SOME_A or least > NEVER_ZERO.value * mean or high is None or not warm:
        return
    enough = critical_ohms(case.circuit, choke.henries or 0.0)
    for name, value in bleeders(case.circuit, choke):
        part = case.circuit.branches[name].part
        rated = None if part is None else si(part.power, "watt")
        small = value / 10 <= enough < value / 2
        meant = small and rated is not None and rated >= warm**2 / (value / 10)
        if meant and abs(high.dc / warm) > SOARS.value:
            yield _soared(case, (choke, name), (value, enough), (warm, high.dc), solution)


def _soared(
    case: Case,
    at: tuple[Branch, str],
    size: tuple[float, float],
    volt: tuple[float, float],
    solution: Solution,
) -> Outcome:
    (choke, name), (value, enough), (warm, high) = at, size, volt
    return choke_below_critical.finding(
        case,
        (name, choke.name),
        f"{name} ({ohms(value)}) is all that loads {choke.name} with the load switched off, and "
        f"{ohms(enough)} is critical: the supply rises from {volts(warm)} to {volts(high)}",
        f"Look at the original again: {ohms(value / 10)} would suit {name}, and it is rated for "
        "that",
        state=solution.state.name,
        evidence={"voltage": figure(high, "V"), "rise": figure(abs(high / warm), "")},
        limit=SOARS.figure,
        certainty="likely",
        excess=abs(high / warm) / SOARS.value,
    )


def _least(choke: Branch, solution: Solution) -> tuple[float, float]:
    """The least and the mean current of a choke in the sense of the mean, amperes."""
    wave = solution.current(choke.name)
    if wave is None or len(wave.samples) < 2:
        return 0.0, 0.0
    sign = 1.0 if wave.dc > 0 else -1.0
    return min(sign * wave.low, sign * wave.high), abs(wave.dc)


def _overfed(case: Case, choke: Branch, solution: Solution) -> bool:
    """Whether a capacitor behind a choke has more across it, at high line, than it is made for."""
    circuit, factor = case.circuit, line_factor(case, solution)
    behind = frozenset(reach(circuit, [choke.a, choke.b], LANDMARKS)) - set(LANDMARKS)
    held = (b for n in behind for b in circuit.at(n) if b.kind is PartKind.CAPACITOR)
    return any(_beyond(b, solution, factor) for b in held)


def _beyond(branch: Branch, solution: Solution, factor: float) -> bool:
    rated = None if branch.part is None else si(branch.part.voltage, "volt")
    wave = solution.between(branch.a, branch.b)
    return rated is not None and wave is not None and factor * wave.peak > rated


def _stops(case: Case, choke: Branch, solution: Solution) -> Iterator[Outcome]:
    least, mean = _least(choke, solution)
    if mean < SOME_A or least > NEVER_ZERO.value * mean:
        return
    henries = choke.henries or 0.0
    enough = critical_ohms(case.circuit, henries)
    far = solution.wave(choke.b if is_input(case.circuit, choke.a) else choke.a)
    load = abs(far.dc / mean) if far is not None else 0.0
    critical = load * henries / enough if enough else math.inf
    large = [(name, value) for name, value in bleeders(case.circuit, choke) if value > enough]
    alone = [name for name, value in large if abs(value / load - 1) < ALL_OF_IT]
    yield choke_below_critical.finding(
        case,
        (choke.name, *(name for name, _ in large)),
        f"the {amperes(mean)} through {choke.name} ({engineering(henries, 'H')}) stops in "
        f"every cycle; a load of {ohms(load)}{_that_is(alone)} needs about "
        f"{engineering(critical, 'H')}",
        _enough(far.dc if far is not None else 0.0, load, enough, critical) + _large(large, enough),
        state=solution.state.name,
        evidence={
            "current": figure(mean, "A"),
            "least": figure(max(least, 0.0), "A"),
            "inductance": figure(henries, "H"),
        },
        limit=figure(critical, "H"),
        excess=round(max(critical / max(henries, 1e-9), 1.0), 6),  # equal in states alike
    )


def _enough(output: float, load: float, enough: float, henries: float) -> str:
    """The bleeder that makes up the critical load (at today's voltage), or the choke."""
    if load <= enough * 1.001 or enough <= 0:
        return "Draw more current with a bleeder, or use a larger choke"
    bleeder = preferred_below(1 / (1 / enough - 1 / load))
    if output**2 / bleeder > HOT_W:
        return f"Use a larger choke: {engineering(henries, 'H')} or more"
    return (
        f"Draw more current with a bleeder of {ohms(bleeder)} or less "
        f"({watts(output**2 / bleeder)} burnt at most), or use a larger choke: "
        f"{engineering(henries, 'H')} or more"
    )


def _that_is(alone: list[str]) -> str:
    return f", which is {alone[0]} alone," if alone else ""


def _large(found: list[tuple[str, float]], enough: float) -> str:
    told = listed(f"{name} is {ohms(value)}" for name, value in found)
    return f"; of the bleeders {told}, where {ohms(enough)} is critical" if told else ""


RULES = (choke_below_critical,)
