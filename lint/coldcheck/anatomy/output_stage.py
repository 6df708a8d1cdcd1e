"""What works into an output transformer: which tubes, on which leads, into what load."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias, assert_never

import networkx as nx
import numpy as np

from coldcheck.anatomy.jacks import plugged_jacks
from coldcheck.anatomy.neighbourhood import amplifiers, metal, nearest, regulated
from coldcheck.anatomy.reach import Ways
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.once import once
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import JackLine
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer, Section, Tube

LOAD_FACTOR = Threshold(
    "largest load that protects a primary, times the secondary's impedance",
    50.0,
    "",
    Citation("web-secondaries", "a few hundred ohm suffice"),
)
"""A load may be this many times the secondary's impedance (400 ohm on 8 ohm) and still protect."""

PLATE_STOPPER = Threshold(
    "most resistance between a plate and its transformer",
    220.0,
    "ohm",
    Citation("practice", "10 to 100 ohm"),
)
"""A resistor up to this between plate and transformer is no load (common practice: 10 to 100)."""

SCREEN_STOPPER = Threshold(
    "most resistance of a stopper between a screen and its tap", 4700.0, "ohm", PRACTICE
)
"""The largest resistor that still is a screen's stopper at a tap, not its supply."""

STIFF_FARAD = Threshold(
    "least capacitance that makes a point a supply for signals", 1e-6, "F", PRACTICE
)
HALVES = {"p1": ("p2", "u2"), "p2": ("p1", "u1"), "u1": ("p2", "u2"), "u2": ("p1", "u1")}


@dataclass(frozen=True, slots=True)
class Load:
    """Two leads of a secondary, their nets, and the impedance it has between them, ohms."""

    leads: tuple[str, str]
    nets: tuple[str, str]
    rated: float


@dataclass(frozen=True, slots=True)
class OutputTube:
    """A section whose plate is on a lead of an output transformer's primary.

    ``fellows`` counts the sections with their plates on the same lead, itself included;
    ``push_pull`` says that there are plates at the other end too. ``tap`` is the lead its screen
    is on (through a stopper at most), ``None`` where it is on none.
    """

    tube: Tube
    section: Section
    output: OutputTransformer
    lead: str
    fellows: int
    push_pull: bool
    tap: str | None

    @property
    def triode(self) -> bool:
        """Whether it works as a triode: it is one, or its screen is on its own plate's lead."""
        return self.section.kind is not SectionKind.PENTODE or self.tap == self.lead


def secondary(output: OutputTransformer) -> tuple[str, ...]:
    """The nets of the secondary's leads, from s1 to s2."""
    return tuple(net for _, net, _ in output.secondary_leads)


def secondary_pairs(output: OutputTransformer) -> tuple[Load, ...]:
    """Each two leads of the secondary with the impedance between them, the whole of it last."""
    whole = si(output.secondary, "ohm") or 8.0
    leads = output.secondary_leads
    pairs = [(one, other) for k, other in enumerate(leads) for one in leads[:k]]
    found = [Load((a[0], b[0]), (a[1], b[1]), whole * (b[2] - a[2]) ** 2) for a, b in pairs]
    return tuple(sorted(found, key=lambda pair: pair.rated))


@once
def output_tubes(circuit: Circuit) -> tuple[OutputTube, ...]:
    """The output tubes of a drawing, in drawing order."""
    if not circuit.outputs:
        return ()
    graph = metal(circuit)
    found = []
    for output in circuit.outputs.values():
        leads = _driven_leads(circuit, output)
        plates = [
            (t, s, _lead(graph, s.net("plate"), leads, PLATE_STOPPER.value))
            for t, s in amplifiers(circuit)
        ]
        placed = [(t, s, lead) for t, s, lead in plates if lead is not None]
        used = [lead for _, _, lead in placed]
        for tube, section, lead in placed:
            others = HALVES.get(lead, ())
            tap = _lead(graph, section.net("screen"), leads, SCREEN_STOPPER.value)
            pair = any(x in others for x in used)
            found.append(OutputTube(tube, section, output, lead, used.count(lead), pair, tap))
    return tuple(found)


def _driven_leads(circuit: Circuit, output: OutputTransformer) -> dict[str, str]:
    """Net -> lead of the primary, without those that the supply reaches on its own."""
    ways = Ways.of(circuit.without({b.name for _, b in output.branches}))
    return {n: lead for lead, n in output.leads if lead[0] in "pu" and not ways.fed(n)}


def _lead(graph: nx.Graph[str], net: str | None, leads: dict[str, str], most: float) -> str | None:
    """The lead that a net is on, straight or through a stopper; the nearest one."""
    if net is None or net not in graph or net == GROUND:
        return leads.get(net) if net is not None else None
    near: dict[str, float] = nx.single_source_dijkstra_path_length(graph, net, cutoff=most)
    return next((leads[n] for n in near if n in leads), None)


def plate_load(circuit: Circuit, stage: OutputTube) -> tuple[float, float] | None:
    """Ohms plate to plate (of a single-ended stage: on the plate), and the load behind them.

    The declared primary impedance, in proportion to what is across the secondary; where that is
    not known (a jack, nothing) the load it is declared for. A single plate on a half primary sees
    a quarter. ``None`` where the transformer's impedances are not known.
    """
    primary, declared = si(stage.output.primary, "ohm"), si(stage.output.secondary, "ohm")
    if not primary or not declared:
        return None
    load = secondary_ohms(circuit, stage.output) or declared
    ohms = primary * load / declared
    half = not stage.push_pull and _fed_at_centre(stage.output, circuit)
    return (ohms / 4 if half else ohms), load


def _fed_at_centre(output: OutputTransformer, circuit: Circuit) -> bool:
    centre = dict(output.leads).get("ct")
    own = {b.name for _, b in output.branches}
    return centre is not None and any(b.name not in own for b in circuit.at(centre))


def secondary_ohms(circuit: Circuit, output: OutputTransformer) -> float | None:
    """Ohms of everything across the secondary, as if it were on the whole of it.

    Speakers in series and parallel, resistors; what is on taps counts by the square of the turns.
    Closed switches and chokes pass, capacitors do not. Counted is what could be a load, up to
    400 ohm on 8 ohm, reached without crossing gnd. ``None`` where no speaker is among it, or a
    jack is.
    """
    found = _loads(circuit, output)
    return None if found is None else _resistance([e[1:] for e in found[0]], found[1])


def has_load(circuit: Circuit, output: OutputTransformer, but: str = "") -> bool:
    """Whether something that can be a load joins the secondary's leads, one jack left out."""
    most = LOAD_FACTOR.value * (si(output.secondary, "ohm") or 8.0)
    graph: nx.Graph[str] = nx.Graph()
    for branch, ohm in carrying(circuit, output):
        before = graph.edges[branch.a, branch.b] if graph.has_edge(branch.a, branch.b) else {}
        graph.add_edge(branch.a, branch.b, weight=min(ohm, before.get("weight", ohm)))
    for name, nets in jack_pairs(circuit):
        if name != but:
            graph.add_edge(*nets, weight=0.0)
    across = (nearest(graph, *pair.nets) for pair in secondary_pairs(output))
    return any(ohm is not None and ohm <= most for ohm in across)


def loaded_leads(circuit: Circuit, output: OutputTransformer) -> Load:
    """The two leads the load is on; the whole secondary where it is on more, or not known."""
    pairs = secondary_pairs(output)
    edges, _ = _loads(circuit, output) or ((), {})
    nets = {n for _, a, b, _ in edges for n in (a, b)}
    name = _merged(circuit, output)
    on = [p for p in pairs if nets & {name.get(n, n) for n in secondary(output)}
          == {name.get(n, n) for n in p.nets}]  # fmt: skip
    return on[0] if on else pairs[-1]


_Edges: TypeAlias = list[tuple[str, str, float]]
_Parts: TypeAlias = "list[tuple[Branch, str, str, float]]"


def speakers_on(circuit: Circuit, output: OutputTransformer) -> tuple[Branch, ...]:
    """The speakers that load a secondary, in the order of the drawing."""
    edges, _ = _loads(circuit, output) or ((), {})
    return tuple(b for b, *_ in edges if b.kind is PartKind.SPEAKER)


def _loads(circuit: Circuit, output: OutputTransformer) -> tuple[_Parts, dict[str, float]] | None:
    """The parts that load the secondary, and the share of its turns at each of its leads."""
    ends = secondary(output)
    if any({a, b} & {*ends} - {GROUND} for _, (a, b) in jack_pairs(circuit)):
        return None
    most = LOAD_FACTOR.value * (si(output.secondary, "ohm") or 8.0)
    name = _merged(circuit, output)
    parts = [(b, ohm) for b, ohm in carrying(circuit, output) if 0.0 < ohm <= most]
    edges = [(b, name.get(b.a, b.a), name.get(b.b, b.b), ohm) for b, ohm in parts]
    turns = {name.get(net, net): share for _, net, share in output.secondary_leads}
    near = _between_ends(edges, tuple(turns)) if len(turns) == len(ends) else []
    return (near, turns) if any(b.kind is PartKind.SPEAKER for b, *_ in near) else None


def _merged(circuit: Circuit, output: OutputTransformer) -> dict[str, str]:
    """Net -> the net that stands for all that is joined to it without resistance."""
    joined: nx.Graph[str] = nx.Graph(
        (b.a, b.b) for b, ohm in carrying(circuit, output) if ohm == 0.0
    )
    return {n: min(group) for group in nx.connected_components(joined) for n in group}


def carrying(circuit: Circuit, output: OutputTransformer) -> Iterator[tuple[Branch, float]]:
    """What could carry a speaker's current, with its ohms; open switches do not."""
    own = {b.name for _, b in output.branches}
    for branch in circuit.branches.values():
        ohm = None if branch.name in own or not branch.closed else load_ohms(branch)
        if ohm is not None and branch.a != branch.b:
            yield branch, ohm


def _between_ends(edges: _Parts, ends: tuple[str, ...]) -> _Parts:
    """The parts on paths from end to end that do not cross gnd on the way."""
    kept = [e for e in edges if not ({e[1], e[2]} - set(ends)) & {GROUND}]
    graph: nx.Graph[str] = nx.Graph((x, y) for _, x, y, _ in kept)
    nx.add_path(graph, ends)
    nx.add_cycle(graph, ends)
    blocks = (frozenset(str(n) for n in c) for c in nx.biconnected_components(graph))
    block = next((c for c in blocks if set(ends) <= c), frozenset())
    return [e for e in kept if {e[1], e[2]} <= block]


def _resistance(edges: _Edges, turns: Mapping[str, float]) -> float | None:
    """What a network of resistors is to the whole winding, ohms: by the power it takes at 1 V.

    ``turns`` are the leads' voltages then.
    """
    free = sorted({n for a, b, _ in edges for n in (a, b)} - turns.keys())
    row = {n: k for k, n in enumerate(free)}
    matrix, current = np.zeros((len(free), len(free))), np.zeros(len(free))
    for a, b, ohm in (*edges, *((y, x, r) for x, y, r in edges)):
        if a in row:
            matrix[row[a], row[a]] += 1 / ohm
            if b in row:
                matrix[row[a], row[b]] -= 1 / ohm
            else:
                current[row[a]] += turns[b] / ohm
    try:
        found = np.linalg.solve(matrix, current)
    except np.linalg.LinAlgError:
        return None
    volts = {**turns, **{n: float(found[k]) for n, k in row.items()}}
    watts = sum((volts[a] - volts[b]) ** 2 / ohm for a, b, ohm in edges)
    return 1 / watts if watts > 0 else None


def load_ohms(branch: Branch) -> float | None:
    """What a part is for a speaker's current, ohms; ``None`` where it carries none."""
    kind = branch.kind
    match kind:
        case PartKind.SPEAKER:
            return branch.ohms or 0.0
        case (
            PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.INDUCTOR | PartKind.LAMP | PartKind.JACK
        ):  # fmt: skip
            return 0.0
        case (
            PartKind.RESISTOR
            | PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
        ):
            return branch.ohms
        case PartKind.RELAY | PartKind.METER:
            return branch.ohms
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER | PartKind.SOURCE
            | PartKind.HEATER | PartKind.WINDING | PartKind.SIGNAL
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
            | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def jack_pairs(circuit: Circuit) -> Iterable[tuple[str, tuple[str, str]]]:
    """The nets of tip and sleeve of every jack that is wired, and in which anything may be."""
    known = plugged_jacks(circuit)
    for statement in circuit.drawing.statements:
        if isinstance(statement, JackLine) and statement.name not in known:
            tip, sleeve = f"{statement.name}.tip", f"{statement.name}.sleeve"
            if tip in circuit.points and sleeve in circuit.points:
                yield statement.name, (circuit.points[tip], circuit.points[sleeve])


@once
def stiff_nets(circuit: Circuit) -> frozenset[str]:
    """Nets that stay put for the signal: a source, 1 uF or more to gnd, a gas regulator on them.

    An electrolytic of unknown value is taken to have that much. Regulators may stand on one
    another.
    """
    found = {*regulated(circuit)}
    for branch in circuit.branches.values():
        if branch.kind is PartKind.SOURCE:
            found |= {branch.a, branch.b}
        elif branch.kind is PartKind.CAPACITOR and GROUND in (branch.a, branch.b):
            farad = branch.farads
            unknown = farad is None and branch.plus is not None
            if unknown or (farad is not None and farad >= STIFF_FARAD.value):
                found |= {branch.a, branch.b}
    return frozenset(found - {GROUND})


def thrown_circuit(circuit: Circuit, thrown: frozenset[str]) -> Circuit:
    """The circuit with switches in their other positions, for questions to the graph."""
    graph = circuit.graph.copy()
    branches = {
        name: b if thrown.isdisjoint(b.thrown_by) else replace(b, closed=not b.closed)
        for name, b in circuit.branches.items()
    }
    for name, branch in branches.items():
        graph.add_edge(branch.a, branch.b, key=name, branch=branch)
    return replace(circuit, graph=graph, branches=branches)
