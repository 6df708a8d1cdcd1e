"""What transistors see in every state against what kills them: volts, amperes, heat."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.bias_network import bias_makers
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, volts, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import Use, most, over
from coldcheck.solve.solution import COLD, HIGH, LOW, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Transistor
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

SHEET = Citation("maker-sheet")
INVERTED_V = 1.0
"""More than a junction's volts from emitter to collector: it is not merely switched hard on."""

RUNNING = (COLD, WARM, HIGH, LOW, STANDBY)
AIR = Threshold("air around a transistor in a set, degrees Celsius", 50.0, "", PRACTICE)
JUNCTION = Threshold("junction of a transistor, degrees Celsius", 150.0, "", SHEET)
WASHER = Threshold("insulating washer under a transistor, K/W", 0.5, "", PRACTICE)


@rule(
    "transistor.over-voltage",
    title="Transistor with more volts across it than it is rated",
    level="notice",
    states="every solved state; high line and cold are usually the worst",
    needs="a solved state and the rating of the type",
    criterion="The highest instant of the voltage across its current's path exceeds the rating; "
    "of a JFET that from its drain or its source to its gate.",
    why="Beyond its rating a transistor breaks down; nothing but the supply's resistance limits "
    "the current then, and it fails as a short, which puts the whole supply on what it fed. A JFET "
    "breaks down at its gate, which is further from the drain than the source is.",
    source=SHEET,
    limits="Steady states only: what a capacitor that is still empty, an inductance that is "
    "switched off or a short at the output adds for a moment is not in the figure.",
)
def over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare the highest volts of every path with the type's."""
    for one in case.circuit.transistors.values():
        yield from _compared(over_voltage, case, one, one.type.family.volts, across, _too_high)


def _too_high(one: Transistor, seen: float, limit: float) -> tuple[str, str]:
    main, out, third = one.type.family.leads
    if one.type.family.junction:
        main, out = "drain or source", third
    return (
        f"{one.name} has {volts(seen)} from {main} to {third if one.type.family.fixed else out}; "
        f"{one.type.name} is rated {volts(limit)}",
        f"Use a type for {volts(1.25 * seen)} or more, or feed it with less",
    )


def _compared(
    which: Rule,
    case: Case,
    one: Transistor,
    name: str,
    measure: Callable[[Transistor, Solution], Figure | None],
    words: Callable[[Transistor, float, float], tuple[str, str]],
    kinds: tuple[str, ...] = (),
) -> Iterator[Outcome]:
    """Compare the most of a figure with the rating ``name``; ``words`` are message and remedy."""
    limit = one.type.figure(name)
    reason = unsolved(case) if limit is not None else f"no {name} of {one.type.name} is on file"
    if limit is None or reason is not None:
        yield which.not_judged((one.name,), reason or "")
        return
    use = most(case, kinds, partial(measure, one))
    if use is not None and use.beyond(limit.value):
        told = words(one, use.figure.value, limit.value)
        holder = _held_by(case, one) if which is over_voltage else ()
        if holder:
            told = (f"{told[0]}: {holder[0]} above it holds it near its grid, which "
                    f"{listed(holder[1:])} set too high", told[1])  # fmt: skip
        yield over(which, case, (one.name, *holder), use, limit.value, told, source=limit.cited)


def _held_by(case: Case, one: Transistor) -> tuple[str, ...]:
    """The tube that stands on a transistor as its cascode, and the divider of that tube's grid."""
    inlet = one.nets.get("drain", one.nets.get("collector"))
    upper = [s for s, e in case.circuit.electrodes_at(inlet) if e == "cathode"] if inlet else []
    if len(upper) != 1 or upper[0].net("grid") is None:
        return ()
    divider = bias_makers(case.circuit, upper[0], case.warm)[1]
    return (upper[0].name, *divider) if divider else ()


def across(one: Transistor, solution: Solution) -> Figure | None:
    """The highest instant of the volts that its rating is for: mostly those across its path."""
    if one.type.family.junction:
        return _blocked(one, solution)
    far = one.control if one.type.family.fixed else one.channel
    ends = (one.channel.a, far.b) if one.type.family.sign > 0 else (far.a, one.channel.b)
    wave = solution.between(*ends)
    return None if wave is None else figure(max(wave.high, 0.0), "V")


def _blocked(one: Transistor, solution: Solution) -> Figure | None:
    """What a JFET's gate blocks, to the end of the channel that is further from it."""
    gate, sign = one.nets["gate"], one.type.family.sign
    waves = [solution.between(one.nets[end], gate) for end in ("drain", "source")]
    known = [sign * wave.samples for wave in waves if wave is not None]
    return figure(max(0.0, float(np.max(known))), "V") if len(known) == len(waves) else None


@rule(
    "transistor.gate-over-voltage",
    title="Gate with more volts to its source than its insulation is rated",
    level="notice",
    states="every solved state",
    needs="a solved state and the rating of the type",
    criterion="The voltage from gate to source exceeds the rating at any instant, either way.",
    why="The insulation of a gate is a thousandth of a hair thick. It breaks down for good: the "
    "gate is shorted to the channel, and the transistor with it.",
    source=SHEET,
    limits="Steady states only; what happens while capacitors are empty is "
    "transistor.gate-unprotected's.",
)
def gate_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare gate to source with the rating in every state."""
    for one in case.circuit.transistors.values():
        if one.type.family.insulated:
            name = "gate-source-voltage"
            yield from _compared(gate_over_voltage, case, one, name, _steering, _punctured)


def _punctured(one: Transistor, seen: float, limit: float) -> tuple[str, str]:
    return (
        f"{one.name} has {volts(seen)} between gate and source; its gate is rated {volts(limit)}",
        "Put a zener of 10 to 15 V from source to gate, behind a resistor in the gate's lead, or "
        "find what keeps the source from following",
    )


@rule(
    "transistor.base-reversed",
    title="Base with more volts against its emitter than the junction stands the wrong way",
    level="notice",
    states="every solved state",
    needs="a solved state and the rating of the type",
    criterion="The emitter of an NPN transistor is above its base (of a PNP one below) by more "
    "than the rating at any instant.",
    why="The junction of base and emitter breaks down at a few volts. It survives where little "
    "flows, and its gain does not.",
    source=SHEET,
    limits="Steady states only: a base that a capacitor pulls down when something is switched is "
    "not in the figure.",
)
def base_reversed(case: Case) -> Iterator[Outcome]:
    """Compare emitter to base with the rating in every state."""
    for one in case.circuit.transistors.values():
        if one.type.family.bipolar:
            name = "emitter-base-voltage"
            words = partial(_backwards, case)
            yield from _compared(base_reversed, case, one, name, _against, words)


def _backwards(case: Case, one: Transistor, seen: float, limit: float) -> tuple[str, str]:
    said = (
        f"{one.name} has {volts(seen)} between emitter and base the wrong way; {one.type.name} is "
        f"rated {volts(limit)}"
    )
    across = case.warm.between(one.channel.a, one.channel.b)
    if across is not None and across.dc < -INVERTED_V:
        return (
            f"emitter and collector of {one.name} look exchanged: {volts(-across.dc)} stand across "
            f"it the wrong way, and {said.removeprefix(f'{one.name} has ')}",
            f"Exchange {one.name}.emitter and {one.name}.collector",
        )
    return (
        said,
        "Keep the base from being pulled so far; behind a resistor that limits what flows, a diode "
        f"from emitter to base of {one.name} does it (of a PNP type the other way)",
    )


def _against(one: Transistor, solution: Solution) -> Figure | None:
    wave = solution.between(one.control.b, one.control.a)
    return None if wave is None else figure(max(wave.high, 0.0), "V")


def _steering(one: Transistor, solution: Solution) -> Figure | None:
    wave = solution.between(one.control.a, one.control.b)
    return None if wave is None else figure(wave.peak, "V")


@rule(
    "transistor.overload",
    title="Transistor with more current than it is made for",
    level="notice",
    states="cold, warm, high line, low line and standby",
    needs="a solved state and the rating of the type",
    criterion="The largest instant of the current through it, of a JFET of that into its gate, is "
    "more than the rating.",
    why="Bond wires and the chip are made for so much; beyond it the figures of the sheet, heat "
    "included, say nothing any more. A JFET's channel limits itself; its gate, pulled beyond the "
    "source, is a diode that does not.",
    source=SHEET,
    limits="The charging of capacitors at switch-on is not in the figure.",
)
def overload(case: Case) -> Iterator[Outcome]:
    """Compare the peak current of every path with the type's."""
    for one in case.circuit.transistors.values():
        name = one.type.family.amps
        yield from _compared(overload, case, one, name, through, _too_much, RUNNING)


def _too_much(one: Transistor, seen: float, limit: float) -> tuple[str, str]:
    if one.type.family.junction:
        return (
            f"{amperes(seen)} flow at the gate of {one.name}, which conducts; {one.type.name} is "
            f"made for {amperes(limit)} there",
            f"Keep the gate of {one.name} from being pulled that way, or put a resistor in its "
            "lead",
        )
    return (
        f"{one.name} carries {amperes(seen)}; {one.type.name} is made for {amperes(limit)}",
        f"Use a type for {amperes(1.5 * seen)} or more, or find what draws that much",
    )


def through(one: Transistor, solution: Solution) -> Figure | None:
    """The largest instant of the current through it, of a JFET of that at its gate."""
    path = one.control if one.type.family.junction else one.channel
    wave = solution.current(path.name)
    return None if wave is None else figure(wave.peak, "A")


@rule(
    "transistor.dissipation",
    title="Transistor that gets hotter than it may",
    level="notice",
    states="cold, warm, high line, low line and standby",
    needs="a solved state, the type's resistances to heat, and its heat sink where it has one",
    criterion=(
        f"The mean power is more than takes the junction from {AIR.value:g} to "
        f"{JUNCTION.value:g} degrees Celsius: through the case, a washer of {WASHER.value:g} K/W "
        f"and the heat sink written; without one through the case alone; or it is more than the "
        f"rated power, which is for a case held at 25 degrees."
    ),
    why="The watts on the first page of a sheet are for a case of 25 degrees, which no set has. "
    "What a transistor may take is decided by what it is screwed to. A junction that gets too hot "
    "shorts.",
    source=(SHEET, PRACTICE),
    limits="Where no heat sink is written, and the case alone would not do, it is not judged "
    "unless no heat sink could do. The safe area at high volts (second breakdown) is not looked "
    "at.",
    thresholds=(AIR, JUNCTION, WASHER),
)
def dissipation(case: Case) -> Iterator[Outcome]:
    """Compare the mean power with what its way to the air allows."""
    for one in case.circuit.transistors.values():
        if (reason := unsolved(case)) is not None:
            yield dissipation.not_judged((one.name,), reason)
            continue
        use = most(case, RUNNING, partial(power_of, one))
        if use is not None:
            yield from _hot(case, one, use)


def power_of(one: Transistor, solution: Solution) -> Figure | None:
    """The mean power of a transistor, watts."""
    total = 0.0
    for path in (one.channel, one.control):
        across, through = solution.between(path.a, path.b), solution.current(path.name)
        if across is None or through is None:
            return None
        total += float(np.mean(across.samples * through.samples))
    return figure(total, "W")


def _hot(case: Case, one: Transistor, use: Use) -> Iterator[Outcome]:
    alone, rated = _alone(one), one.type.figure("dissipation")
    most_of = alone if one.sink is None else _fitted(one)
    if one.sink is None and one.type.figure("junction-case") and (not alone or use.beyond(alone)):
        most_of = rated.value if rated is not None and use.beyond(rated.value) else None
    if most_of is None:
        yield dissipation.not_judged((one.name,), _unsaid(one, use, alone))
    elif use.beyond(most_of):
        power = use.figure.value
        yield over(
            dissipation, case, (one.name,), use, most_of,
            (f"{one.name} turns {watts(power)} into heat; as it is mounted {one.type.name} "
             f"may take {watts(most_of)}",
             "Take volts off it with a resistor in series, share the heat between two, or use a "
             "larger case or heat sink"),
        )  # fmt: skip


def _unsaid(one: Transistor, use: Use, alone: float | None) -> str:
    """Why nothing is said of the heat of one whose cooling is not known."""
    free = "" if alone is None else f"; without one it may take {watts(alone)}"
    if one.sink is None and one.type.figure("junction-case") is not None:
        return f"no heat sink is written; it turns {watts(use.figure.value)} into heat{free}"
    return f"no resistance to heat of {one.type.name} is on file"


def _room() -> float:
    return JUNCTION.value - AIR.value


def _alone(one: Transistor) -> float | None:
    """What it may take without a heat sink, watts."""
    to_air = one.type.figure("junction-ambient")
    return None if to_air is None else _room() / to_air.value


def _fitted(one: Transistor) -> float | None:
    """What it may take with the heat sink written, watts; ``None`` where it is without one."""
    to_case, sink = one.type.figure("junction-case"), si(one.sink, "kelvin_per_watt")
    rated = one.type.figure("dissipation")
    if to_case is None or sink is None:
        return None
    found = _room() / (to_case.value + WASHER.value + sink)
    return found if rated is None else min(found, rated.value)


RULES: tuple[Rule, ...] = (over_voltage, gate_over_voltage, base_reversed, overload, dissipation)
