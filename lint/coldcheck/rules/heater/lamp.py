"""The dial-lamp section of a rectifier's heater in a series string."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Tube
    from coldcheck.judge.finding import Finding, Outcome

OVER = Threshold("current of a heater section, times its own", 1.15, "", PRACTICE)
"""A heater section stands some 15 % of current beyond its own (common practice)."""


@rule(
    "heater.lamp-section-bare",
    title="Dial-lamp section of a heater without its lamp",
    level="notice",
    states="nominal mains",
    needs="a rectifier with a tapped heater, its plate fed from the tap, and what is across the "
    "section between the tap and the line",
    criterion="No lamp and no resistor across the section, and its rms current more than "
    f"{100 * (OVER.value - 1):.0f} % above the heater's own, where that could be worked out.",
    why="With its plate on the tap the whole charging current of the set passes through the "
    "section between tap and line, on top of the heater current. The dial lamp across it takes "
    "that current; without the lamp the section carries about twice its own and burns out.",
    source=(Citation("web-lamp-section"), Citation("rca-rc", "35W4, 35Z5GT")),
    limits="Heaters and lamps have their resistance at the rated current. A lamp that is drawn is "
    "taken to be whole: what happens when it burns out is another question.",
    thresholds=(OVER,),
)
def lamp_section_bare(case: Case) -> Iterator[Outcome]:
    """Tapped rectifier heaters whose tap carries the plate."""
    for tube in case.circuit.tubes.values():
        section = lamp_section(case.circuit, tube)
        if section is None or _bridged(case.circuit, section):
            continue
        wave = case.warm.current(section.name) if case.warm.converged else None
        rated = si(tube.heater.amps, "ampere") if tube.heater else None
        if rated and (wave is None or wave.rms > OVER.value * rated):
            yield _bare(case, tube, section, rated, None if wave is None else wave.rms)


def lamp_section(circuit: Circuit, tube: Tube) -> Branch | None:
    """The short section of a tapped rectifier heater whose tap feeds the plate."""
    rectifier = any(s.kind is SectionKind.RECTIFIER for s in tube.sections)
    if not rectifier or tube.heater is None or len(tube.heater.branches) != 2:
        return None
    tap = circuit.points.get(f"{tube.name}.tap")
    fed = {n for s in tube.sections for p in s.plates for n in _near(circuit, s.electrodes[p])}
    short = min(tube.heater.branches, key=lambda b: b.ohms or 0.0)
    return short if tap in fed else None


def _near(circuit: Circuit, plate: str) -> set[str]:
    """The plate's net, and what a single resistor or fuse joins to it."""
    joined = (b for b in circuit.at(plate) if b.kind in (PartKind.RESISTOR, PartKind.FUSE))
    return {plate, *(b.other(plate) for b in joined)}


def _bridged(circuit: Circuit, section: Branch) -> bool:
    """Whether a lamp or a resistor is across the section."""
    ends = {section.a, section.b}
    return any(
        b.kind in (PartKind.LAMP, PartKind.RESISTOR) and {b.a, b.b} == ends
        for b in circuit.at(section.a)
    )


def _bare(case: Case, tube: Tube, section: Branch, rated: float, amps: float | None) -> Finding:
    resistance = section.ohms or 0.0
    carries = (
        ""
        if amps is None
        else (
            f": it carries {amperes(amps)} rms, {amps / rated:.1f} times its {amperes(rated)}, and "
            f"has {volts(amps * resistance)} across it instead of {volts(rated * resistance)}"
        )
    )
    known = {"limit": figure(rated * OVER.value, "A")} | (
        {} if amps is None else {"section": figure(amps, "A")}
    )
    return lamp_section_bare.finding(
        case,
        (tube.name,),
        f"{tube.name} {tube.type.name}: the plate is fed from the heater's tap, and no lamp is "
        f"across the section from there to the line{carries}",
        f"Put the dial lamp back (6.3 V, 150 mA) across {tube.name}'s tap and line end, or take "
        f"the plate to the line and leave the tap free",
        state="warm",
        evidence=known,
        certainty="likely",
        excess=1.5 if amps is None else amps / (rated * OVER.value),
    )


RULES: tuple[Rule, ...] = (lamp_section_bare,)
