"""Regulators with three leads: headroom, the least load, and what they see at switch-on."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.held_down import held_down
from coldcheck.anatomy.reach import feeding, reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import BARELY, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import LOW, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transistor, Winding
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

SHEET = Citation("maker-sheet")
OUTPUT_F = Threshold(
    "capacitor that keeps a regulator's output down at switch-on", 1e-6, "F", PRACTICE
)


def _regulators(case: Case) -> Iterator[Transistor]:
    return (q for q in case.circuit.transistors.values() if q.type.family.regulates)


def _of_volts(winding: Winding) -> str:
    rms = si(winding.volts, "volt")
    return "" if rms is None else f" of {volts(rms)}"


def _windings(circuit: Circuit, net: str) -> list[Winding]:
    """The windings whose rectifiers feed a point, straight or through metal."""
    rails = set(reach(feeding(circuit), [net], LANDMARKS)) - set(LANDMARKS)
    ends = {b.a for b in circuit.branches.values() if b.kind is PartKind.DIODE and b.b in rails}
    return [w for w in circuit.windings() if not w.primary and ends & set(w.nets)]


@rule(
    "transistor.regulator-dropout",
    title="Regulator without the volts it needs across it",
    level="notice",
    states="warm, and low line as advice",
    needs="a solved state and the dropout voltage of the type",
    criterion="The lowest instant of the voltage from input to output is less than the type's "
    "dropout voltage, which is for its rated current.",
    why="Below that a regulator regulates nothing: what ripple the input has comes out, and the "
    "volts go down with the mains.",
    source=SHEET,
    limits="With little current a regulator does with some tenths of a volt less.",
)
def regulator_dropout(case: Case) -> Iterator[Outcome]:
    """Compare the lowest volts across each regulator with what it needs."""
    reason = unsolved(case)
    for one in _regulators(case):
        least = one.type.figure("dropout-voltage")
        if least is None or reason is not None:
            why = reason or f"no dropout voltage of {one.type.name} is on file"
            yield regulator_dropout.not_judged((one.name,), why)
            continue
        for solution in case.solved(WARM, LOW):
            wave = solution.between(one.channel.a, one.channel.b)
            if wave is None or wave.low * BARELY >= least.value:
                continue
            seen = max(wave.low, 0.0)
            wound = _windings(case.circuit, one.nets["in"])
            behind = (f", behind {w.name}{_of_volts(w)}" for w in wound)
            yield regulator_dropout.finding(
                case,
                (one.name, *(w.name for w in wound)),
                f"{one.name} has {volts(seen)} from input to output at the worst instant"
                f"{''.join(behind)}; {one.type.name} needs {volts(least.value)}",
                "Give it a higher supply or a larger reservoir capacitor, or use a type that needs "
                "less",
                state=solution.state.name,
                level=None if solution.state.kind == WARM else "advice",
                evidence={"across": figure(seen, "V")},
                limit=figure(least.value, "V"),
                certainty=certainty(least.value / max(seen, 0.1)),
                source=least.cited,
                excess=least.value / max(seen, 0.1),
            )


@rule(
    "transistor.regulator-unloaded",
    title="Adjustable regulator with less load than it is sure to need",
    level="advice",
    states="warm",
    needs="a solved state and the least load of the type",
    criterion="The current through it is less than the least load that its sheet asks for.",
    why="What such a regulator needs itself comes out of its output. Where nobody takes it the "
    "output rises, up to the input.",
    source=SHEET,
    limits="Usual copies need a third of what the sheet asks for, and so they are solved.",
)
def regulator_unloaded(case: Case) -> Iterator[Outcome]:
    """Compare what flows through each adjustable regulator with what it needs."""
    reason = unsolved(case)
    for one in _regulators(case):
        least = one.type.figure("minimum-load")
        if least is None:
            continue
        if reason is not None:
            yield regulator_unloaded.not_judged((one.name,), reason)
            continue
        wave = case.warm.current(one.channel.name)
        if wave is not None and abs(wave.dc) * BARELY < least.value:
            got = abs(wave.dc)
            yield regulator_unloaded.finding(
                case,
                (one.name,),
                f"{one.name} is loaded with {engineering(got, 'A')}; {one.type.name} is only sure "
                f"to regulate from {engineering(least.value, 'A')} on",
                "Make the resistor from its output to adj smaller: 120 ohm take 10 mA",
                state=WARM,
                evidence={"load": figure(got, "A")},
                limit=figure(least.value, "A"),
                certainty="possible",
                source=least.cited,
                excess=least.value / max(got, 1e-4),
            )


@rule(
    "transistor.regulator-start",
    title="Adjustable regulator whose input alone is more than it may have across it",
    level="notice",
    states="every solved state",
    needs="a solved state and the rating of the type",
    criterion=(
        f"A capacitor of {OUTPUT_F.value * 1e6:g} uF or more is on its output, nothing clamps its "
        f"input to its output, and from its input to that capacitor's other end are more volts "
        f"than it may have across it."
    ),
    why="While the capacitor is empty, at switch-on, and when the output is shorted, all the input "
    "is across the regulator. One that floats on a high voltage is well until then.",
    source=(SHEET, PRACTICE),
    limits="How fast the input comes up, and what the regulator's own limit of current does, is "
    "not worked out.",
    thresholds=(OUTPUT_F,),
)
def regulator_start(case: Case) -> Iterator[Outcome]:
    """Compare the volts from each input to what holds its output with the rating."""
    reason = unsolved(case)
    for one in _regulators(case):
        limit, held = (
            one.type.figure("input-output-voltage"),
            held_down(case.circuit, one.nets["out"], OUTPUT_F.value),
        )
        if limit is None or held is None or _clamped(case.circuit, one):
            continue
        if reason is not None:
            yield regulator_start.not_judged((one.name,), reason)
            continue
        use = most(case, (), partial(_whole, one, held))
        if use is not None and use.beyond(limit.value):
            yield over(
                regulator_start, case, (one.name,), use, limit.value,
                (f"while {held.name} is empty, or its output shorted, {one.name} has "
                 f"{volts(use.figure.value)} from input to output; {one.type.name} is rated "
                 f"{volts(limit.value)}",
                 f"Put a zener for less from its output to its input, or a transistor for high "
                 f"volts before {one.name}"),
                source=limit.cited,
            )  # fmt: skip


def _clamped(circuit: Circuit, one: Transistor) -> bool:
    """Whether a zener lies between input and output."""
    ends = {one.nets["in"], one.nets["out"]}
    return any(b.kind is PartKind.ZENER and {b.a, b.b} == ends for b in circuit.at(one.nets["in"]))


def _whole(one: Transistor, held: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(one.nets["in"], held.other(one.nets["out"]))
    return None if wave is None else figure(wave.peak, "V")


@rule(
    "transistor.adjustment-open",
    title="Adjustable regulator with both its resistors on the output",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the adjusting lead",
    criterion="Two resistors or more are on the adjusting lead of a regulator, all of them lead to "
    "its output, and no other direct current passes there.",
    why="The upper resistor carries the reference's current, and the lower one makes the output of "
    "it. With both at the output nothing holds the adjusting lead down: it follows the output, and "
    "that goes up to all the input has.",
    source=SHEET,
    limits="One resistor alone from the output, as in a source of current, is left alone.",
)
def adjustment_open(case: Case) -> Iterator[Outcome]:
    """Look at what is on each adjusting lead."""
    for one in _regulators(case):
        if not one.type.family.adjustable:
            continue
        adj, out = one.nets["adj"], one.nets["out"]
        at = [b for b in case.circuit.at(adj) if b.traits.metal and b.a != b.b]
        if len(at) > 1 and all(b.kind is PartKind.RESISTOR and b.other(adj) == out for b in at):
            last = at[-1].owner
            yield adjustment_open.finding(
                case,
                (last, one.name, *(b.owner for b in at[:-1])),
                f"{listed(b.owner for b in at)} both lead from {one.name}.adj to {one.name}.out: "
                "nothing holds the adjusting lead, and the output goes up to what the input has",
                f"Take {last}, or whichever is to set the volts, from {one.name}.adj to gnd",
                certainty="certain",
            )


RULES: tuple[Rule, ...] = (
    regulator_dropout,
    regulator_unloaded,
    regulator_start,
    adjustment_open,
)
