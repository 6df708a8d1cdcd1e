"""Jacks with the plug out: what the grid behind has left, and whether a loop still passes."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import AMPLIFYING, metal, metal_ohms
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.jacks import Jack
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Outcome

QUIET_OHM = Threshold("resistance of an unplugged input", 10e3, "ohm", PRACTICE)
"""Below this an unplugged input picks up little (common practice, from memory)."""


@rule(
    "signal.jack-open",
    title="Input left open when its plug is pulled",
    level="advice",
    states="the plug pulled; switches as drawn",
    needs="a jack whose tip leads to a grid, and known resistances",
    criterion="With the plug out and the jack's switch contact resting on the tip, more than "
    "10 kohm is left from the tip to gnd.",
    why="The open end of a grid's wire picks up hum and everything else. A jack with a switch "
    "contact to gnd silences the input by itself when the plug is pulled.",
    source=PRACTICE,
    limits="Only the jack's own contact and plain resistances count; a mute switch further on is "
    "not looked for. A grid without any path to gnd is told by grid.no-return.",
    thresholds=(QUIET_OHM,),
)
def jack_open(case: Case) -> Iterator[Outcome]:
    """What each input jack leaves its grid with when it is empty."""
    circuit = case.circuit
    graph = _unplugged(circuit)
    for jack in jacks(circuit):
        grid = _grid(circuit, jack)
        if grid is None:
            continue
        left = _to_ground(graph, jack.tip)
        if QUIET_OHM.value < left < inf:
            unwired = jack.switch is not None and len(circuit.names.get(jack.switch, ())) < 2
            contact = f"; the switch contact of {jack.name} is not wired" if unwired else ""
            yield jack_open.finding(
                case,
                (jack.name,),
                f"with the plug out of {jack.name} the tip, which leads to {grid}, has only "
                f"{ohms(left)} to gnd{contact}",
                f"{_wire(jack)}, so that the empty jack shorts the input",
                state="unplugged",
                evidence={"to_gnd": figure(left, "ohm")},
                limit=QUIET_OHM.figure,
                certainty="certain",
                excess=left / QUIET_OHM.value,
            )


def _wire(jack: Jack) -> str:
    if jack.switch is None:
        return f"Use a jack with a switch contact, declared `jack {jack.name}`, and wire it to gnd"
    return f"Wire `{jack.name}.switch -- gnd`"


def _unplugged(circuit: Circuit) -> nx.Graph[str]:
    """Metal with the contacts of all jacks closed; signal generators are gone with the plugs."""
    graph = metal(circuit)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.JACK_CONTACT:
            graph.add_edge(branch.a, branch.b, weight=0.0)
    return graph


def _to_ground(graph: nx.Graph[str], net: str) -> float:
    if net == GROUND:
        return 0.0
    if net not in graph or GROUND not in graph or not nx.has_path(graph, net, GROUND):
        return inf
    return float(nx.dijkstra_path_length(graph, net, GROUND))


def _grid(circuit: Circuit, jack: Jack) -> str | None:
    """The grid that a jack's tip leads to through resistors, a pot or a coupling capacitor."""
    graph: nx.Graph[str] = nx.Graph([(jack.tip, jack.tip)])
    for branch in circuit.branches.values():
        passes = branch.kind is PartKind.CAPACITOR or metal_ohms(branch) is not None
        if passes and GROUND not in (branch.a, branch.b):
            graph.add_edge(branch.a, branch.b)
    near = nx.node_connected_component(graph, jack.tip)
    found = [(s, e) for n in near for s, e in circuit.electrodes_at(n) if s.kind in AMPLIFYING]
    # Behind a plate or cathode it is an output, not an input.
    if any(e in ("plate", "cathode", "screen") for _, e in found):
        return None
    return min((f"{s.name}.{e}" for s, e in found if e in SIGNAL_GRIDS), default=None)


@rule(
    "signal.return-muted",
    title="Return jack of a loop that mutes the set when it is empty",
    level="notice",
    states="the drawing alone, no plug in",
    needs="a `signal`, and the wiring of the jacks",
    criterion="The signal drawn gets to one jack, a send, and to nothing after it; another jack, "
    "whose switch contact is on gnd, leads to the rest of the set and has no signal of its own.",
    why="An effects loop has to pass when nothing is plugged in: the switch contact of the return "
    "brings the send. On gnd, as at an input, it shorts the way on, and the set is silent.",
    source=PRACTICE,
    limits="Two sets on one drawing, the second without its own `signal` line, look the same: "
    "draw its signal.",
)
def return_muted(case: Case) -> Iterator[Outcome]:
    """Follow the signals to where they end."""
    circuit = case.circuit
    every = list(jacks(circuit))
    signals = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
    if not signals or len(every) < 2:
        return
    reached = _carried(circuit, {n for b in signals for n in (b.a, b.b)})
    sends = [j for j in every if j.tip in reached and _given(circuit, j)]
    muted = [
        j for j in every
        if j.switch == GROUND and j.tip not in reached and _grid(circuit, j) is not None
    ]  # fmt: skip
    if len(sends) == 1 and len(muted) == 1 and not _comes_out(circuit, reached):
        yield _muted(case, sends[0], muted[0])


def _carried(circuit: Circuit, start: set[str]) -> frozenset[str]:
    """Every net a signal gets to, from grid to plate and cathode as well."""
    still = still_nets(circuit)
    reached = coupled(circuit, start, still)
    while True:
        through = {
            n for s in circuit.sections() if s.kind in AMPLIFYING and s.net("grid") in reached
            for e, n in s.electrodes.items() if e in ("plate", "cathode")
        } - still  # fmt: skip
        more = reached | coupled(circuit, through, still)
        if more == reached:
            return reached
        reached = more


def _given(circuit: Circuit, jack: Jack) -> bool:
    """Whether a plate or a cathode brings the signal of a jack's tip."""
    nets = coupled(circuit, [jack.tip], still_nets(circuit))
    return any(e in ("plate", "cathode") for n in nets for _, e in circuit.electrodes_at(n))


def _comes_out(circuit: Circuit, reached: Collection[str]) -> bool:
    """Whether what a signal gets to has an output: a speaker, a transformer, a point named so."""
    kinds = {b.kind for n in reached for b in circuit.at(n)}
    named = any(named_out(p) for n in reached for p in circuit.names.get(n, ()))
    return named or bool(kinds & {PartKind.SPEAKER, PartKind.WINDING})


def _muted(case: Case, send: Jack, back: Jack) -> Outcome:
    return return_muted.finding(
        case,
        (back.name, send.name),
        f"with no plug in, {back.name}.switch holds the tip of {back.name} at gnd: the signal ends "
        f"at {send.name}, and nothing gets past it",
        f"Wire {back.name}.switch to the tip of {send.name} in place of gnd",
        state="unplugged",
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (jack_open, return_muted)
