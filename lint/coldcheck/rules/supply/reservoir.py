"""A switch between a rectifier tube and its reservoir, and a regulator that looks the wrong way."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import capacitors_to_rest, metal, own_text
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.rectifiers import first_capacitors, rectifier_tubes
from coldcheck.anatomy.supplies import FILTER_F, rectified
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.throws import switch_of, throws_among
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.signal.paths import is_supply
from coldcheck.rules.supply.gas import gas_rectifiers
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LARGE = Threshold("capacitor that is a reservoir", 1e-6, "F", PRACTICE)
FEEDING_OHM = 1e3
"""As much stands in a plate lead to stop it from oscillating: behind it is the supply."""

SLOW_HZ = Threshold(
    "corner of a capacitor to gnd at a regulator's divider", 300.0, "Hz",
    Citation("practice", "ripple has 50 to 120 Hz and its harmonics"),
)  # fmt: skip

STOPPER_OHM = 100e3
"""From the plate of an error amplifier to the grid of its pass tube there is no more than this."""


@rule(
    "supply.switch-ahead-of-reservoir",
    title="Switch between a hot rectifier tube and its reservoir",
    level="notice",
    states="the drawing alone; each switch thrown in turn",
    needs="the wiring around the rectifier",
    criterion=(
        f"With the switch open a rectifier tube has no capacitor of {LARGE.value * 1e6:g} uF or "
        "more on its output, and with it closed it has."
    ),
    why=(
        "Thrown with the tubes hot, it puts an empty capacitor on a hot rectifier: the charging "
        "current is limited by nothing but the windings, and the tube arcs over. Behind the "
        "reservoir the same switch does no harm."
    ),
    source=(Citation("maker-sheets", "hot-switching ratings"), PRACTICE),
    limits=(
        "Mercury-vapour tubes, which want a delay, are left out, and so are silicon rectifiers. A "
        "choke between the switch and the capacitor holds the current back and is not crossed."
    ),
    thresholds=(LARGE,),
)
def ahead_of_reservoir(case: Case) -> Iterator[Outcome]:
    """Throw each switch and look at what is left on the rectifier."""
    circuit = case.circuit
    gas = {s.name for _, s in gas_rectifiers(circuit)}
    contacts = [
        b for b in circuit.branches.values() if b.kind in (PartKind.SWITCH, PartKind.CONTACT)
    ]
    for throw in throws_among(b for b in contacts if b.a != b.b):
        owner = switch_of(throw)
        for _, section in rectifier_tubes(circuit):
            lost = _lost(circuit, section, throw) if section.name not in gas else ()
            if lost:
                farads = sum(f for _, f in lost)
                names = tuple(name for name, _ in lost)
                yield ahead_of_reservoir.finding(
                    case,
                    (owner, section.name, *names),
                    f"{owner} is between the cathode of {section.name} and {listed(names)}: thrown "
                    f"with the rectifier hot it puts an empty {engineering(farads, 'F')} on it",
                    f"Move {owner} to the other side of {listed(names)}, so that the reservoir "
                    "stays on the rectifier",
                    evidence={"reservoir": figure(farads, "F")},
                    limit=LARGE.figure,
                    certainty="certain",
                )
                break


def _lost(circuit: Circuit, section: Section, owner: str) -> tuple[tuple[str, float], ...]:
    """The large capacitors on a rectifier that a switch takes off it, where none is left."""
    thrown = thrown_circuit(circuit, frozenset({owner}))
    now, then = (_large(c, section) for c in (circuit, thrown))
    return tuple(now.items()) if now and not then else ()


def _large(circuit: Circuit, section: Section) -> dict[str, float]:
    found = first_capacitors(circuit, section)
    return {b.name: f for b, f in found if f >= LARGE.value}


SENSE_OHM = 1e3
"""Resistors of dividers have more (common practice); a pass tube's plate stopper has less."""


@rule(
    "supply.regulator-senses-input",
    title="Regulator that senses its input",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a pass tube, the tube whose plate drives its grid, and the divider at that one's grid",
    criterion=(
        "The grid of the tube that drives a pass tube hangs by resistors on the pass tube's plate, "
        "and not on its cathode: the divider is on the side that comes in."
    ),
    why=(
        "A regulator compares its output with a reference. With the divider on the input it "
        "answers to the mains and knows nothing of the load: the output sags and rises, and on "
        "high line it may go anywhere."
    ),
    source=PRACTICE,
    limits="A resistor from the input that helps against hum, beside a divider on the output, is "
    "no mistake and not reported. Shunt regulators are not looked at.",
)
def senses_input(case: Case) -> Iterator[Outcome]:
    """Each pass tube with the tube that drives it."""
    circuit, graph = case.circuit, metal(case.circuit)
    sections = [s for _, s in working(circuit)]
    for passing in sections:
        for driver in (s for s in sections if s.name != passing.name):
            if drives(circuit, graph, driver, passing) and _senses(graph, driver, passing):
                yield _sensing(case, graph, driver, passing)


def _sensing(case: Case, graph: nx.Graph[str], driver: Section, passing: Section) -> Finding:
    circuit = case.circuit
    nets = (
        driver.electrodes["grid"],
        passing.electrodes["plate"],
        output_of(circuit, graph, passing),
    )
    grid, source, out = (own_text(circuit, n) for n in nets)
    upper = _upper(circuit, driver, passing)
    taken = f"{upper[0]} takes {grid} from" if upper else f"{grid} hangs on"
    return senses_input.finding(
        case,
        (*upper, driver.name, passing.name),
        f"{taken} {source}, the input: {driver.name}, which steers {passing.name}, answers to what "
        f"comes in and not to {out}, the output",
        f"Take {upper[0] if upper else 'the divider'} to {out}, the output, instead of {source}",
        evidence={"senses": source},
        certainty="likely",
    )


def output_of(circuit: Circuit, graph: nx.Graph[str], passing: Section) -> str:
    """What a pass tube gives: behind the small resistors by which several share the current."""
    cathode = passing.cathode_nets[0]
    near = sorted(within(graph, cathode, FEEDING_OHM, (GROUND,)), key=str)
    return next((n for n in (cathode, *near) if _filtered(circuit, n)), cathode)


def _filtered(circuit: Circuit, net: str) -> bool:
    """Whether a filter capacitor or a source holds a net: a supply point."""
    filtered = capacitors_to_rest(circuit, net, FILTER_F.value)
    return bool(filtered) or any(b.kind is PartKind.SOURCE for b in circuit.at(net))


def _upper(circuit: Circuit, driver: Section, passing: Section) -> list[str]:
    """The resistor of the divider that is nearest to the input."""
    graph = metal(circuit)
    through = {GROUND, driver.electrodes["plate"], passing.electrodes["grid"]}
    kept = graph.subgraph(n for n in graph if n not in through)
    way = nx.shortest_path(kept, passing.electrodes["plate"], driver.electrodes["grid"])
    on = [b for a, c in pairwise(way) for b in circuit.at(a) if b.other(a) == c]
    resistors = ((b, b.ohms or 0.0) for b in on if b.kind is PartKind.RESISTOR)
    return [b.name for b, value in resistors if value > SENSE_OHM][:1]


def drives(circuit: Circuit, graph: nx.Graph[str], driver: Section, passing: Section) -> bool:
    """Whether a plate is on the grid of a tube whose plate and cathode both lead elsewhere."""
    plate, grid, out = driver.net("plate"), passing.net("grid"), passing.cathode_nets[0]
    if plate is None or grid is None or passing.net("plate") is None or driver.net("grid") is None:
        return False
    if {plate, grid, out, passing.electrodes["plate"]} & set(LANDMARKS):
        return False
    if not _supplies(circuit, passing):
        return False  # a follower behind a stage
    if _filtered(circuit, plate) or rectified(circuit, plate):
        return (
            False  # its plate is on a supply: it amplifies nothing, and may be a pass tube itself
        )
    if _stands_on_a_tube(circuit, driver):
        return False  # the upper one of a cascode: its grid is held, and senses nothing
    fed = within(graph, passing.electrodes["plate"], FEEDING_OHM, (GROUND, out))
    return grid in graph and plate in within(graph, grid, STOPPER_OHM, (GROUND, out, *fed))


def _supplies(circuit: Circuit, passing: Section) -> bool:
    """Whether something but a follower's load and coupling hangs on a cathode."""
    at = [b for n in passing.cathode_nets for b in circuit.at(n)]
    held = (b for b in at if b.kind is PartKind.CAPACITOR and GROUND in (b.a, b.b))
    feeds = (b for b in at if b.kind is PartKind.RESISTOR and GROUND not in (b.a, b.b))
    filtered = any((b.farads or 0.0) >= FILTER_F.value for b in held)
    return filtered or any(feeds) or is_supply(circuit, passing)


def _stands_on_a_tube(circuit: Circuit, section: Section) -> bool:
    """Whether a cathode is on the plate of a tube that amplifies, or on a transistor."""
    nets = set(section.cathode_nets) - set(LANDMARKS)
    at = (x for n in nets for x in circuit.electrodes_at(n))
    plates = any(e == "plate" and s.kind.amplifies for s, e in at)
    return plates or any(b.kind is PartKind.CHANNEL for n in nets for b in circuit.at(n))


def within(graph: nx.Graph[str], net: str, most: float, stop: tuple[str, ...]) -> set[str]:
    """The nets that metal of at most so many ohms in all joins to one, past none of ``stop``."""
    kept = graph.subgraph(n for n in graph if n not in stop)
    if net not in kept:
        return set()
    return set(nx.single_source_dijkstra_path_length(kept, net, cutoff=most))


@rule(
    "supply.regulator-answer-shunted",
    title="Regulator whose divider is bypassed to gnd",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="a pass tube, the tube whose plate drives its grid, and the divider at that one's grid",
    criterion=(
        "From the tap of the divider at the grid of the tube that drives a pass tube, or from that "
        "grid, a capacitor leads to gnd, and with the resistors to the output and to gnd it cuts "
        f"off below {SLOW_HZ.value:g} Hz. No capacitor leads from there to the output."
    ),
    why=(
        "The tube is to see the ripple and the sag of the output whole, which a capacitor from "
        "the tap to the output gives it. To gnd it keeps both from it: the ripple is several "
        "times larger, and the lag may make the regulator hunt."
    ),
    source=(PRACTICE, Citation("arithmetic", "1 / (2 pi R C)")),
    limits=(
        "Picofarads to gnd against oscillation, with a higher corner, are left alone, and so is a "
        "capacitor behind a resistor of its own. A reference that is bypassed is not looked at."
    ),
    thresholds=(SLOW_HZ,),
)
def answer_shunted(case: Case) -> Iterator[Outcome]:
    """Look at the grid of each tube that drives a pass tube."""
    circuit, graph = case.circuit, metal(case.circuit)
    sections = [s for _, s in working(circuit)]
    for passing in sections:
        for driver in (s for s in sections if s.name != passing.name):
            if drives(circuit, graph, driver, passing) and not _senses(graph, driver, passing):
                yield from _shunted(case, graph, driver, passing)


def _shunted(
    case: Case, graph: nx.Graph[str], driver: Section, passing: Section
) -> Iterator[Outcome]:
    """The capacitors to gnd at a grid or its tap."""
    circuit, out = case.circuit, output_of(case.circuit, graph, passing)
    graph = graph.subgraph(n for n in graph if not _is_reference(circuit, n))
    points = [n for n in _taps(circuit, driver.electrodes["grid"], out) if n not in LANDMARKS]
    at = [(n, b) for n in points for b in circuit.at(n) if b.kind is PartKind.CAPACITOR]
    if out not in graph or any(out in (b.a, b.b) for _, b in at):
        return
    for tap, shunt in at:
        farads, ohm = shunt.farads, _source_ohms(graph, tap, out)
        if shunt.other(tap) != GROUND or not farads or not ohm:
            continue
        corner = 1 / (2 * math.pi * farads * ohm)
        if corner < SLOW_HZ.value:
            yield _slow(case, (shunt, farads), (driver, tap, out), corner)


def _is_reference(circuit: Circuit, net: str) -> bool:
    """Whether a gas tube or a zener holds a net: what hangs on it is no part of the divider."""
    gas = any(s.kind is SectionKind.REGULATOR for s, _ in circuit.electrodes_at(net))
    zener = any(b.kind is PartKind.ZENER for b in circuit.at(net))
    return net != GROUND and (gas or zener)


def _taps(circuit: Circuit, grid: str, out: str) -> list[str]:
    """A grid, what a stopper leads to from there, and the ends of the pot of a divider."""
    near = [grid, *(b.other(grid) for b in circuit.at(grid) if b.kind is PartKind.RESISTOR)]
    return [n for n in dict.fromkeys(near) if n != out]


def _source_ohms(graph: nx.Graph[str], tap: str, out: str) -> float | None:
    """What a divider has to either side of its tap, in parallel; ``None`` where it is none."""
    up = _ohms_to(graph, tap, out, GROUND)
    down = _ohms_to(graph, tap, GROUND, out)
    return None if not up or not down else up * down / (up + down)


def _ohms_to(graph: nx.Graph[str], net: str, end: str, but: str) -> float | None:
    kept = graph.subgraph(n for n in graph if n != but)
    if net not in kept or end not in kept or not nx.has_path(kept, net, end):
        return None
    return float(nx.dijkstra_path_length(kept, net, end))


def _slow(
    case: Case, which: tuple[Branch, float], at: tuple[Section, str, str], corner: float
) -> Finding:
    (shunt, farads), (driver, tap, out) = which, at
    point, output = own_text(case.circuit, tap), own_text(case.circuit, out)
    return answer_shunted.finding(
        case,
        (shunt.name, driver.name),
        f"{shunt.name} ({engineering(farads, 'F')}) leads from {point} to gnd and keeps what is "
        f"above {engineering(corner, 'Hz')} from {driver.name}: it no longer sees the ripple of "
        f"{output}",
        f"Take {shunt.name} from {point} to {output} instead of gnd",
        evidence={"corner": figure(corner, "Hz")},
        limit=SLOW_HZ.figure,
        certainty="likely",
        excess=SLOW_HZ.value / corner,
    )


def _senses(graph: nx.Graph[str], driver: Section, passing: Section) -> bool:
    """Whether a grid is joined by resistors to the pass tube's plate alone."""
    grid, source = driver.electrodes["grid"], passing.electrodes["plate"]
    out = passing.cathode_nets[0]
    through = (GROUND, driver.electrodes["plate"], passing.electrodes["grid"])
    near = within(graph, grid, 1e9, (*through, *driver.cathode_nets))
    return source in near and out not in near


RULES: tuple[Rule, ...] = (ahead_of_reservoir, senses_input, answer_shunted)
