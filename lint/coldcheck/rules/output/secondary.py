"""Output transformer rules: the secondary's load and its tie to gnd.

Loads are in ``output_load``, screens in ``output_screen``, taps in ``output_taps``.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import nearest
from coldcheck.anatomy.output_stage import (
    LOAD_FACTOR,
    jack_pairs,
    load_ohms,
    secondary,
    secondary_pairs,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer
    from coldcheck.judge.finding import Outcome

TIE_OHM = Threshold("resistance that ties a secondary to gnd", 100.0, "ohm", PRACTICE)


def _loads(circuit: Circuit, output: OutputTransformer) -> nx.Graph[str]:
    """Nets joined by anything that could carry a speaker's current, with ohms."""
    graph: nx.Graph[str] = nx.Graph()
    own = {b.name for _, b in output.branches}
    coils = {b.name for coil in circuit.coils() for _, b in coil.parts}
    for branch in circuit.branches.values():
        lifted = branch.kind is PartKind.JACK_CONTACT and not branch.closed  # by a plug
        ohm = None if branch.name in own or lifted else load_ohms(branch)
        ohm = 0.0 if branch.name in coils else ohm  # a hum-bucking coil, a line transformer
        if ohm is not None:
            _add(graph, branch.a, branch.b, ohm)
    for name, leads in jack_pairs(circuit):
        graph.add_edge(*leads, weight=0.0, jack=name)
    return graph


def _add(graph: nx.Graph[str], one: str, other: str, ohm: float) -> None:
    """One more way between two nets, beside those there are."""
    before = graph.edges[one, other]["weight"] if graph.has_edge(one, other) else inf
    both = 0.0 if not (ohm and before) else 1 / (1 / ohm + 1 / before)
    graph.add_edge(one, other, weight=both)


@rule(
    "output.open-secondary",
    title="Output transformer without a load",
    level="notice",
    states="the drawing alone; a speaker jack counts as plugged in, a switch as closed",
    needs="an output transformer",
    criterion=(
        "Nothing joins the secondary's two leads: no speaker, jack or resistor of at most 50 "
        "times its impedance (400 ohm on 8 ohm)."
    ),
    why=(
        "A pentode driven into an unloaded transformer swings its plate to several times the "
        "supply. The primary arcs through, or the tube's socket does."
    ),
    source=Citation("web-secondaries", "a few hundred ohm suffice"),
    limits=(
        "Whether a plug is in a jack is taken from the drawing. A feedback resistor across "
        "the secondary is not counted as a load unless it is small enough to be one."
    ),
    thresholds=(LOAD_FACTOR,),
)
def open_secondary(case: Case) -> Iterator[Outcome]:
    """Look for a load across every secondary."""
    for name, output in case.circuit.outputs.items():
        graph, pairs = _loads(case.circuit, output), secondary_pairs(output)
        found = nearest(graph, *pairs[-1].nets)
        each = [(nearest(graph, *pair.nets), LOAD_FACTOR.value * pair.rated) for pair in pairs]
        if any(near is not None and near <= limit for near, limit in each):
            continue
        load, limit = pairs[-1].rated, LOAD_FACTOR.value * pairs[-1].rated
        what = "nothing" if found is None else f"only {ohms(found)}"
        yield open_secondary.finding(
            case,
            (name,),
            f"{what} is across the secondary of {name} ({name}.s1 to {name}.s2)",
            f"Draw the {ohms(load)} speaker, and fit a resistor of about {ohms(30 * load)} 5 W "
            "right across the secondary so that it is never open",
            evidence={"load": "open" if found is None else figure(found, "ohm")},
            limit=figure(limit, "ohm"),
            certainty="certain",
        )


@rule(
    "output.floating-secondary",
    title="Feedback from a secondary that is tied to nothing",
    level="warning",
    states="the drawing alone",
    needs="an output transformer",
    criterion=(
        "A resistor or capacitor takes feedback from the secondary into the circuit, and no "
        "speaker-current path of 100 ohm or less joins the secondary to gnd, chassis or earth."
    ),
    why=(
        "The feedback is then measured from nowhere. And when the insulation between the "
        "windings fails, the secondary and the speaker leads somebody plugs in go to the full "
        "supply voltage instead of blowing the fuse."
    ),
    source=Citation("textbooks-1950s", "feedback amplifiers"),
    limits=(
        "Insulation between the windings is not in a drawing; what a breakdown would do is "
        "why the rule exists, its likelihood is not judged."
    ),
    thresholds=(TIE_OHM,),
)
def floating_secondary(case: Case) -> Iterator[Outcome]:
    """Look for feedback parts on secondaries without a tie."""
    circuit = case.circuit
    for name, output in circuit.outputs.items():
        island = _island(_loads(circuit, output), secondary(output))
        if island & _grounds(circuit):
            continue
        leaving = [b for b in circuit.branches.values() if _leaves(b, island)]
        feedback = [b for b in leaving if not {b.a, b.b} & _grounds(circuit)]
        if feedback:
            names = tuple(b.name for b in feedback)
            yield floating_secondary.finding(
                case,
                (name, *names),
                f"{listed(names)} {'takes' if len(names) == 1 else 'take'} feedback from {name}, "
                f"whose secondary is {_tied(circuit, leaving)}",
                f"Join one end of the secondary to gnd: `{name}.{_other_end(output, feedback)} -- "
                f"gnd`, not the end that {listed(names)} is on, and so that the feedback is "
                "negative",
                evidence={"feedback_through": listed(names)},
                limit=TIE_OHM.figure,
                certainty="certain",
            )


def _other_end(output: OutputTransformer, feedback: list[Branch]) -> str:
    """The end of the secondary that no feedback is taken from."""
    taken = {n for b in feedback for n in (b.a, b.b)}
    return "s1" if dict(output.leads)["s2"] in taken else "s2"


def _tied(circuit: Circuit, leaving: list[Branch]) -> str:
    """How loosely the secondary is tied to gnd."""
    ties = [b.name for b in leaving if {b.a, b.b} & _grounds(circuit)]
    return f"tied to gnd only through {listed(ties)}" if ties else "not tied to gnd"


def _island(graph: nx.Graph[str], ends: tuple[str, ...]) -> frozenset[str]:
    """The nets within 100 ohm of the secondary."""
    near = {*ends}
    for end in ends:
        if end in graph:
            near |= set(nx.single_source_dijkstra_path_length(graph, end, cutoff=TIE_OHM.value))
    return frozenset(near)


def _grounds(circuit: Circuit) -> frozenset[str]:
    marks = (GROUND, "chassis", "earth")
    return frozenset(circuit.points[m] for m in marks if m in circuit.points)


def _leaves(branch: Branch, island: frozenset[str]) -> bool:
    return (branch.traits.steady or branch.kind is PartKind.CAPACITOR) and len(
        {branch.a, branch.b} & island
    ) == 1


RULES: tuple[Rule, ...] = (
    open_secondary,
    floating_secondary,
)
