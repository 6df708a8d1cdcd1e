"""Screens on the taps of an output transformer's primary: on their own, and not swapped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_stage, supplies
from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.output_stage import HALVES, output_tubes
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome

PARTNER = {"p1": "u1", "p2": "u2", "u1": "p1", "u2": "p2"}


@rule(
    "output.taps-swapped",
    title="Screen on the wrong lead of a tapped primary",
    level="notice",
    blame=Blame.WIRING,
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
    """Each screen that is on the primary at all; both of a pair on one another's half are one."""
    stages = [s for s in output_tubes(case.circuit) if s.section.kind is SectionKind.PENTODE]
    stages = [s for s in stages if s.tap not in (None, s.lead)]
    across = [s for s in stages if s.tap in HALVES.get(s.lead, ())]
    crossed = [s for s in across if any(_meets(s, other) for other in across)]
    for output in dict.fromkeys(s.output.name for s in crossed):
        yield _crossed(case, [s for s in crossed if s.output.name == output])
    for stage in stages:
        if stage in across and stage not in crossed:
            yield _finding(case, stage, "the other tube's half")
        elif stage not in across and stage.lead.startswith("u"):
            yield _finding(case, stage, "the end of the winding")


def _meets(one: OutputTube, other: OutputTube) -> bool:
    """Whether each of two screens is where the other would be right: exchanged, both are."""
    same = one.output.name == other.output.name
    return same and PARTNER[one.lead] == other.tap and PARTNER[other.lead] == one.tap


def _crossed(case: Case, pair: list[OutputTube]) -> Finding:
    transformer = pair[0].output.name
    names, stoppers = [s.section.name for s in pair], [_stoppers(case.circuit, s) for s in pair]
    ways = listed(f"{_screen(s, by)} on {transformer}.{s.tap}"
                  for s, by in zip(pair, stoppers, strict=True))  # fmt: skip
    plates = listed(f"{s.section.name}.plate on {transformer}.{s.lead}" for s in pair)
    taps = listed(dict.fromkeys(f"{transformer}.{s.tap}" for s in pair))
    return taps_swapped.finding(
        case,
        (*(f"{name}.screen" for name in names), *(n for by in stoppers for n in by), transformer),
        f"the screens of {listed(names)} are crossed: {ways}, each on the other tube's half "
        f"({plates})",
        f"Exchange what is on {taps}. Leave the plates where they are: exchanged, they mend this "
        "too, and turn round any feedback that is taken from the secondary",
        evidence={s.section.name: f"plate on {s.lead}, screen on {s.tap}" for s in pair},
        certainty="certain",
    )


def _screen(stage: OutputTube, stoppers: tuple[str, ...]) -> str:
    by = f" by {listed(stoppers)}" if stoppers else ""
    return f"{stage.section.name}.screen{by}"


def _stoppers(circuit: Circuit, stage: OutputTube) -> tuple[str, ...]:
    """The resistors right between a screen and the lead it is on."""
    net, lead = stage.section.net("screen"), dict(stage.output.leads).get(str(stage.tap))
    if net is None or net == lead:
        return ()
    return tuple(b.owner for b in resistors_at(circuit, net) if b.other(net) == lead)


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
