"""Gain controls in a cathode that can be turned down to no bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

USUAL_OHM = 180.0


@rule(
    "grid.control-without-minimum",
    title="Gain control that can be turned to no bias",
    level="notice",
    states="the drawing alone",
    needs="the wiring of a pot in the cathode of a pentode",
    criterion="The cathode of a pentode that no resistor loads at its plate leads to gnd through "
    "the track of a pot and nothing else, one end of the track or its wiper on gnd.",
    why="Fully up the cathode is on gnd and the tube has no bias: it draws its grid current from "
    "the tuned circuit, and more plate and screen current than it stands. A fixed resistor in "
    "series keeps the least bias there is.",
    source=PRACTICE,
    limits="What flows at the end of the travel is not solved. Grids that have a bias of their own "
    "are left alone, and stages with a plate resistor, which limits the current.",
)
def control_without_minimum(case: Case) -> Iterator[Outcome]:
    """Look at the pots in each cathode."""
    found: dict[str, list[str]] = {}
    for _, section in working(case.circuit):
        for pot in _only_a_pot(case.circuit, section) if _unlimited(case, section) else ():
            found.setdefault(pot, []).append(section.name)
    for pot, names in found.items():
        yield control_without_minimum.finding(
            case,
            (pot, *names),
            f"turned to its end {pot} puts the {'cathode' if len(names) == 1 else 'cathodes'} of "
            f"{listed(names)} on gnd: no bias is left",
            f"Put a resistor of about {ohms(USUAL_OHM / len(names))} in series with {pot}, on the "
            "side of the cathode (the bias the sheet has at full gain over the current)",
            evidence={"least": figure(0.0, "ohm")},
            certainty="likely",
        )


def _only_a_pot(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The pot that alone leads from a cathode to gnd."""
    net = section.cathode_nets[0]
    down = [b for b in circuit.at(net) if b.traits.steady] if net != GROUND else []
    pots = {b.owner for b in down if b.kind is PartKind.POT and b.other(net) == GROUND}
    return tuple(pots) if {b.owner for b in down} == pots else ()


def _unlimited(case: Case, section: Section) -> bool:
    """A pentode with a coil at its plate, and a grid that is on gnd for direct current."""
    plate = section.net("plate")
    if section.kind is not SectionKind.PENTODE or plate is None:
        return False
    coil = any(b.traits.coil or b.kind is PartKind.WINDING for b in case.circuit.at(plate))
    grid = warm_volts(case, section.electrodes["grid"])
    return coil and grid is not None and grid > -0.5


RULES: tuple[Rule, ...] = (control_without_minimum,)
