"""Feedback around an amplifier: whether it takes from the input or adds to it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from numpy.linalg import LinAlgError

from coldcheck.anatomy import feedback_loops
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.feedback_loops import return_ratio, ways_back
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.output_stage import output_tubes
from coldcheck.anatomy.starting import by_parts
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.feedback_loops import Back
    from coldcheck.anatomy.starting import Driven
    from coldcheck.circuit.model import Circuit, OutputTransformer
    from coldcheck.judge.finding import Finding, Outcome

SURELY = Threshold("times the loop gain from which it is certain", 10.0, "", PRACTICE)
ADDS = Threshold("loop gain of a feedback that adds", 0.05, "", PRACTICE)
"""A loop gain below this is neither here nor there."""


@rule(
    "signal.positive-feedback",
    title="Feedback that adds to the input",
    level="notice",
    states="the nominal state, at 1 kHz",
    needs="a solved nominal state, and a resistor or capacitor that leads from the secondary of an "
    "output transformer, or from a plate or a follower's cathode, back to an earlier stage",
    criterion="The gain once around the loop, with the part taken out and its place measured, is "
    "above +0.05. From +1 on the loop sustains itself.",
    why="Feedback makes an amplifier better only while it takes something from the input. With "
    "one reversal too many or too few it adds: the gain rises, and from a loop gain of 1 on the "
    "amplifier is an oscillator at full power. The ends of the secondary, or the plate leads of "
    "the primary, are swapped.",
    source=(Citation("bode-1945", "return ratio of a part"), Citation("practice", "the sign rule")),
    limits="Rests on the polarity dots: where the drawing has none, p1 and s1 are taken to be in "
    "step. Loops closed into a grid are not looked for. Whether "
    "the loop stays quiet above and below the band is not judged: stray capacitance and leakage "
    "inductance are not on file. A little positive feedback on purpose is not "
    "distinguished from a mistake. Around an oscillator of capacitors and resistors nothing is "
    "judged.",
    thresholds=(ADDS, SURELY, feedback_loops.NEAR_OHM),
)
def positive_feedback(case: Case) -> Iterator[Outcome]:
    """The gain around every loop that a part closes from an output back to an earlier stage."""
    backs = list(ways_back(case.circuit))
    loops = by_parts(case.circuit) if backs else ()
    swinging = {n for d in loops for n in _nets(case.circuit, d)} - set(LANDMARKS)
    for back in backs:
        if swinging & {back.near, back.far}:
            continue  # an oscillator: its other loop is not cut when this one's gain is taken
        reason = unsolved_reason(case)
        try:
            loop = None if reason else return_ratio(case.circuit, case.warm, back)
        except (Unsolvable, LinAlgError) as problem:
            loop, reason = None, f"the loop could not be worked out: {problem}"
        if loop is None:
            reason = reason or "a value in the loop is not known"
            yield positive_feedback.not_judged(back.names, reason)
        elif loop.real > ADDS.value:
            yield _finding(case, back, loop.real)


def _nets(circuit: Circuit, driven: Driven) -> Iterator[str]:
    """The nets of the stages of a loop."""
    names = {driven.section.name, *driven.others}
    yield from (n for s in circuit.sections() if s.name in names for n in s.electrodes.values())


def _finding(case: Case, back: Back, loop: float) -> Finding:
    circuit = case.circuit
    far, near = net_text(circuit, back.far), net_text(circuit, back.near)
    owner = (back.output.name,) if back.output else ()
    plates = _plates(circuit, back.output)
    if loop >= 1:
        result = "it oscillates"
    else:
        result = f"the gain is {1 / (1 - loop):.3g} times what it is without"
    verb = "leads" if len(back.names) == 1 else "lead"
    return positive_feedback.finding(
        case,
        (*back.names, *owner, *plates),
        f"{listed(back.names)} {verb} from {far} back to {near} with a loop gain of {loop:+.3g}: "
        f"the feedback adds to the input, and {result}{_exchanged(back.output, plates)}",
        _remedy(back.output, far, near),
        state="warm",
        evidence={"loop_gain_ratio": figure(loop, ""), "limit_ratio": ADDS.figure},
        certainty="certain" if loop > SURELY.value * ADDS.value else "likely",
        excess=loop / ADDS.value,
    )


def _plates(circuit: Circuit, output: OutputTransformer | None) -> tuple[str, ...]:
    """The plates of the pair on a transformer, by lead; none where it is no pair."""
    stages = [s for s in output_tubes(circuit) if s.output is output and s.push_pull]
    return tuple(f"{s.section.name}.plate" for s in stages)


def _exchanged(output: OutputTransformer | None, plates: tuple[str, ...]) -> str:
    """Which leads are likely in one another's place."""
    if output is None or not plates:
        return ""
    name = output.name
    return f". Likely exchanged at {name}: {listed(plates)}, or {name}.s1 and {name}.s2"


def _remedy(output: OutputTransformer | None, far: str, near: str) -> str:
    if output is None:
        return (
            f"Take the feedback from a point that moves the other way than {far}, or bring it to "
            f"the grid's side of that tube in place of {near}"
        )
    name = output.name
    taps = f", and {name}.u1 with {name}.u2" if "u2" in dict(output.leads) else ""
    return (
        f"Swap the ends of the secondary ({name}.s1 and {name}.s2), with gnd and the feedback on "
        f"the other one, or swap the plate leads {name}.p1 and {name}.p2{taps}; check the dots "
        "of the transformer itself"
    )


RULES: tuple[Rule, ...] = (positive_feedback,)
