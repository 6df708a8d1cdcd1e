"""What is fed back to a first cathode: a level that holds, and no direct current."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.neighbourhood import net_text, reading, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

UPSETS = Threshold("direct current fed back, times the tube's own", 2.0, "", PRACTICE)


@rule(
    "signal.lamp-levels-backwards",
    title="Lamp of an oscillator on the wrong side of its divider",
    level="notice",
    states="the drawing alone",
    needs="a stage whose grid is driven by what it drives itself, and a lamp at its cathode",
    criterion="From the cathode of such a stage a lamp leads to what the oscillator gives, "
    "straight or through capacitors and resistors, and no lamp leads from it to gnd.",
    why="A filament's resistance rises with what it gets. Between cathode and gnd that feeds back "
    "more of a swing that grows, and holds it. Between the output and the cathode it feeds back "
    "less: the swing grows until the tubes clip, or never begins.",
    source=(PRACTICE, Citation("arithmetic", "the divider of the feedback")),
    limits="Thermistors, whose resistance falls, belong the other way round and are not looked at.",
)
def lamp_levels_backwards(case: Case) -> Iterator[Outcome]:
    """Look at the lamps around the cathode of each stage that drives itself."""
    circuit = case.circuit
    for _, section in working(circuit):
        net = section.cathode_nets[0]
        if net in LANDMARKS or section.name not in behind(circuit, section):
            continue
        still = still_nets(circuit)
        lamps = [(b, far) for b, far in _around(circuit, net) if b.kind is PartKind.LAMP]
        if any(far in still or far in LANDMARKS for _, far in lamps):
            continue
        for lamp, far in lamps:
            if givers(circuit, coupled(circuit, [far], {*still, net}, without=(lamp.owner,))):
                yield _backwards(case, section, lamp)


def _around(circuit: Circuit, net: str) -> list[tuple[Branch, str]]:
    """The parts on a net, each with its far end, and those behind one resistor or a trimmer."""
    near = [(b, b.other(net)) for b in circuit.at(net)]
    passed = (PartKind.RESISTOR, PartKind.POT)
    behind_one = [far for b, far in near if b.kind in passed and far not in LANDMARKS]
    return near + [(b, b.other(n)) for n in behind_one for b in circuit.at(n)]


def _backwards(case: Case, section: Section, lamp: Branch) -> Finding:
    name = section.name
    own = [b.name for b in resistors_at(case.circuit, section.cathode_nets[0])]
    exchange = f"Exchange {lamp.name} and {own[0]}" if own else f"Take {lamp.name} to gnd"
    return lamp_levels_backwards.finding(
        case,
        (lamp.name, *own[:1], name),
        f"{lamp.name} leads from what the oscillator gives to the cathode of {name}: as the swing "
        "grows less of it is fed back, and nothing holds it",
        f"{exchange}: the lamp belongs between {name}.cathode and gnd",
        evidence={"cathode": net_text(case.circuit, section.cathode_nets[0])},
        certainty="likely",
    )


@rule(
    "signal.feedback-passes-dc",
    title="Feedback that passes the plate's direct current",
    level="notice",
    states="warm",
    needs="a solved warm state, and the value of the feedback resistor",
    criterion="A resistor alone leads from a plate to the cathode of a stage ahead of it, and "
    f"carries more than {UPSETS.value:g} times that stage's own plate current.",
    why="A hundred volts or more across the feedback resistor lift the first cathode, and the "
    "tube is biased off. A capacitor in series keeps the direct current out.",
    source=(PRACTICE, Citation("arithmetic", "Ohm's law")),
    limits="Pairs that are meant to be coupled so keep their first tube's current, and are left "
    "alone.",
    thresholds=(UPSETS,),
)
def feedback_passes_dc(case: Case) -> Iterator[Outcome]:
    """Look at the resistors from a plate to each cathode."""
    warm = case.solutions.get("warm")
    if warm is None or not warm.converged:
        return
    for _, section in working(case.circuit):
        cathode, found = section.cathode_nets[0], reading(warm, section)
        for part in resistors_at(case.circuit, cathode) if cathode not in LANDMARKS else ():
            amps = _carried(case, part, cathode)
            later = _given_by(case.circuit, part.other(cathode), section)
            if found is None or later is None or amps is None:
                continue
            if amps > UPSETS.value * found.plate_ma / 1e3:
                yield _passes(case, (section, later, part), amps, found.plate_ma / 1e3)


def _carried(case: Case, part: Branch, cathode: str) -> float | None:
    """Amperes from the far end into a cathode."""
    ends = warm_volts(case, part.other(cathode)), warm_volts(case, cathode)
    value = part.ohms
    return None if None in ends or not value else ((ends[0] or 0.0) - (ends[1] or 0.0)) / value


def _given_by(circuit: Circuit, net: str, first: Section) -> Section | None:
    """A section that the first one drives and whose plate is on a net."""
    plates = (s for s, e in circuit.electrodes_at(net) if e == "plate" and s.name != first.name)
    return next((s for s in plates if first.name in behind(circuit, s)), None)


def _passes(case: Case, who: tuple[Section, Section, Branch], amps: float, own: float) -> Finding:
    first, later, part = who
    value = ohms(part.ohms or 0.0)
    return feedback_passes_dc.finding(
        case,
        (part.name, first.name, later.name),
        f"{part.name} ({value}) brings {amperes(amps)} of direct current from the plate of "
        f"{later.name} to the cathode of {first.name}, which has {amperes(own)} of its own",
        f"Put a capacitor in series with {part.name}, for the whole supply",
        state="warm",
        evidence={"fed_back": figure(amps, "A"), "own": figure(own, "A")},
        limit=figure(UPSETS.value * own, "A"),
        certainty="certain",
        excess=min(amps / max(UPSETS.value * own, 1e-9), 1e3),
    )


RULES: tuple[Rule, ...] = (lamp_levels_backwards, feedback_passes_dc)
