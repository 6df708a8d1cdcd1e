"""Oscillators that cannot begin: fed back in the wrong sense, or too little."""

from __future__ import annotations

from itertools import chain, islice
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.controls import COLD
from coldcheck.anatomy.exchanged import exchanges
from coldcheck.anatomy.oscillators import STEEP_S, at_grid, pulled, regenerating, wound
from coldcheck.anatomy.starting import MOST_LOOPS, best, bypass_for, bypasses, loops
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import against, around, in_phase
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.exchanged import Exchange
    from coldcheck.anatomy.oscillators import Wound
    from coldcheck.anatomy.starting import Driven, Start
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.signal.oscillation import Around

SURE = Threshold(
    "loop gain under which an oscillation surely dies away", 0.85, "",
    Citation("practice", "a tube's amplification spreads by a tenth, a plate resistor as much"),
)  # fmt: skip
STARTS = 1.0
"""Loop gain from which an oscillation grows: what comes round in phase is what left, or more."""


@rule(
    "signal.oscillator-in-phase",
    title="Feedback winding of an oscillator the wrong way round",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the windings with their dots (at lead 1 where none is written), and what is around them",
    criterion=(
        "The grid of a stage and its plate, screen or cathode are on windings of one transformer "
        "or coil, and nothing else drives the grid; or its plate is on a tickler of a coil without "
        "iron that the grid is on with a signal from elsewhere. Where what the stage draws comes "
        f"back most strongly to its grid, with {1e3 * STEEP_S.value:g} mS as much as it was, it "
        "works against it; and with two leads of one winding exchanged it would work with it."
    ),
    why=(
        "The plate does the opposite of the grid, the cathode the same. To keep going, a feedback "
        "winding has to turn the first round once more, and the second not. Otherwise the feedback "
        "takes away from itself, and nothing oscillates; a detector's tickler damps the coil that "
        "it is to help."
    ),
    source=(Citation("arithmetic", "the linear network around the stage"), PRACTICE),
    limits="Coils of which no coupling is written are taken to couple a little. Coils without a "
    "second winding or a tap (Colpitts) have nothing to turn round. Parts of unknown value on the "
    "way are not judged.",
    thresholds=(STEEP_S,),
)
def oscillator_in_phase(case: Case) -> Iterator[Outcome]:
    """Look at each stage whose grid is on one core with what it drives."""
    alone = ((w, "nothing oscillates") for w in wound(case.circuit))
    helped = ((w, "there is no regeneration") for w in regenerating(case.circuit))
    for stage, ends in islice(chain(alone, helped), MOST_LOOPS):
        found = pulled(case.circuit, stage.section)
        if found is None or found.gain.real > -1:
            continue
        for exchange in exchanges(case.circuit, stage.core):
            turned = pulled(exchange.circuit, stage.section)
            if turned is not None and turned.gain.real >= 1:
                yield _opposed(case, stage, (found, ends), exchange)
                break


def _opposed(case: Case, stage: Wound, opposed: tuple[Around, str], exchange: Exchange) -> Finding:
    found, ends = opposed
    name, winding, (one, two) = stage.section.name, exchange.winding, exchange.leads
    return oscillator_in_phase.finding(
        case,
        (winding, name, *dict.fromkeys(n for n in (stage.core,) if n != winding)),
        f"What {name} draws comes back to its grid through {stage.core} in the wrong sense: it "
        f"takes away from itself, and {ends}",
        f"Exchange {winding}.{one} and {winding}.{two}",
        evidence={
            "frequency": figure(found.hertz, "Hz"),
            "loop_gain_at_most": figure(found.gain.real, ""),
        },
        certainty="certain",
    )


SLOWEST = Threshold(
    "frequency below which no oscillator is meant to work", 1.0, "Hz",
    Citation("practice", "tremolos begin at two or three"),
)  # fmt: skip


@rule(
    "signal.oscillator-reversed",
    title="Oscillator whose frequency network comes from the wrong side",
    level="notice",
    blame=Blame.SLIP,
    states="warm",
    needs="a solved warm state, and every value around the loop",
    criterion="What a stage gives its own grid through capacitors and resistors comes back most "
    "strongly, a decade to either side less than half as much, and there against what it was; in "
    f"phase it comes back below {SLOWEST.value:g} Hz or nowhere.",
    why="A bridge of capacitors and resistors turns nothing at its frequency: it has to begin "
    "where the signal stands as at the grid, behind two stages or at a cathode. From the stage's "
    "own plate it takes away at that very frequency, and nothing oscillates.",
    source=(
        Citation("arithmetic", "the loop gain of the linear network, phase by phase"),
        PRACTICE,
    ),
    limits="Networks that turn the phase themselves (three legs) have no such peak. Lamps and "
    "thermistors are taken warm.",
    thresholds=(SLOWEST,),
)
def oscillator_reversed(case: Case) -> Iterator[Outcome]:
    """Look for the peak of each loop through parts, and at its sense."""
    warm = case.solutions.get("warm")
    for driven in loops(case.circuit) if warm is not None and warm.converged else ():
        if driven.core is not None:
            continue
        try:
            linear = Linearised(case.circuit, case.warm)
            right, wrong = in_phase(linear, driven.section), against(linear, driven.section)
            slow = right is None or right.hertz < SLOWEST.value
            if wrong is not None and slow and wrong.hertz > SLOWEST.value:
                yield _reversed(case, linear, driven, wrong)
        except (Unsolvable, np.linalg.LinAlgError):
            continue  # oscillator-too-weak says that it was not judged


def _reversed(case: Case, linear: Linearised, driven: Driven, wrong: Around) -> Finding:
    section, circuit = driven.section, case.circuit
    parts, start = _first_parts(circuit, driven)
    ends = [(s, e, s.electrodes[e]) for s in circuit.sections() for e in ("plate", "cathode")
            if s.name != section.name and e in s.electrodes]  # fmt: skip
    volts = around(linear, section, wrong.hertz, [n for _, _, n in ends])
    points = [f"{s.name}.{e}" for (s, e, _), v in zip(ends, volts, strict=True) if v > 1]
    where = f", for instance {points[-1]}" if points else ""
    first = f"{listed(parts)} {'brings' if len(parts) == 1 else 'bring'}" if parts else "they bring"
    return oscillator_reversed.finding(
        case,
        (*parts, section.name, *driven.others),
        f"what {section.name} gets back of its own at {engineering(wrong.hertz, 'Hz')} comes "
        f"against what is at its grid: {first} it from {start}",
        f"Take {listed(parts) or 'the network'} from where the signal stands as at the grid of "
        f"{section.name}{where}",
        state="warm",
        evidence={"loop_gain": figure(wrong.gain.real, ""), "frequency": figure(wrong.hertz, "Hz")},
        certainty="likely",
    )


def _first_parts(circuit: Circuit, driven: Driven) -> tuple[list[str], str]:
    """The parts at a plate of the loop that lead into its grid's network, and that plate."""
    section = driven.section
    nets, plate = at_grid(circuit, section), section.net("plate")
    at = circuit.at(plate) if plate is not None else ()
    found = [b.owner for b in at if b.kind is PartKind.CAPACITOR and b.other(plate or "") in nets]
    return found, f"{section.name}.plate"


@rule(
    "signal.oscillator-too-weak",
    title="Oscillator with a loop gain under one",
    level="notice",
    states="warm",
    needs="a solved warm state, and every value around the loop",
    criterion=(
        "A stage's own grid, or a pair's, is driven by nothing but what it gives through "
        "capacitors and resistors, or through windings of one coil of known coupling, and at the "
        f"frequency at which that comes back in phase it is less than {SURE.value:g} times what "
        "it was, with each control at the end that is best for it. Advice up to "
        f"{STARTS:g}."
    ),
    why=(
        "Three equal legs of capacitor and resistor leave a twenty-ninth of the plate's swing, a "
        "Wien bridge a third: the stage has to make good for that, or what noise begins dies "
        "away. A cathode resistor without its bypass, a tube of too small an amplification or a "
        "leg of another value is all it takes."
    ),
    source=(
        Citation("arithmetic", "the loop gain of the linear network, phase by phase"),
        Citation("textbooks-1950s", "29 for three equal legs, 3 for the bridge"),
    ),
    limits="Lamps and thermistors are taken cold where that helps, up to four pots at their ends "
    "one after another, switches as the solved states have them, capacitors as drawn. "
    "Interelectrode capacitances are not in it, nor what coils lose besides their copper. "
    "Converters' first grids have no law and are not judged.",
    thresholds=(SURE, COLD),
)
def oscillator_too_weak(case: Case) -> Iterator[Outcome]:
    """Work out the loop gain of each stage that drives itself."""
    warm = case.solutions.get("warm")
    for driven in loops(case.circuit) if warm is not None and warm.converged else ():
        if not _comes_back(case.circuit, driven):
            continue
        try:
            start = best(case, driven, STARTS)
        except (Unsolvable, np.linalg.LinAlgError) as problem:
            name = driven.section.name
            yield oscillator_too_weak.not_judged((name,), f"the loop gain of {name}: {problem}")
            continue
        if start is not None and start.gain < STARTS:
            yield _weak(case, start)


def _comes_back(circuit: Circuit, driven: Driven) -> bool:
    """Whether a coil is meant to keep a stage going; capacitors and resistors at a grid are."""
    if driven.core is None:
        return True
    found = pulled(circuit, driven.section)
    return found is not None and found.gain.real >= 1


def _weak(case: Case, start: Start) -> Finding:
    section, gain = start.driven.section, start.gain
    name, bypass = section.name, bypass_for(start, STARTS / SURE.value)
    parts = bypasses(case.circuit, section) if bypass else ()
    turned = f" with {listed(start.turned)} at the best end" if start.turned else ""
    return oscillator_too_weak.finding(
        case,
        (*parts, name, *start.driven.others),
        f"{name} gets {gain:.2f} of what is at its grid back in phase, at "
        f"{engineering(start.around.hertz, 'Hz')}{turned}: it "
        + ("does not oscillate" if gain < SURE.value else "hardly begins to oscillate"),
        _cure(case.circuit, start, bypass),
        state="warm",
        evidence={
            "loop_gain": figure(gain, ""), "frequency": figure(start.around.hertz, "Hz"),
        },
        limit=figure(STARTS, ""),
        certainty="likely",
        excess=STARTS / max(gain, 1e-3),
        level=None if gain < SURE.value else "advice",
    )  # fmt: skip


def _cure(circuit: Circuit, start: Start, bypass: float | None) -> str:
    section = start.driven.section
    if start.driven.core is not None:
        return f"Give the smaller winding of {start.driven.core} more turns, or couple it closer"
    if bypass is None:
        return f"Give {section.name} a larger amplification, or its grid more of what comes back"
    own = bypasses(circuit, section)
    value = engineering(bypass, "F")
    return (
        f"Use {value} or more for {own[0]}"
        if own
        else f"Hold {section.name}.cathode still: {value} or more from there to gnd"
    )


RULES: tuple[Rule, ...] = (oscillator_in_phase, oscillator_reversed, oscillator_too_weak)
