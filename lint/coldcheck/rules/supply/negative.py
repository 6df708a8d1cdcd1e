"""The negative side of a supply: resistors between it and gnd, and where its capacitors end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.lifted_returns import HIGH_V, MOST_OHM, Return, lifted_returns
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Outcome

SENSE_V = Threshold("drop in a return that is meant", 5.0, "V", PRACTICE)
CLAMPS = ("diode", "zener", "led")
SILICON_V = 0.5


@rule(
    "supply.unclamped-return",
    title="Resistor in the supply's negative lead without a diode across it",
    level="warning",
    states="the drawing; warm for the voltage across it",
    needs="the wiring of the rectifier and its winding",
    criterion=(
        "A resistor lies between the negative side of a high-voltage rectifier and gnd, and no "
        "diode or zener lies across it. Where it drops more than 5 V it makes a bias by design: "
        "advice."
    ),
    why=(
        "When such a resistor opens, or the supply is shorted to gnd, the whole high voltage "
        "stands across it: the winding, the meter and everything on the negative side go that far "
        "below the chassis. A diode across it conducts then and holds it near gnd."
    ),
    source=Citation("web-mistakes", "clamp across negative-lead metering"),
    limits=(
        "Only diodes right across the resistor count as a clamp; whether they stand the "
        "surge, and which way round they are, is not judged. Returns through a choke or relay are "
        "not looked at."
    ),
    thresholds=(SENSE_V, HIGH_V, MOST_OHM),
)
def unclamped_return(case: Case) -> Iterator[Outcome]:
    """Look for bare resistors between a supply's minus and gnd."""
    for found in lifted_returns(case.circuit):
        if not _clamped(case.circuit, found) and not _held(case.circuit, found):
            yield _unclamped(case, found)


def _clamped(circuit: Circuit, found: Return) -> bool:
    """Whether diodes alone, one or several in series, join the negative side and gnd."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((found.net, found.ground))
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if b.traits.one_way)
    graph.remove_nodes_from(set(found.outputs) - {found.net, found.ground})
    return bool(nx.has_path(graph, found.net, found.ground))


def _held(circuit: Circuit, found: Return) -> bool:
    """Whether a meter, a choke or the like lies across: it holds the minus should they open."""
    across = (b for b in circuit.at(found.net) if b.other(found.net) == found.ground)
    return any(b.traits.metal and b.closed and b.kind is not PartKind.RESISTOR for b in across)


def _unclamped(case: Case, found: Return) -> Outcome:
    names = tuple(r.name for r in found.resistors)
    drop, supply = _drop(case, found), _supply(case, found)
    by_design = drop is not None and drop > SENSE_V.value
    what = f" (it drops {volts(drop)})" if drop is not None else ""
    reached = f"{volts(supply)} below gnd" if supply else "the whole supply below gnd"
    evidence: dict[str, Figure | str] = {"drop": figure(drop, "V")} if drop is not None else {}
    evidence |= {"supply": figure(supply, "V")} if supply else {}
    return unclamped_return.finding(
        case,
        names,
        f"only {listed(names)}{what} holds {net_text(case.circuit, found.net)}, the supply's "
        f"minus, to gnd: should it open, that side goes to {reached}",
        _clamp(case, found, drop),
        level="advice" if by_design else "warning",
        evidence=evidence,
        certainty="certain" if drop is not None else "possible",
    )


def _clamp(case: Case, found: Return, drop: float | None) -> str:
    net = net_text(case.circuit, found.net)
    names = listed(r.name for r in found.resistors)
    if drop is not None and drop > SENSE_V.value:
        return (
            f"Put a zener of some {volts(1.5 * drop)} across {names}, its plus at gnd "
            f"(`{net} --[zener]-> gnd`), or two resistors in parallel"
        )
    count = 1 if drop is None else int(drop / SILICON_V) + 1
    several = "a rectifier diode" if count == 1 else f"{count} rectifier diodes in series"
    return f"Put {several} across {names}, conducting from gnd to {net}"


def _drop(case: Case, found: Return) -> float | None:
    wave = case.warm.between(found.ground, found.net) if case.warm.converged else None
    return None if wave is None else abs(wave.dc)


def _supply(case: Case, found: Return) -> float | None:
    """The rectified voltage when warm: from the output to the negative side."""
    if not case.warm.converged:
        return None
    waves = [case.warm.between(o, found.net) for o in found.outputs]
    return max((abs(w.dc) for w in waves if w is not None), default=None)


RULES = (unclamped_return,)
