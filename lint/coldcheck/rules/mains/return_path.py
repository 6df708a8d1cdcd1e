"""The mains comes in by one lead only, or reaches only one end of the primary."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import METAL
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Transformer
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

MAINS = ("line", "neutral")
OTHER = {"line": "neutral", "neutral": "line"}


@rule(
    "mains.no-return",
    title="Mains with no return path",
    level="notice",
    states="the drawing alone",
    needs="`line` or `neutral` in the drawing",
    criterion="The drawing names `line` or `neutral` and not the other; or wires, switches, fuses "
    "and resistances join one of them to an end of a primary winding, and nothing joins the other "
    "one to any other end.",
    why="A primary on one lead gets nothing, and none of the voltages of the drawing are there. In "
    "a set without a transformer the return is the set's common: where it is missing, whatever "
    "touches the set is the return.",
    source=PRACTICE,
    limits="A drawing that names neither is taken to be on the mains; so is a primary that no lead "
    "reaches. Switches count as closed.",
)
def no_return(case: Case) -> Iterator[Outcome]:
    """Look for both mains leads, then at the ends of each primary."""
    circuit = case.circuit
    named = [n for n in MAINS if n in circuit.points]
    if len(named) == 1:
        yield _finding(case, (named[0], *circuit.transformers), named[0])
        return
    for transformer in circuit.transformers.values() if named else ():
        yield from _half(case, transformer)


def _half(case: Case, transformer: Transformer) -> Iterator[Finding]:
    graph = _metal(case.circuit)
    primaries = [w for w in case.circuit.windings() if w.primary and _of(w.name, transformer.name)]
    reached = {
        m: [n for w in primaries for n in w.nets if _joined(graph, n, case.circuit.points[m])]
        for m in MAINS
    }
    got = [m for m in MAINS if reached[m]]
    if len(got) == 1:
        yield _finding(case, (transformer.name, OTHER[got[0]]), got[0])


def _of(winding: str, transformer: str) -> bool:
    return winding.partition(".")[0] == transformer


def _metal(circuit: Circuit) -> nx.Graph[str]:
    """All nets, joined by what carries the mains to a primary; switches as if closed."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph)
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if b.kind in METAL)
    return graph


def _joined(graph: nx.Graph[str], a: str, b: str) -> bool:
    return a in graph and b in graph and nx.has_path(graph, a, b)


def _finding(case: Case, at: tuple[str, ...], there: str) -> Finding:
    missing = OTHER[there]
    where = f"{at[0]}: " if at[0] not in MAINS else ""
    return no_return.finding(
        case,
        at,
        f"{where}the mains comes in on `{there}` and nothing leads back to `{missing}`",
        f"Draw what joins the other end of the primary, or the set's return, to `{missing}`",
        evidence={"missing": missing},
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (no_return,)
