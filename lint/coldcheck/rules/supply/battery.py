"""Batteries that go on giving current when the set is switched off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import metal, nearest
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.roads import switch_positions
from coldcheck.circuit.throws import switches_of
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

DRAIN_A = Threshold(
    "current out of a battery that is switched off", 20e-6, "A",
    Citation("practice", "a small layer battery holds some 0.5 Ah: as much in three years"),
)  # fmt: skip


@rule(
    "supply.battery-not-switched",
    title="Battery that the switch leaves connected",
    level="notice",
    states="the drawing alone; each switch in both positions",
    needs="two batteries, no mains, and a switch that takes one of them off",
    criterion="A switch takes one battery off its load, and in either position of every switch "
    f"resistors alone draw more than {1e6 * DRAIN_A.value:g} uA from another one.",
    why="The tubes draw nothing with their filaments cold, but a screen divider, a bleeder or a "
    "volume control across the supply does. The battery is flat by the next morning.",
    source=(PRACTICE, Citation("arithmetic", "Ohm's law")),
    limits="A set with one battery, and sources that stand for a supply in a drawing of one stage, "
    "are left alone.",
    thresholds=(DRAIN_A,),
)
def battery_not_switched(case: Case) -> Iterator[Outcome]:
    """Look for what is left across each battery when another one is off."""
    circuit = case.circuit
    batteries = [b for b in circuit.branches.values() if b.kind is PartKind.SOURCE]
    if circuit.mains is not None or len(batteries) < 2:
        return
    positions = [(p, thrown_circuit(circuit, p)) for p in switch_positions(circuit)]
    for battery in batteries:
        others = [b for b in batteries if b is not battery]
        takes_off = [p for p, c in positions for o in others if _used(c, o) != _used(circuit, o)]
        drawn = [_ohms(c, battery) for _, c in positions]
        left = [o for o in drawn if o is not None]
        if takes_off and len(left) == len(drawn):
            amps = (si(battery.value, "volt") or 0.0) / max(max(left), 1e-3)
            if amps > DRAIN_A.value:
                yield _drained(case, battery, switches_of(n for p in takes_off for n in p), amps)


def _used(circuit: Circuit, battery: Branch) -> bool:
    """Whether anything with a filament or a resistance is across a battery."""
    graph = metal(circuit).copy()
    heaters = (b for b in circuit.branches.values() if b.kind is PartKind.HEATER)
    graph.add_edges_from((b.a, b.b) for b in heaters)
    ends = battery.a, battery.b
    return all(n in graph for n in ends) and nx.has_path(graph, *ends)


def _ohms(circuit: Circuit, battery: Branch) -> float | None:
    """The resistance that is left across a battery; ``None`` for none."""
    return nearest(metal(circuit), battery.a, battery.b)


def _drained(case: Case, battery: Branch, switches: tuple[str, ...], amps: float) -> Finding:
    value = si(battery.value, "volt") or 0.0
    names = listed(switches)
    return battery_not_switched.finding(
        case,
        (battery.name, *switches),
        f"{names} takes another battery off and leaves {ohms(value / amps)} across {battery.name} "
        f"({volts(value)}): {amperes(amps)} go on flowing when the set is off",
        f"Let a second pole of {names} open {battery.name} as well",
        evidence={"drain": figure(amps, "A")},
        limit=DRAIN_A.figure,
        certainty="certain",
        excess=amps / DRAIN_A.value,
    )


RULES: tuple[Rule, ...] = (battery_not_switched,)
