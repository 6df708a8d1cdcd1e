"""Screens on the taps of an output transformer's primary: on their own, and not swapped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_stage, supplies
from coldcheck.anatomy.output_stage import HALVES, output_tubes
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.judge.finding import Finding, Outcome

PARTNER = {"p1": "u1", "p2": "u2", "u1": "p1", "u2": "p2"}


@rule(
    "output.taps-swapped",
    title="Screen on the wrong lead of a tapped primary",
    level="notice",
    states="the drawing alone",
    needs="an output transformer with taps for the screens",
    criterion="A plate is on a tap and its screen on the end of the winding; or a screen is on "
    "the tap or end of the other tube's half.",
    why="At the end of the winding the swing is largest: the screen goes far above the supply on "
    "every other half wave, and the plate gives a part of its power. On the other half its swing "
    "works against the tube: positive feedback, and the stage oscillates.",
    source=Citation("textbooks-1950s", "distributed loading"),
    limits="A stopper of up to 4.7 kohm in the screen lead and 220 ohm in the plate lead is "
    "looked through. A tube whose screen is on its own plate works as a triode.",
    thresholds=(
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def taps_swapped(case: Case) -> Iterator[Outcome]:
    """Each screen that is on the primary at all."""
    for stage in output_tubes(case.circuit):
        if stage.section.kind is not SectionKind.PENTODE or stage.tap in (None, stage.lead):
            continue
        if stage.tap in HALVES.get(stage.lead, ()):
            yield _finding(case, stage, "the other tube's half")
        elif stage.lead.startswith("u"):
            yield _finding(case, stage, "the end of the winding")


def _finding(case: Case, stage: OutputTube, where: str) -> Finding:
    name, transformer = stage.section.name, stage.output.name
    own = stage.lead.replace("u", "p")
    return taps_swapped.finding(
        case,
        (name, transformer),
        f"{name}: its plate is on {transformer}.{stage.lead} and its screen on "
        f"{transformer}.{stage.tap}, {where}",
        f"Join {name}.plate to {transformer}.{own} and {name}.screen (through 470 ohm to "
        f"1 kohm) to {transformer}.{PARTNER[own]}",
        evidence={"plate_on": stage.lead, "screen_on": str(stage.tap)},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (taps_swapped,)
