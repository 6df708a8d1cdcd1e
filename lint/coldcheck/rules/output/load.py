"""The load an output transformer is given, what the tubes see of it, and whether it can go away."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy import output_stage, supplies
from coldcheck.anatomy.neighbourhood import reading
from coldcheck.anatomy.output_stage import (
    LOAD_FACTOR,
    has_load,
    loaded_leads,
    output_tubes,
    plate_load,
    secondary,
    secondary_ohms,
    secondary_pairs,
    speakers_on,
    thrown_circuit,
)
from coldcheck.circuit.preferred import preferred
from coldcheck.circuit.throws import switch_of, thrown_text, throws_by_hand
from coldcheck.circuit.tubes import Sourced
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_stage import Load, OutputTube
    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer
    from coldcheck.judge.finding import Finding, Outcome

SPAN = Threshold("times by which a load may be off", 2.0, "", PRACTICE)
SURELY = Threshold("times that span from which it is certain", 1.5, "", PRACTICE)
BESIDE = Threshold(
    "times by which a load may be off where another tap fits it", 1.8, "",
    Citation("practice", "taps are for 4, 8 and 16 ohm, each twice the last"),
)  # fmt: skip
FITS = Threshold(
    "times by which a tap may differ from what it fits", 1.25, "",
    Citation("practice", "15 and 16 ohm are taken for one another, 6 and 8 are not"),
)  # fmt: skip
ROUNDING = 1.001


@rule(
    "output.wrong-load",
    title="Load that does not belong to the output transformer",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone; a jack is not counted, a switch counts as drawn",
    needs="the resistance of the speakers drawn across the secondary",
    criterion=(
        "The speakers and resistors across the secondary together, in series and in parallel, "
        "are less than half or more than twice the impedance the transformer is declared for; or "
        f"{BESIDE.value:g} times off, while another tap of it is made for what they are."
    ),
    why=(
        "The transformer only passes on what is connected to it. Half the load is half the "
        "plate load: distortion, and more current than the tubes were reckoned for."
    ),
    source=(
        Citation("arithmetic", "plate load = turns ratio squared times the load"),
        Citation("practice", "half to double is the usual span, where there is no tap that fits"),
    ),
    limits="A speaker is its rated resistance; behind a capacitor it is not counted. What is "
    "plugged into a jack is not known.",
    thresholds=(LOAD_FACTOR, SPAN, BESIDE, FITS),
)
def wrong_load(case: Case) -> Iterator[Outcome]:
    """Add up what is across each secondary."""
    for name, output in case.circuit.outputs.items():
        whole, load = si(output.secondary, "ohm") or 8.0, secondary_ohms(case.circuit, output)
        if load is None or load > LOAD_FACTOR.value * whole:
            continue
        on = loaded_leads(case.circuit, output)
        load *= on.rated / whole
        fits = _tap_for(output, load) if _on_these(case.circuit, output, on) else None
        span = (SPAN if fits is None else BESIDE).value
        factor = max(load / on.rated, on.rated / load)
        if factor > span * ROUNDING:
            yield _wrong(case, name, (load, on, fits), factor / span)


def _wrong(case: Case, name: str, found: tuple[float, Load, Load | None], excess: float) -> Finding:
    (load, on, fits), output = found, case.circuit.outputs[name]
    speakers = speakers_on(case.circuit, output)
    named = tuple(b.name for b in speakers)
    have = f"{listed(named)} {'together are' if len(named) > 1 else 'is'} {ohms(load)}"
    return wrong_load.finding(
        case,
        (name, *named),
        f"{have}, across {_across(output, on)}, which is made for {ohms(on.rated)}",
        _fitting(output, fits, speakers, on.rated),
        evidence={"load": figure(load, "ohm"), "rated": figure(on.rated, "ohm")},
        certainty="certain",
        excess=excess,
    )


def _on_these(circuit: Circuit, output: OutputTransformer, on: Load) -> bool:
    """Whether the speakers are on two leads of a secondary and no other."""
    ends = {n for b in speakers_on(circuit, output) for n in (b.a, b.b)}
    return ends & set(secondary(output)) == set(on.nets)


def _tap_for(output: OutputTransformer, load: float) -> Load | None:
    """The leads of a tapped secondary that are made for a load."""
    pairs = secondary_pairs(output) if output.steps else ()
    near = [p for p in pairs if max(p.rated / load, load / p.rated) <= FITS.value]
    return min(near, key=lambda p: abs(p.rated - load), default=None)


def _fitting(
    output: OutputTransformer, fits: Load | None, speakers: tuple[Branch, ...], rated: float
) -> str:
    """What to change: the tap, two speakers in series or in parallel, or the speaker."""
    names = listed([b.name for b in speakers])
    if fits is not None:
        leads = " and ".join(f"{output.name}.{lead}" for lead in fits.leads)
        return f"Take {names} to {leads}, made for {ohms(fits.rated)}"
    each = [b.ohms or 0.0 for b in speakers]
    ways = {"series": sum(each), "parallel": 1 / sum(1 / e for e in each) if all(each) else 0.0}
    for way, whole in ways.items():
        if len(each) > 1 and whole and max(whole / rated, rated / whole) <= FITS.value:
            return f"Put {names} in {way}: {ohms(whole)}"
    return "Use the tap, or the speaker, that fits"


def _across(output: OutputTransformer, on: Load) -> str:
    """Which part of a secondary a load is on, in words."""
    if not output.steps:
        return f"the secondary of {output.name}"
    return f"{output.name}.{on.leads[0]} and {output.name}.{on.leads[1]}"


@rule(
    "output.wrong-plate-load",
    title="Plate load far from what the tube is made for",
    level="notice",
    states="the drawing; the plate voltage of the nominal state chooses among published loads",
    needs="a published load of the tube type",
    criterion="The load each tube sees through its output transformer is less than half or more "
    "than twice the published load at the nearest plate voltage. Of a push-pull pair each tube "
    "is reckoned with half of plate to plate, of parallel tubes with its share.",
    why="Too low a load and the tube runs out of current before it runs out of volts: little "
    "power, a hot plate. Too high and the plate bottoms early; a pentode's screen pays for it.",
    source=(
        Citation("arithmetic", "turns ratio squared times the load"),
        Citation("web-plate-load", "half to double of the data sheet's load is the usual span"),
    ),
    limits="A pentode connected as a triode, and one whose screen is on a tap, has another "
    "optimum and is not judged; nor is a type without a published load. Published loads are for "
    "class A; a class B pair may have less than half.",
    thresholds=(
        LOAD_FACTOR,
        SPAN,
        SURELY,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def wrong_plate_load(case: Case) -> Iterator[Outcome]:
    """Reflect the secondary's load to each plate."""
    silent: dict[str, str] = {}
    stages = {(s.output.name, s.tube.type.name): s for s in reversed(output_tubes(case.circuit))}
    for stage in reversed(list(stages.values())):
        load = plate_load(case.circuit, stage)
        published = _published(case, stage)
        if load is None:
            silent[stage.output.name] = "the impedances of the transformer are not known"
        elif stage.section.kind is SectionKind.PENTODE and stage.tap is not None:
            silent[stage.section.name] = (
                "its screen is on the transformer or its plate, and loads are published for "
                "screens that stand still"
            )
        elif published is None:
            silent[stage.tube.name] = f"no load on file for {stage.tube.type.name}"
        else:
            yield from _compare(case, stage, load, published)
    yield from (wrong_plate_load.not_judged((at,), why) for at, why in silent.items())


def _published(case: Case, stage: OutputTube) -> tuple[Sourced, float] | None:
    """The load of one tube at the point nearest in plate voltage, and that voltage.

    A point of a pair (its note says push-pull, its load is plate to plate) counts with half its
    load, and for pairs only.
    """
    points = []
    for point in stage.tube.type.points_of(stage.section.type.name):
        load, at = point.get("load"), point.get("plate-voltage")
        pair = "push-pull" in str(point.get("note", ""))
        if isinstance(load, Sourced) and isinstance(at, Sourced) and (stage.push_pull or not pair):
            each = replace(load, value=load.value / 2) if pair else load
            points.append((each, at.value))
    warm = case.solutions.get("warm")
    found = reading(warm, stage.section) if warm is not None and warm.converged else None
    here = found.plate_v if found is not None and found.plate_v is not None else 250.0
    return min(points, key=lambda p: abs(p[1] - here), default=None)


def _compare(
    case: Case, stage: OutputTube, load: tuple[float, float], published: tuple[Sourced, float]
) -> Iterator[Finding]:
    each = load[0] * stage.fellows / (2 if stage.push_pull else 1)
    wanted, at = published
    factor = max(each / wanted.value, wanted.value / each)
    if factor <= SPAN.value * ROUNDING:
        return
    rated = si(stage.output.primary, "ohm") or 0.0
    fits = wanted.value * (2 if stage.push_pull else 1) / stage.fellows
    of_pair = f", half of {ohms(load[0])} plate to plate" if stage.push_pull else ""
    yield wrong_plate_load.finding(
        case,
        (stage.output.name, stage.section.name),
        f"{stage.section.name} sees {ohms(each)} through {stage.output.name} with {ohms(load[1])} "
        f"on it{of_pair}; the {stage.tube.type.name} is made for {ohms(wanted.value)} at "
        f"{volts(at)}",
        f"Use a transformer of about {ohms(fits)} primary for this load (it has {ohms(rated)} "
        f"with {ohms(si(stage.output.secondary, 'ohm') or 0.0)})",
        evidence={
            "plate_load": figure(each, "ohm"),
            "published_load": figure(wanted.value, "ohm"),
            "secondary_load": figure(load[1], "ohm"),
        },
        certainty="certain" if factor > SURELY.value * SPAN.value else "likely",
        source=wanted.cited,
        excess=factor / SPAN.value,
    )


@rule(
    "output.load-switched-off",
    title="Speaker switch that leaves the secondary open",
    level="notice",
    states="the drawing alone; each switch thrown and each plug put in, in turn",
    needs="a pentode on an output transformer, with a switch in its load",
    criterion="The secondary has a load with switches and jacks as drawn, and with one switch "
    "thrown, or a plug in one jack, nothing of at most 50 times its impedance (400 ohm on 8 ohm) "
    "is left across it. Advice where only what is in the jack would be.",
    why="Somebody switches the speaker off while the set plays. The pentode then drives an open "
    "primary, and its plate swings to several times the supply until something arcs.",
    source=Citation("web-secondaries", "270 ohm 5 W across 8 ohm"),
    limits="What happens while a changeover switch is between its positions is not seen. Triodes "
    "stand an open secondary and are left alone.",
    thresholds=(
        LOAD_FACTOR,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def load_switched_off(case: Case) -> Iterator[Outcome]:
    """Throw each switch and look for what is left."""
    circuit = case.circuit
    pentodes = {s.output.name for s in output_tubes(circuit) if not s.triode}
    switches = throws_by_hand(circuit)
    for name in pentodes & circuit.outputs.keys():
        output = circuit.outputs[name]
        if not has_load(circuit, output):
            continue
        for switch in (*switches, *_unplugged(circuit)):
            thrown = thrown_circuit(circuit, frozenset({switch}))
            if not has_load(thrown, output):
                yield _switched_off(case, output, switch)
            elif not has_load(thrown, output, but=switch):
                yield _left_to_the_plug(case, output, switch)


def _unplugged(circuit: Circuit) -> tuple[str, ...]:
    """The jacks whose contacts rest on their tips as drawn: a plug lifts them."""
    contacts = (b for b in circuit.branches.values() if b.kind is PartKind.JACK_CONTACT)
    return tuple(dict.fromkeys(b.owner for b in contacts if b.closed and b.a != b.b))


def _switched_off(case: Case, output: OutputTransformer, throw: str) -> Finding:
    switch = switch_of(throw)
    load, name = si(output.secondary, "ohm") or 8.0, output.name
    return load_switched_off.finding(
        case,
        (name, switch),
        f"{switch} takes the whole load off {name}: {_how(case.circuit, throw)}, nothing is "
        f"across {name}.s1 and {name}.s2",
        f"Fit a resistor of about {ohms(preferred(30 * load))} 5 W straight across the secondary, "
        f"or let {switch} change over to one that takes the power",
        evidence={},
        limit=figure(LOAD_FACTOR.value * load, "ohm"),
        certainty="certain",
    )


def _left_to_the_plug(case: Case, output: OutputTransformer, jack: str) -> Finding:
    load, name = si(output.secondary, "ohm") or 8.0, output.name
    return load_switched_off.finding(
        case,
        (name, jack),
        f"with a plug in {jack} only what is plugged in loads {name}: a speaker of {ohms(load)} "
        "does, phones do not",
        f"For phones, let {jack} change over to about {ohms(preferred(load))} that takes the "
        f"power, with the phones behind a resistor, or fit {ohms(preferred(30 * load))} 5 W "
        "straight across the secondary",
        level="advice",
        evidence={},
        limit=figure(LOAD_FACTOR.value * load, "ohm"),
        certainty="possible",
    )


def _how(circuit: Circuit, name: str) -> str:
    jack = any(
        b.owner == name and b.kind is PartKind.JACK_CONTACT for b in circuit.branches.values()
    )
    return "with a plug in it" if jack else thrown_text((name,)).removeprefix(f"{switch_of(name)} ")


RULES: tuple[Rule, ...] = (wrong_load, wrong_plate_load, load_switched_off)
