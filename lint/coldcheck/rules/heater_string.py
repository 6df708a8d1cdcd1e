"""Heaters in series: one current for all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.rules.heater_lines import HeaterLine, heater_branches, heater_lines, tube_amps
from coldcheck.rules.model import Case, Outcome, Rule, rule
from coldcheck.rules.places import amperes, listed, ohms, si, watts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.rules.model import Finding

UNEQUAL = 0.05
"""Difference of heater currents that a series string stands (common practice)."""


@rule(
    "heater.unequal-string",
    title="Unequal heaters in one series string",
    level="notice",
    states="the drawing alone",
    needs="the order of the string and the heater currents of the types",
    criterion="heaters in plain series, without a shunt, whose rated currents differ by more "
    "than 5 %",
    why="One current flows through a whole string. The heater made for less current gets too much "
    "and burns, worst while the string warms up; the others stay cold.",
    source="common practice; Ohm's law (shunt)",
)
def unequal_string(case: Case) -> Iterator[Outcome]:
    """All heaters of a plain series string need the same current."""
    for line in heater_lines(case.circuit):
        for string in unequal(case.circuit, line):
            yield _uneven(case, string)


def unequal(circuit: Circuit, line: HeaterLine) -> list[list[Tube]]:
    """Strings of heaters in plain series with unequal rated currents."""
    joins: nx.Graph[str] = nx.Graph()
    for branch in heater_branches(line):
        joins.add_node(branch.owner)
    for net in line.nets:
        owners = {b.owner for b in circuit.at(net) if b.kind == "heater"}
        if len(owners) == 2 and _plain_joint(circuit, net):
            joins.add_edge(*owners)
    strings = [[t for t in line.tubes if t.name in g] for g in nx.connected_components(joins)]
    return [s for s in strings if len(s) > 1 and _spread(s) > UNEQUAL]


def _plain_joint(circuit: Circuit, net: str) -> bool:
    """Whether only two heater ends meet on a net (capacitors do not matter)."""
    conducting = [b for b in circuit.at(net) if b.kind != "capacitor"]
    return len(conducting) == 2 and not circuit.electrodes_at(net)


def _spread(tubes: list[Tube]) -> float:
    amps = [tube_amps(t) for t in tubes]
    return max(amps) / min(amps) - 1 if min(amps) > 0 else 0.0


def _uneven(case: Case, string: list[Tube]) -> Finding:
    low, high = min(string, key=tube_amps), max(string, key=tube_amps)
    weak = [t.name for t in string if tube_amps(t) < tube_amps(high) * (1 - UNEQUAL / 2)]
    message = (
        f"{listed(t.name for t in string)} are in series, but {low.name} {low.type.name} wants "
        f"{amperes(tube_amps(low))} and {high.name} {high.type.name} {amperes(tube_amps(high))}"
    )
    rated = si(low.heater.volts, "volt") if low.heater else None
    spare = tube_amps(high) - tube_amps(low)
    shunt = (rated or 0.0) / spare
    remedy = (
        f"Shunt {low.name} with {ohms(shunt)} (it takes {watts((rated or 0.0) * spare)}), "
        f"or use tubes of one heater current"
    )
    return unequal_string.finding(
        case,
        (low.name, high.name, *(n for n in weak if n != low.name)),
        message,
        remedy,
        evidence={"low_a": tube_amps(low), "high_a": tube_amps(high), "shunt_ohms": shunt},
        certainty="certain",
        excess=tube_amps(high) / tube_amps(low),
    )


RULES: tuple[Rule, ...] = (unequal_string,)
