"""Sections of a tube that the drawing does not use, and leaves floating."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import AMPLIFYING, drawn, wired
from coldcheck.anatomy.working import parked
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "tube.unused-section",
    title="Unused section left floating",
    level="advice",
    states="the drawing alone",
    needs="the wiring of the tube; no values",
    criterion="A section with a grid has nothing wired to it, or has its plate unused and its grid "
    "or cathode floating, while another section of the same tube is in use.",
    why="The heater warms it all the same. Its electrodes charge up and drift, pick up hum, and a "
    "cathode that hangs free rises until the insulation to the heater takes the voltage.",
    source=PRACTICE,
    limits="A section that will be drawn later looks the same.",
)
def unused(case: Case) -> Iterator[Outcome]:
    """Look for sections beside one in use."""
    for tube in case.circuit.tubes.values():
        grids = [s for s in tube.sections if s.kind in AMPLIFYING]
        used = [s for s in tube.sections if drawn(case.circuit, s)]
        for section in grids:
            if section in used and not parked(case.circuit, section):
                continue
            floating = _floating(case, section)
            if floating and any(s is not section for s in used):
                names = listed(f"{section.name}.{e}" for e in floating)
                left = "nothing is wired to it" if section not in used else f"{names} float"
                yield unused.finding(
                    case,
                    (section.name,),
                    f"{section.name} is not used: {left}",
                    f"Tie {names} to gnd, and leave the plate open or tie it there too",
                    evidence={"floating": figure(len(floating), "")},
                    certainty="certain",
                )


def _floating(case: Case, section: Section) -> list[str]:
    """Which of grid and cathode the drawing ties to nothing."""
    both = [e for e in ("grid", "cathode") if e in section.electrodes]
    return [e for e in both if not wired(case.circuit, section.net(e))]


RULES: tuple[Rule, ...] = (unused,)
