"""A capacitor across the feedback resistor that takes the upper half of the band."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy.feedback_loops import ways_back
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.feedback_loops import Back
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

CORNER = Threshold(
    "corner of a capacitor across a feedback resistor", 5e3, "Hz",
    Citation("practice", "it sets in above the band, at 30 to 200 kHz"),
)  # fmt: skip


@rule(
    "signal.feedback-capacitor-too-large",
    title="Capacitor across a feedback resistor that shorts it within the band",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of a resistor and a capacitor side by side from a secondary to an earlier "
    "stage",
    criterion="The corner of a resistor that brings feedback from the secondary of an output "
    f"transformer, and of the capacitor across it, is below {CORNER.value / 1e3:g} kHz.",
    why="The capacitor is to turn the phase where the transformer's own fall begins, far above the "
    "band. A thousand times as large it feeds all of the output back from some hundred hertz on: "
    "the treble is gone, and with so much feedback the amplifier may howl.",
    source=(Citation("arithmetic", "f = 1 / (2 pi R C)"), PRACTICE),
    limits="Tone controls within the loop have more parts than these two, and are left alone.",
    thresholds=(CORNER,),
)
def feedback_capacitor_too_large(case: Case) -> Iterator[Outcome]:
    """Look at what lies side by side on every way back from a secondary."""
    for back in ways_back(case.circuit):
        resistors = [b for b in back.parts if b.kind is PartKind.RESISTOR]
        capacitors = [b for b in back.parts if b.kind is PartKind.CAPACITOR]
        if back.output is not None and len(resistors) == len(capacitors) == 1:
            yield from _judged(case, back, resistors[0], capacitors[0])


def _judged(case: Case, back: Back, resistor: Branch, capacitor: Branch) -> Iterator[Finding]:
    ohm, farad = resistor.ohms, capacitor.farads
    corner = 1 / (2 * math.pi * ohm * farad) if ohm and farad else math.inf
    if corner < CORNER.value:
        yield _finding(case, back, (resistor, capacitor), corner)


def _finding(case: Case, back: Back, parts: tuple[Branch, Branch], corner: float) -> Finding:
    resistor, capacitor = parts
    far, near = net_text(case.circuit, back.far), net_text(case.circuit, back.near)
    farad = capacitor.farads or 0.0
    return feedback_capacitor_too_large.finding(
        case,
        (capacitor.owner, resistor.owner),
        f"{capacitor.owner} ({engineering(farad, 'F')}) lies across {resistor.owner}, by which "
        f"{far} feeds back to {near}: above {engineering(corner, 'Hz')} it shorts it, and the "
        "treble is fed back whole",
        f"Look for another unit on the drawing of {capacitor.owner}: some "
        f"{engineering(farad * corner / USUAL_HZ, 'F')} are usual there",
        evidence={"corner": figure(corner, "Hz")},
        limit=CORNER.figure,
        certainty="likely",
        excess=CORNER.value / corner,
    )


USUAL_HZ = 100e3
"""Where such a capacitor usually sets in (common practice)."""

RULES: tuple[Rule, ...] = (feedback_capacitor_too_large,)
