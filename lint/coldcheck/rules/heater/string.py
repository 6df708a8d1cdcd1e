"""Heaters in series: one current for all."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.case import Case, unsolved_reason
from coldcheck.anatomy.heater_lines import HeaterLine, heater_branches, heater_lines, tube_amps
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.judge.finding import Finding, Outcome

ORDER_VOLTS = Threshold("heater above that of an earlier stage, rms", 1.0, "V", PRACTICE)
UNEQUAL = Threshold("difference of heater currents in a string, as a share", 0.05, "", PRACTICE)
"""Difference of heater currents that a series string stands (common practice)."""


@rule(
    "heater.unequal-string",
    title="Unequal heaters in one series string",
    level="notice",
    states="the drawing alone",
    needs="the order of the string and the heater currents of the types",
    criterion="Heaters in plain series, without a shunt, whose rated currents differ by more "
    "than 5 %.",
    why="One current flows through a whole string. The heater made for less current gets too much "
    "and burns, worst while the string warms up; the others stay cold.",
    source=(PRACTICE, Citation("arithmetic", "Ohm's law of the shunt")),
    limits="Only heaters in plain series are compared: any part at a joint, of whatever value, is "
    "taken for a shunt, and the voltages are then judged one by one.",
    thresholds=(UNEQUAL,),
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
        owners = {b.owner for b in circuit.at(net) if b.kind is PartKind.HEATER}
        if len(owners) == 2 and _plain_joint(circuit, net):
            joins.add_edge(*owners)
    strings = [[t for t in line.tubes if t.name in g] for g in nx.connected_components(joins)]
    return [s for s in strings if len(s) > 1 and _spread(s) > UNEQUAL.value]


def _plain_joint(circuit: Circuit, net: str) -> bool:
    """Whether only two heater ends meet on a net (capacitors do not matter)."""
    conducting = [b for b in circuit.at(net) if b.kind is not PartKind.CAPACITOR]
    return len(conducting) == 2 and not circuit.electrodes_at(net)


def _spread(tubes: list[Tube]) -> float:
    amps = [tube_amps(t) for t in tubes]
    return max(amps) / min(amps) - 1 if min(amps) > 0 else 0.0


def _odd_one(string: list[Tube], shunt: str) -> tuple[tuple[str, ...], str, str] | None:
    """Places, message and remedy where most of a string want one current, and some another.

    A shunt helps what wants less than the rest. Across the rest, for one that wants more, it would
    only send more current through all of them.
    """
    alike = max(([t for t in string if _spread([t, o]) <= UNEQUAL.value] for o in string), key=len)
    odd = [t for t in string if t not in alike]
    if 2 * len(alike) <= len(string):
        return None
    usual, own = amperes(tube_amps(alike[0])), amperes(tube_amps(odd[0]))
    names, rest = listed(f"{t.name} {t.type.name}" for t in odd), listed(t.name for t in alike)
    wants = "wants" if len(odd) == 1 else "want"
    message = f"{names} {wants} {own}, and {rest} in series with it {usual}"
    fit = f"it a type whose heater takes {usual} in place of {names}"
    remedy = f"F{fit}; a shunt across the others would only send more through them"
    if max(odd, key=tube_amps) is not max(string, key=tube_amps):
        remedy = f"Shunt {listed(t.name for t in odd)} with {shunt}, or f{fit}"
    return tuple(t.name for t in (*odd, *alike)), message, remedy


def _two_kinds(string: list[Tube], shunt: str) -> tuple[tuple[str, ...], str, str]:
    """The same where neither is the odd one."""
    low, high = min(string, key=tube_amps), max(string, key=tube_amps)
    weak = [t.name for t in string if tube_amps(t) < tube_amps(high) * (1 - UNEQUAL.value / 2)]
    message = (
        f"{listed(t.name for t in string)} are in series, but {low.name} {low.type.name} wants "
        f"{amperes(tube_amps(low))} and {high.name} {high.type.name} {amperes(tube_amps(high))}"
    )
    remedy = (
        f"Shunt {low.name} with {shunt} in a string that is fed for "
        f"{amperes(tube_amps(high))}, or use tubes of one heater current"
    )
    return (low.name, high.name, *(n for n in weak if n != low.name)), message, remedy


def _uneven(case: Case, string: list[Tube]) -> Finding:
    low, high = min(string, key=tube_amps), max(string, key=tube_amps)
    rated = si(low.heater.volts, "volt") if low.heater else None
    spare = tube_amps(high) - tube_amps(low)
    shunt = (rated or 0.0) / spare
    by_hand = f"{ohms(shunt)} (it takes {watts((rated or 0.0) * spare)})"
    at, message, remedy = _odd_one(string, by_hand) or _two_kinds(string, by_hand)
    return unequal_string.finding(
        case,
        at,
        message,
        remedy,
        evidence={
            "low": figure(tube_amps(low), "A"),
            "high": figure(tube_amps(high), "A"),
            **({} if at[0] == high.name else {"shunt": figure(shunt, "ohm")}),
        },
        certainty="certain",
        excess=tube_amps(high) / tube_amps(low),
    )


@rule(
    "heater.string-order",
    title="Detector far from the grounded end of the heater string",
    level="notice",
    states="nominal mains",
    needs="a series string on the mains with a tube that holds diodes and a first audio stage",
    criterion=f"The heater of the tube with detector diodes and a grid stands more than "
    f"{ORDER_VOLTS.value:g} V rms from gnd above that of another tube of the string with a grid.",
    why="The first audio stage hears every millivolt that its heater couples into its cathode. "
    "It belongs at the grounded end of the string, where the heater is near 0 V; at the line end "
    "it hums with the full mains, and its heater-cathode insulation takes the sum of all drops.",
    source=(PRACTICE, Citation("handbooks", "series strings")),
    limits="A tube with diodes and a grid is taken for the detector and first audio stage. The "
    "order of the other tubes is left to the limits of their insulation.",
    thresholds=(ORDER_VOLTS,),
)
def string_order(case: Case) -> Iterator[Outcome]:
    """Compare heater voltages to gnd within each string that no winding feeds."""
    for line in heater_lines(case.circuit):
        detectors = [t for t in line.tubes if _detects(t)]
        if line.windings or not detectors or len(line.tubes) < 2:
            continue
        reason = unsolved_reason(case)
        if reason is not None:
            yield string_order.not_judged(tuple(t.name for t in detectors), reason)
            continue
        others = [t for t in line.tubes if not _detects(t) and _has_grid(t)]
        levels = {t.name: v for t in others if (v := _heater_rms(case, t)) is not None}
        for tube in detectors:
            own = _heater_rms(case, tube)
            lower = {
                n: v for n, v in levels.items() if own is not None and v < own - ORDER_VOLTS.value
            }
            if own is not None and lower:
                yield _misplaced(case, tube, own, lower)


def _detects(tube: Tube) -> bool:
    return _has_grid(tube) and any(
        e.startswith("diode") for s in tube.sections for e in s.electrodes
    )


def _has_grid(tube: Tube) -> bool:
    return any("grid" in s.electrodes for s in tube.sections)


def _heater_rms(case: Case, tube: Tube) -> float | None:
    """The larger AC, rms, of its heater's ends against gnd, volts; none on a battery."""
    found = [case.warm.wave(n) for n in (tube.heater.nets if tube.heater else ())]
    known = [sqrt(max(w.rms**2 - w.dc**2, 0.0)) for w in found if w is not None]
    return max(known) if known and len(known) == len(found) else None


def _misplaced(case: Case, tube: Tube, own: float, lower: dict[str, float]) -> Finding:
    nearest = min(lower, key=lambda n: lower[n])
    return string_order.finding(
        case,
        (tube.name, *lower),
        f"{tube.name} {tube.type.name}, the detector and first audio stage, has its heater up to "
        f"{volts(own)} rms from gnd; {nearest} is nearer to the grounded end "
        f"({volts(lower[nearest])})",
        f"Put {tube.name} last in the string, one heater end on gnd, and {listed(lower)} above it",
        state="warm",
        evidence={"heater_rms": figure(own, "V"), "lowest_other": figure(lower[nearest], "V")},
        limit=ORDER_VOLTS.figure,
        certainty="certain",
        excess=own / max(lower[nearest], 1.0),
    )


RULES: tuple[Rule, ...] = (unequal_string, string_order)
