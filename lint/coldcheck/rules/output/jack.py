"""What an output stage works into while no speaker is plugged in."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.anatomy.jacks import jacks, plugged_parts
from coldcheck.anatomy.output_stage import LOAD_FACTOR, secondary_pairs
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.jacks import Jack
    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer
    from coldcheck.judge.finding import Finding, Outcome


@rule(
    "output.shorting-defeated",
    title="Jack whose switch contact leaves the secondary open",
    level="notice",
    states="every plug pulled; switches as drawn",
    needs="an output transformer whose load is behind a jack with its switch contact wired",
    criterion="With the plugs out and the jacks' switch contacts resting on their tips, nothing "
    "of at most 50 times the secondary's impedance (400 ohm on 8 ohm) is left across it.",
    why="The contact is there to short the secondary, or to put a resistor across it, at the "
    "moment the plug is pulled. Wired to the tip, to an empty tag or to the wrong winding it does "
    "nothing: the primary flies up to several times the supply and arcs, in the transformer or "
    "at the socket.",
    source=Citation("web-secondaries", "a few hundred ohm suffice"),
    limits="A speaker whose wire is written at the jack's own tip or sleeve counts as plugged in, "
    "any other as part of the set. A jack whose contact is not wired at all is reported by "
    "output.no-permanent-load. The resistor's power is not judged.",
    thresholds=(LOAD_FACTOR,),
)
def shorting_defeated(case: Case) -> Iterator[Outcome]:
    """Look for what the contacts leave across each secondary with the plugs out."""
    circuit = case.circuit
    for name, output in circuit.outputs.items():
        pairs = secondary_pairs(output)
        found = [
            j for j in jacks(circuit) if any(_behind(circuit, output, j, p.nets) for p in pairs)
        ]
        wired = [j for j in found if _contact_wired(circuit, j)]
        if not wired:
            continue
        graph = _graph(circuit, output)
        each = [(_across(graph, p.nets), LOAD_FACTOR.value * p.rated) for p in pairs]
        if not any(left is not None and left <= limit for left, limit in each):
            yield _finding(case, name, output, wired, each[-1][0])


def _contact_wired(circuit: Circuit, jack: Jack) -> bool:
    if jack.switch is None:
        return False
    others = [b for b in circuit.at(jack.switch) if b.kind is not PartKind.JACK_CONTACT]
    return bool(others) or len(circuit.names.get(jack.switch, ())) > 1


def _graph(circuit: Circuit, output: OutputTransformer) -> nx.Graph[str]:
    """Nets joined by what could carry a speaker's current with the plugs out; ohms a weight."""
    graph: nx.Graph[str] = nx.Graph()
    own = {b.name for _, b in output.branches}
    away = plugged_parts(circuit)
    for branch in circuit.branches.values():
        weight = None if branch.name in own | away else _ohms(branch)
        if weight is None:
            continue
        old = graph.get_edge_data(branch.a, branch.b)
        if old is None or weight < old["weight"]:
            graph.add_edge(branch.a, branch.b, weight=weight)
    return graph


def _ohms(branch: Branch) -> float | None:
    kind = branch.kind
    match kind:
        case (
            PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.INDUCTOR | PartKind.LAMP
        ):  # fmt: skip
            usual = branch.closed or kind is PartKind.JACK_CONTACT
            return 0.0 if usual else None
        case (
            PartKind.SPEAKER
            | PartKind.RESISTOR
            | PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
        ):
            return branch.ohms
        case PartKind.RELAY | PartKind.METER:
            return branch.ohms
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING
            | PartKind.SIGNAL
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def _across(graph: nx.Graph[str], ends: tuple[str, str]) -> float | None:
    a, b = ends
    if a == b:
        return 0.0
    if a not in graph or b not in graph or not nx.has_path(graph, a, b):
        return None
    return float(nx.dijkstra_path_length(graph, a, b))


def _behind(circuit: Circuit, output: OutputTransformer, jack: Jack, ends: tuple[str, str]) -> bool:
    """Whether tip and sleeve lead to the secondary's two ends without a load between."""
    graph = _graph(circuit, output)
    loads = [(a, b) for a, b, data in graph.edges(data=True) if data["weight"] > 1.0]
    graph.remove_edges_from(loads)
    pairs = ((jack.tip, jack.sleeve), (jack.sleeve, jack.tip))
    return any(_joined(graph, a, ends[0]) and _joined(graph, b, ends[1]) for a, b in pairs)


def _joined(graph: nx.Graph[str], a: str, b: str) -> bool:
    return a == b or (a in graph and b in graph and nx.has_path(graph, a, b))


def _finding(
    case: Case, name: str, output: OutputTransformer, found: list[Jack], left: float | None
) -> Finding:
    load = si(output.secondary, "ohm") or 8.0
    names = tuple(j.name for j in found)
    contact = found[0]
    own = f"{contact.name}.switch"
    at = [n for n in case.circuit.names.get(contact.switch or "", ()) if n != own]
    where = f" to {at[0]}" if at else ""
    what = "nothing" if left is None else f"only {ohms(left)}"
    return shorting_defeated.finding(
        case,
        (*names, name),
        f"with the plug out of {listed(names)} {what} is left across the secondary of {name}: "
        f"its switch contact is wired{where} and loads nothing",
        f"Wire {contact.name}.switch to {contact.name}.sleeve, so that pulling the plug shorts "
        f"the secondary, or fit {ohms(preferred(30 * load))} 5 W right across it",
        state="unplugged",
        evidence={"left": "open" if left is None else figure(left, "ohm")},
        limit=figure(LOAD_FACTOR.value * load, "ohm"),
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (shorting_defeated,)
