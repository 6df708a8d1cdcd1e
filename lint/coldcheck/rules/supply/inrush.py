"""The stroke at switch-on: what charges the reservoirs through a fuse, as I2t.

A capacitor charged from zero through a resistance R takes C V^2 / 2 of heat in it, whatever the
course of the current, so the integral of the current's square is C V^2 / 2R. That holds for every
series of strokes as well, as long as R is the same.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.galvanic import mains_leads
from coldcheck.anatomy.roads import passes_freely
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import winding_ohms
from coldcheck.solve.solution import COLD
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transformer, Winding

_MELTING = Citation("iec-60127-2", "time-current gates")

SLOW_MAY = Threshold(
    "I2t over the rating squared at which a slow fuse may melt", 2.0, "s", _MELTING
)
SLOW_WILL = Threshold(
    "I2t over the rating squared at which a slow fuse surely melts", 30.0, "s", _MELTING
)
FAST_MAY = Threshold(
    "I2t over the rating squared at which a fast fuse may melt", 0.16, "s", _MELTING
)
FAST_WILL = Threshold(
    "I2t over the rating squared at which a fast fuse surely melts", 5.0, "s", _MELTING
)
"""Slow: 10 times the rating for 20 to 300 ms; fast: 4 times for 10 to 300 ms (memory)."""

HIGH_V = 30.0
NEAR_OHM = 20.0
"""A resistor up to this between rectifier and capacitor is counted as nothing."""

LEAST_OHM = 0.1


def charging(case: Case, fuse: Branch) -> float:
    """A2s through a fuse while the reservoirs fill at once, 0 where it is not in their way."""
    if _in_lead(case.circuit, fuse):
        return mains_charging(case)
    return sum(heat for heat, _, nets in _strokes(case) if {fuse.a, fuse.b} & nets)


def mains_charging(case: Case) -> float:
    """A2s in the mains lead while the reservoirs fill at once."""
    return sum(heat * ratio**2 for heat, ratio, _ in _strokes(case))


def least_amps(case: Case) -> float:
    """The least rating of a slow fuse in the mains lead that surely stands the reservoirs."""
    return math.sqrt(mains_charging(case) / SLOW_MAY.value)


@once
def _strokes(case: Case) -> tuple[tuple[float, float, frozenset[str]], ...]:
    wound = ((t, w) for t in case.circuit.transformers.values() for w in t.secondaries)
    strokes = (_stroke(case, transformer, winding) for transformer, winding in wound)
    return tuple(stroke for stroke in strokes if stroke is not None)


def _stroke(
    case: Case, transformer: Transformer, winding: Winding
) -> tuple[float, float, frozenset[str]] | None:
    """A2s in a winding, its turns ratio, and the nets a fuse in its way ends on."""
    circuit = case.circuit
    half, fed = winding.half, transformer.fed
    rms, primary = (sum(si(b.value, "volt") or 0.0 for b in part) for part in (half, fed))
    diodes = _diodes(circuit, winding)
    held = _reservoirs(case, diodes)
    if rms < HIGH_V or not primary or not held:
        return None
    ratio = rms / primary
    own, ahead = (sum(winding_ohms(b, transformer) for b in part) for part in (half, fed))
    ohms = own + ratio**2 * (ahead + _series_ohms(circuit))
    heat = sum(farads * volts**2 / 2 for farads, volts in held) / max(ohms, LEAST_OHM)
    return heat, ratio, frozenset(winding.nets) | _ahead(circuit, diodes)


def _diodes(circuit: Circuit, winding: Winding) -> tuple[Branch, ...]:
    """The silicon at the ends of a winding."""
    at = _near(circuit)
    ends = {at[n] for n in winding.nets}
    diodes = (b for b in circuit.branches.values() if b.kind is PartKind.DIODE)
    return tuple(b for b in diodes if {at[b.a], at[b.b]} & ends)


def _reservoirs(case: Case, diodes: tuple[Branch, ...]) -> list[tuple[float, float]]:
    """Farads and volts of the capacitors at a diode's ends, as charged before tubes draw."""
    circuit = case.circuit
    at = _near(circuit)
    ends = {at[n] for b in diodes for n in (b.a, b.b)} - {at.get("gnd", "gnd")}
    state = case.solutions.get(COLD, case.warm)
    found = []
    for branch in circuit.branches.values():
        farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
        wave = state.between(branch.a, branch.b) if farads is not None else None
        if farads is not None and wave is not None and {at[branch.a], at[branch.b]} & ends:
            found.append((farads, wave.dc))
    return [(f, v) for f, v in found if abs(v) > HIGH_V]


def _ahead(circuit: Circuit, diodes: tuple[Branch, ...]) -> frozenset[str]:
    """The diodes' nets without a capacitor on them: a fuse there is in the stroke's way."""
    nets = {n for b in diodes for n in (b.a, b.b)} - {"gnd"}
    return frozenset(
        n for n in nets if not any(b.kind is PartKind.CAPACITOR for b in circuit.at(n))
    )


@once
def _near(circuit: Circuit) -> Mapping[str, str]:
    """Net -> the net that stands for all within a small resistance of it."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(circuit.graph.nodes)
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if _joins(b))
    return {net: min(group) for group in nx.connected_components(graph) for net in group}


def _joins(branch: Branch) -> bool:
    ohms = branch.ohms if branch.kind is PartKind.RESISTOR else None
    return passes_freely(branch) or (ohms is not None and ohms <= NEAR_OHM)


def _series_ohms(circuit: Circuit) -> float:
    """What stands in the mains leads against the stroke: resistors, and thermistors cold."""
    return sum(b.ohms or 0.0 for b in _limiters(circuit))


def _limiters(circuit: Circuit) -> Iterator[Branch]:
    leads = frozenset().union(*mains_leads(circuit).values())
    for branch in circuit.branches.values():
        if (
            branch.kind in (PartKind.THERMISTOR, PartKind.RESISTOR)
            and {branch.a, branch.b} <= leads
        ):
            yield branch


def limited(circuit: Circuit) -> bool:
    """Whether something in the mains leads is there against the stroke."""
    return any(True for _ in _limiters(circuit))


def _in_lead(circuit: Circuit, fuse: Branch) -> bool:
    return any({fuse.a, fuse.b} <= nets for nets in mains_leads(circuit).values())
