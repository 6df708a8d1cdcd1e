"""Windings joined to one another: in step, against each other, or of unlike voltage."""

from __future__ import annotations

from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import metal_ohms
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transformer, Winding
    from coldcheck.judge.finding import Finding, Outcome

LOOP_OHM = Threshold("resistance that joins windings into a loop", 1.0, "ohm", PRACTICE)
"""Metal of less than this joins windings into a loop: wires, closed switches, fuses."""

EVEN = Threshold("share by which windings side by side may differ", 0.05, "", PRACTICE)
"""Windings side by side may differ by this share (common practice)."""

LITTLE = Threshold("share of the larger winding left over in series", 0.2, "", PRACTICE)
"""In series against each other, less than this share of the larger left over is no use."""


@dataclass(frozen=True, slots=True)
class Ring:
    """Parts of windings in a closed loop, each with its rms volts, less than 0 against the way."""

    parts: tuple[tuple[Branch, float], ...]

    @property
    def emfs(self) -> dict[str, float]:
        """Winding -> what its parts add to the loop, rms volts."""
        owners = sorted({b.owner for b, _ in self.parts})
        return {name: sum(v for b, v in self.parts if b.owner == name) for name in owners}

    @property
    def emf(self) -> float:
        """What is left over around it, rms volts."""
        return abs(sum(self.emfs.values()))

    @property
    def allowed(self) -> float:
        """What may be left over, rms volts."""
        return EVEN.value * max(map(abs, self.emfs.values()))

    @property
    def turned(self) -> str | None:
        """The last winding whose leads, swapped, leave no more than may be."""
        whole = sum(self.emfs.values())
        mends = (n for n, v in reversed(self.emfs.items()) if abs(whole - 2 * v) <= self.allowed)
        return next(mends, None)

    @property
    def amps(self) -> float | None:
        """What flows around it, amperes; ``None`` where a resistance is not written."""
        known = [si(b.resistance, "ohm") for b, _ in self.parts]
        return None if None in known else self.emf / max(sum(r or 0.0 for r in known), 1e-3)


@rule(
    "supply.windings-opposed",
    title="Windings joined out of step",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone; switches as drawn",
    needs="two or more windings joined to one another, their voltages and dots",
    criterion="Around a loop of windings and wires the emfs, with the signs of the dots, leave "
    "more than 5 % of the largest; or windings of two transformers that differ by as much are "
    "side by side; or of two windings in series, with nothing else on their "
    "junction, less than 20 % of the larger is left.",
    why="Side by side, windings must be in step: out of step the sum of both drives a short "
    "circuit whose only resistance is the copper. In series out of step they cancel, and "
    "primaries that cancel are a short across the mains.",
    source=(
        Citation("arithmetic", "Kirchhoff's voltage law"),
        Citation("practice", "leads with a dot are positive together"),
    ),
    limits="Of two transformers only windings wired end to end are compared, by their voltages: "
    "how their primaries are phased is not looked at. Where the drawing shows no dots, lead 1 "
    "of every winding is taken to have one. A winding that bucks another one in part is taken to "
    "be meant so.",
    thresholds=(EVEN, LITTLE, LOOP_OHM),
)
def windings_opposed(case: Case) -> Iterator[Outcome]:
    """Loops of windings, and windings in series."""
    at = _joined(case.circuit)
    for transformer in case.circuit.transformers.values():
        rings = list(_rings(at, transformer))
        for ring in rings:
            if ring.emf > ring.allowed:
                yield _shorted(case, ring)
        if not rings:
            for first, second in _in_series(case.circuit, at, transformer):
                yield from _cancelled(case, at, first, second)
    yield from _unlike(case, at)


def _unlike(case: Case, at: Mapping[str, str]) -> Iterator[Finding]:
    """Windings of two transformers side by side: whatever their phase, unlike volts never fit."""
    windings = [
        (name, w)
        for name, t in case.circuit.transformers.items()
        for w in t.secondaries
        if at[w.nets[0]] != at[w.nets[-1]]
    ]
    for (one, first), (other, second) in combinations(windings, 2):
        ends = [{at[w.nets[0]], at[w.nets[-1]]} for w in (first, second)]
        against = ((b, -_emf(b)) for b in second.branches)
        ring = Ring((*((b, _emf(b)) for b in first.branches), *against))
        if one != other and ends[0] == ends[1] and ring.emf > ring.allowed:
            yield _shorted(case, ring)


def _emf(branch: Branch) -> float:
    return si(branch.value, "volt") or 0.0


def _joined(circuit: Circuit) -> Mapping[str, str]:
    """Net -> the net that stands for everything wired to it by less than an ohm."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    for branch in circuit.branches.values():
        ohm = metal_ohms(branch)
        if ohm is not None and ohm < LOOP_OHM.value and branch.kind is not PartKind.INDUCTOR:
            graph.add_edge(branch.a, branch.b)
    return {net: min(group) for group in nx.connected_components(graph) for net in group}


def _rings(at: Mapping[str, str], transformer: Transformer) -> Iterator[Ring]:
    """The independent loops made of two or more windings of a transformer."""
    tree: nx.Graph[str] = nx.Graph()
    for branch in (b for w in transformer.windings for b in w.branches):
        a, b = at[branch.a], at[branch.b]
        tree.add_nodes_from((a, b))
        if not nx.has_path(tree, a, b):
            tree.add_edge(a, b, branch=branch)
            continue
        walk = nx.shortest_path(tree, b, a)
        steps = [(x, tree.edges[x, y]["branch"]) for x, y in pairwise(walk)]
        # In at the far end and out at the dot is a rise; the other way is a fall.
        rises = ((s, _emf(s) if at[s.b] == x else -_emf(s)) for x, s in steps)
        ring = Ring(((branch, -_emf(branch)), *rises))
        if len(ring.emfs) > 1:
            yield ring


def _shorted(case: Case, ring: Ring) -> Finding:
    amps, names = ring.amps, tuple(ring.emfs)
    flows = f"; {amperes(amps)} would flow in the copper alone" if amps else ""
    remedy = (
        "Join only windings of equal voltage side by side"
        if ring.turned is None
        else f"Swap the two leads of {ring.turned}, so that leads with a dot are together"
    )
    return windings_opposed.finding(
        case,
        names,
        f"{listed(names)} are joined into a loop, and {volts(ring.emf)} is left over "
        f"around it{flows}",
        remedy,
        evidence={
            "loop_emf": figure(ring.emf, "V"),
            "loop_current": "not known" if amps is None else figure(amps, "A"),
        },
        limit=figure(ring.allowed, "V"),
        certainty="certain",
        excess=ring.emf / ring.allowed,
    )


def _in_series(
    circuit: Circuit, at: Mapping[str, str], transformer: Transformer
) -> Iterator[tuple[Winding, Winding]]:
    """Pairs of windings with a junction that nothing else is on."""
    for first, second in combinations(transformer.windings, 2):
        if first.primary == second.primary:
            ends = [{at[w.nets[0]], at[w.nets[-1]]} for w in (first, second)]
            for junction in ends[0] & ends[1]:
                if _bare(circuit, at, junction, (first, second)):
                    yield first, second


def _bare(
    circuit: Circuit, at: Mapping[str, str], junction: str, pair: tuple[Winding, Winding]
) -> bool:
    nets = [n for n, group in at.items() if group == junction]
    own = {b.name for w in pair for b in w.branches}
    others = [b for n in nets for b in circuit.at(n) if b.name not in own and at[b.a] != at[b.b]]
    wired = any(circuit.electrodes_at(n) for n in nets)
    return not (others or wired or set(nets) & set(LANDMARKS))


def _cancelled(
    case: Case, at: Mapping[str, str], first: Winding, second: Winding
) -> Iterator[Finding]:
    dots = [at[w.nets[-1 if w.dot == "2" else 0]] for w in (first, second)]
    ends = [{at[w.nets[0]], at[w.nets[-1]]} for w in (first, second)]
    (junction, *_) = ends[0] & ends[1]
    against = (dots[0] == junction) == (dots[1] == junction)
    one, other = (si(w.volts, "volt") or 0.0 for w in (first, second))
    left, largest = abs(one - other), max(one, other)
    if against and left < LITTLE.value * largest:
        names = (first.name, second.name)
        result = "a short across the mains" if first.primary else f"{volts(left)} across both"
        yield windings_opposed.finding(
            case,
            names,
            f"{names[0]} and {names[1]} are in series against each other: {volts(one)} and "
            f"{volts(other)} leave {result}",
            f"Swap the two leads of {names[1]}: a lead with a dot goes to one without",
            evidence={"left": figure(left, "V")},
            limit=figure(LITTLE.value * largest, "V"),
            certainty="certain",
            excess=LITTLE.value * largest / max(left, 0.01 * largest),
        )


RULES: tuple[Rule, ...] = (windings_opposed,)
