"""Both halves of a push-pull stage, and both ends of a winding, doing different things."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import GIVES, coupled, givers, still_nets
from coldcheck.anatomy.neighbourhood import metal, nearest, net_text, past_a_resistor, resistors_at
from coldcheck.anatomy.output_stage import (
    PLATE_STOPPER,
    SCREEN_STOPPER,
    output_tubes,
    stiff_nets,
)
from coldcheck.anatomy.reach import Ways
from coldcheck.anatomy.working import working
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.signal.results import Driven

UNEQUAL = Threshold("drive of one half over that of the other, at most", 2.0, "", PRACTICE)
SHORT = Threshold("share of its impedance that shorts a winding", 0.05, "", PRACTICE)
LEAST_DRIVE = 1e-3
"""Volts per volt at the source below which a grid is not driven at all."""


@rule(
    "output.one-phase",
    title="Both halves of a push-pull stage driven in one phase",
    level="notice",
    blame=Blame.WIRING,
    states="nominal, where a `signal` is drawn; else the drawing alone",
    needs="plates at both ends of a primary, and how their grids are driven",
    criterion="The signals between grid and cathode of the two sides are less than a quarter of a "
    "turn apart; or, without a `signal`, both grids get theirs from the very same plate or "
    "cathode and from nothing else.",
    why="A push-pull stage adds what its halves do in opposite phase. Driven alike they cancel in "
    "the transformer: hardly any sound, and both tubes work into next to nothing.",
    source=Citation("arithmetic", "the flux of the two halves is opposed"),
    limits="Sides without any drive are not judged here.",
)
def one_phase(case: Case) -> Iterator[Outcome]:
    """Compare the drive of each pair of sides."""
    for first, second in _pairs(case.circuit):
        if _alike(case, first, second):
            yield _in_one_phase(case, first, second)


def _in_one_phase(case: Case, first: OutputTube, second: OutputTube) -> Finding:
    names = (first.section.name, second.section.name)
    parting = _parting(case.circuit, first, second)
    by = f" by {listed(b.owner for b in parting[1])} from {parting[0]}" if parting else ""
    ways = f" ({listed(b.owner for b in parting[1])})" if parting else ""
    return one_phase.finding(
        case,
        (*names, *(b.owner for b in (parting[1] if parting else ()))),
        f"{listed(names)} work in push-pull on {first.output.name}, and their grids are "
        f"driven in one phase{by}: their signals cancel in it",
        f"Take the drive of one of them{ways} from the other output of the phase splitter",
        evidence={"transformer": first.output.name},
        certainty="certain",
    )


def _parting(
    circuit: Circuit, first: OutputTube, second: OutputTube
) -> tuple[str, tuple[Branch, Branch]] | None:
    """Where the ways of the signal to two grids part, and the first part of each from there."""
    still = still_nets(circuit)
    one, other = (s.section.net("grid") for s in (first, second))
    if one is None or other is None or one == other:
        return None
    graph: nx.Graph[str] = nx.Graph()
    for net in coupled(circuit, [one, other], still):
        for branch in circuit.at(net):
            if branch.kind in (PartKind.RESISTOR, PartKind.CAPACITOR):
                graph.add_edge(branch.a, branch.b, branch=branch)
    graph.remove_nodes_from([n for n in graph if n in still])
    if not (one in graph and other in graph and nx.has_path(graph, one, other)):
        return None
    way = nx.shortest_path(graph, one, other)
    given = _given(circuit, graph)
    feeds = nx.multi_source_dijkstra_path_length(graph, given) if given else {}
    least = min(way, key=lambda n: feeds.get(n, len(graph)))
    k = way.index(least)
    if not 0 < k < len(way) - 1:
        return None
    before, after = graph.edges[way[k - 1], least], graph.edges[least, way[k + 1]]
    return net_text(circuit, least), (before["branch"], after["branch"])


def _given(circuit: Circuit, graph: nx.Graph[str]) -> set[str]:
    """The nets of a way that a plate, a cathode or a source brings its signal to."""
    sources = {n for n in graph for b in circuit.at(n) if b.kind is PartKind.SIGNAL}
    return sources | {n for n in graph if any(e in GIVES for _, e in circuit.electrodes_at(n))}


@rule(
    "output.halves-unequal",
    title="One half of a push-pull stage driven much harder than the other",
    level="notice",
    states="nominal, where a `signal` is drawn, at its frequency",
    needs="plates at both ends of a primary, and a solved signal",
    criterion="The signal between grid and cathode of one side is more than "
    f"{UNEQUAL.value:g} times that of the other.",
    why="Each half makes one half of the wave. With next to no drive on one side the other does "
    "the work of both: half the power, at best, and all the distortion that push-pull takes away.",
    source=PRACTICE,
    limits="Small-signal figures. Splitters differ by a tenth or so by nature; this is far beyond. "
    "Halves driven in one phase are a finding of output.one-phase.",
    thresholds=(UNEQUAL,),
)
def halves_unequal(case: Case) -> Iterator[Outcome]:
    """Compare the size of the drive of each pair of sides."""
    signal = case.signal
    if signal is None or not signal.solved:
        return
    for pair in _pairs(case.circuit):
        sources = signal.sources.values()
        most = [max((abs(_drive(d, s)) for d in sources), default=0.0) for s in pair]
        weak, strong = sorted(zip(most, pair, strict=True), key=lambda half: half[0])
        if strong[0] > LEAST_DRIVE and strong[0] > UNEQUAL.value * weak[0]:
            yield _unequal(case, weak, strong)


def _unequal(
    case: Case, weak: tuple[float, OutputTube], strong: tuple[float, OutputTube]
) -> Finding:
    names = (weak[1].section.name, strong[1].section.name)
    before = _before(case.circuit, strong[1].section)
    ratio = strong[0] / max(weak[0], LEAST_DRIVE * strong[0])
    return halves_unequal.finding(
        case,
        (*names, *before),
        f"{names[0]} gets {weak[0]:.3g} V at its grid for a volt of the source, {names[1]}, the "
        f"other half, {strong[0]:.3g} V",
        f"Follow the signal from the phase splitter to {names[0]}, and to {names[1]}: they are to "
        "be alike but for the phase"
        + (f"; look at what {before[0]} gets, by {listed(before[1:])}" if before[1:] else ""),
        evidence={"ratio": figure(ratio, "")},
        limit=UNEQUAL.figure,
        certainty="likely",
        excess=ratio / UNEQUAL.value,
    )


def _before(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The stage that drives a grid, and the resistors at its own: a divider of the other half's."""
    still = still_nets(circuit)
    nets = coupled(circuit, [section.electrodes["grid"]], still)
    drivers = [s for s in circuit.sections() if (s.name, "plate") in givers(circuit, nets)]
    if len(drivers) != 1 or (grid := drivers[0].net("grid")) is None:
        return ()
    near = past_a_resistor(circuit, grid)
    parts = (b.owner for n in near if n not in still for b in resistors_at(circuit, n))
    return drivers[0].name, *dict.fromkeys(parts)


def _pairs(circuit: Circuit) -> Iterator[tuple[OutputTube, OutputTube]]:
    """One tube of each side of every push-pull stage."""
    sides: dict[str, dict[str, OutputTube]] = {}
    for stage in output_tubes(circuit):
        if stage.push_pull:
            sides.setdefault(stage.output.name, {}).setdefault(stage.lead, stage)
    for found in sides.values():
        yield from ((a, b) for a, b in combinations(found.values(), 2) if a.lead[1] != b.lead[1])


def _alike(case: Case, first: OutputTube, second: OutputTube) -> bool:
    signal = case.signal
    if signal is not None and signal.solved:
        found = [(_drive(d, first), _drive(d, second)) for d in signal.sources.values()]
        known = [(a, b) for a, b in found if min(abs(a), abs(b)) > LEAST_DRIVE]
        return bool(known) and all((a * b.conjugate()).real > 0 for a, b in known)
    givers_of = [_givers(case.circuit, s) for s in (first, second)]
    return bool(givers_of[0]) and givers_of[0] == givers_of[1] and len(givers_of[0]) == 1


def _drive(driven: Driven, stage: OutputTube) -> complex:
    """Grid less cathode, volts per volt at the source."""
    section = stage.section
    return _at(driven, section.net("grid")) - _at(driven, section.cathode_nets[0])


def _at(driven: Driven, net: str | None) -> complex:
    if net is None or net not in driven.response:
        return 0j
    return complex(driven.response[net][driven.place])


def _givers(circuit: Circuit, stage: OutputTube) -> frozenset[tuple[str, str]]:
    grid = stage.section.net("grid")
    nets = coupled(circuit, [] if grid is None else [grid], still_nets(circuit))
    own = stage.section.name
    return frozenset(g for g in givers(circuit, nets) if g[0] != own)


@rule(
    "output.winding-shorted",
    title="Winding of an output transformer shorted",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion="The ends of the primary, of a half of it with a tube on its end, or of the "
    f"secondary are joined by a wire, or by less than {100 * SHORT.value:g} % of their impedance; "
    "or both ends of the primary are on supply points that hold still.",
    why="A short on one winding is a short on all: the output tubes work into the wire's "
    "resistance, give no sound, and the transformer heats.",
    source=(Citation("arithmetic"), Citation("practice", "5 %")),
    limits="Switches and the contacts of jacks do not count: they short a secondary on purpose.",
    thresholds=(SHORT,),
)
def winding_shorted(case: Case) -> Iterator[Outcome]:
    """Look at what joins the ends of each winding."""
    graph, still = _fixed(case.circuit), stiff_nets(case.circuit)
    for output in case.circuit.outputs.values():
        for a, b, share in _windings(case.circuit, output):
            nets = dict(output.leads)
            least = nearest(graph, nets[a], nets[b])
            whole = output.primary if a in ("p1", "p2") else output.secondary
            limit = SHORT.value * share * (si(whole, "ohm") or 8.0)
            held = (a, b) == ("p1", "p2") and {nets[a], nets[b]} <= still
            if held or (least is not None and least < limit):
                yield _shorted(case, output, (a, b), None if held else least, limit)
                break


def _windings(circuit: Circuit, output: OutputTransformer) -> Iterator[tuple[str, str, float]]:
    """Leads of each winding that works, and the share of the impedance between them."""
    yield "p1", "p2", 1.0
    nets = dict(output.leads)
    if "ct" in nets:
        for end in ("p1", "p2"):
            if any(e == "plate" for _, e in circuit.electrodes_at(nets[end])):
                yield end, "ct", 0.25
    for (a, _, low), (b, _, high) in pairwise(output.secondary_leads):
        yield a, b, (high - low) ** 2


def _fixed(circuit: Circuit) -> nx.Graph[str]:
    """The metal of the circuit without what a hand moves, and without other coils."""
    graph = metal(circuit).copy()
    graph.remove_edges_from(
        [(a, b) for a, b, kept in graph.edges(data="branch")
         if kept.traits.opens or kept.kind is PartKind.INDUCTOR]
    )  # fmt: skip
    return graph


def _shorted(
    case: Case, output: OutputTransformer, ends: tuple[str, str], least: float | None, limit: float
) -> Finding:
    leads = listed(f"{output.name}.{e}" for e in ends)
    how = "are on supply points that hold still" if least is None else (
        f"are joined by {'a wire' if least == 0 else ohms(least)}"
    )  # fmt: skip
    return winding_shorted.finding(
        case,
        (output.name,),
        f"{leads} {how}: nothing comes out of {output.name}",
        f"Give each of {leads} a place of its own: "
        + (
            "the speaker's two leads"
            if ends[0] not in ("p1", "p2")
            else "the supply and the plates"
        ),
        evidence={} if least is None else {"across": figure(least, "ohm")},
        limit=figure(limit, "ohm"),
        certainty="certain",
    )


@rule(
    "output.supply-on-primary-end",
    title="Supply and plate exchanged at a tapped primary",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="an output transformer with a centre tap, and the wiring",
    criterion="An end of the primary is on the supply, the centre tap on a plate, and another "
    "plate on the other end.",
    why="The supply belongs to the centre: from there each half carries its tube's current the "
    "other way round. With it on an end both currents magnetise the core one way, one tube works "
    "into a quarter of the load, and hum no longer cancels.",
    source=Citation("arithmetic", "the flux of the two halves"),
    limits="Primaries without a centre tap are not looked at.",
)
def supply_on_end(case: Case) -> Iterator[Outcome]:
    """Look for a plate on the centre and the supply on an end."""
    graph = metal(case.circuit)
    for output in case.circuit.outputs.values():
        nets = dict(output.leads)
        if "ct" not in nets:
            continue
        on = {lead: _plate_on(case.circuit, graph, nets[lead]) for lead in ("p1", "ct", "p2")}
        for end, other in (("p1", "p2"), ("p2", "p1")):
            if on["ct"] and on[other] and not on[end] and _fed(case.circuit, output, nets[end]):
                yield _exchanged(case, output, end, on["ct"])


def _plate_on(circuit: Circuit, graph: nx.Graph[str], net: str) -> str:
    """The section whose plate is on a net, straight or behind a stopper; empty without one."""
    if net not in graph:
        return ""
    near = nx.single_source_dijkstra_path_length(graph, net, cutoff=PLATE_STOPPER.value)
    plates = (s.name for n in near for s, e in circuit.electrodes_at(n) if e == "plate")
    return next(plates, "") if net not in stiff_nets(circuit) else ""


def _fed(circuit: Circuit, output: OutputTransformer, net: str) -> bool:
    """Whether a supply is on a lead without the help of the transformer."""
    return Ways.of(circuit.without({b.name for _, b in output.branches})).fed(net)


def _exchanged(case: Case, output: OutputTransformer, end: str, tube: str) -> Finding:
    name = output.name
    return supply_on_end.finding(
        case,
        (name, tube),
        f"{name}: the supply is on {name}.{end} and the plate of {tube} on {name}.ct",
        f"Exchange the two: the supply to {name}.ct, the plate of {tube} to {name}.{end}",
        evidence={"supply_on": f"{name}.{end}"},
        certainty="certain",
    )


@rule(
    "output.plate-and-screen-exchanged",
    title="Plate and screen of an output tube exchanged",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring of a pentode and its output transformer",
    criterion="The screen is on an end of the primary, straight or through a plate's stopper, and "
    "the plate is not on the transformer at all but on the supply, through at most 4.7 kohm.",
    why="The screen is thin wire and now carries what the plate should; the plate, on the supply, "
    "takes what is left and drives nothing. Screens melt within minutes of full drive.",
    source=Citation("practice", "neighbouring pins of the socket"),
    limits="Screens of more than one tube on an end are reported one by one.",
)
def plate_and_screen(case: Case) -> Iterator[Outcome]:
    """Look at what is on both electrodes of each pentode."""
    graph, circuit = metal(case.circuit), case.circuit
    ends = {n: o.name for o in circuit.outputs.values() for lead, n in o.leads if lead[0] == "p"}
    ends = {n: name for n, name in ends.items() if n not in stiff_nets(circuit)}
    for _, section in working(circuit):
        plate, screen = section.net("plate"), section.net("screen")
        if plate is None or screen is None or plate == screen or screen not in graph:
            continue
        near = nx.single_source_dijkstra_path_length(graph, screen, cutoff=PLATE_STOPPER.value)
        on = next((ends[n] for n in near if n in ends), None)
        if on is None or plate in near or not _on_supply(circuit, graph, plate, set(ends)):
            continue
        name = section.name
        yield plate_and_screen.finding(
            case,
            (name, on),
            f"{name}: its screen is on the primary of {on}, and its plate on the supply at "
            f"{net_text(circuit, plate)}",
            f"Exchange {name}.plate and {name}.screen",
            evidence={"transformer": on},
            certainty="certain",
        )


def _on_supply(circuit: Circuit, graph: nx.Graph[str], plate: str, ends: set[str]) -> bool:
    if plate not in graph:
        return False
    near = nx.single_source_dijkstra_path_length(graph, plate, cutoff=SCREEN_STOPPER.value)
    return bool(set(near) & stiff_nets(circuit)) and not set(near) & ends


RULES: tuple[Rule, ...] = (
    one_phase,
    halves_unequal,
    winding_shorted,
    supply_on_end,
    plate_and_screen,
)
