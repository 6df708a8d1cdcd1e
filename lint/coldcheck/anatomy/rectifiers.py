"""Around a rectifier tube: its output, what the first capacitor is, and what feeds its plates."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, assert_never

import networkx as nx
import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section, Transformer, Tube, Winding

NEAR_OHM = Threshold(
    "most resistance between a cathode and its first capacitor", 20.0, "ohm", PRACTICE
)
"""A resistor up to this between cathode and capacitor does not make it another capacitor."""

FILAMENT_V = Threshold("winding voltage below which it heats", 30.0, "V", PRACTICE)
"""Below this a winding heats; it is not the high voltage."""

HIGH_V = Threshold("winding voltage above which its tap is a return", 60.0, "V", PRACTICE)
BLEEDER_OHM = Threshold(
    "resistance above which a resistor across a capacitor only bleeds it", 10e3, "ohm", PRACTICE
)
SERIES_OHM = Threshold(
    "most resistance in a plate's feed that is supply resistance", 2000.0, "ohm", PRACTICE
)
"""A resistor up to this in a plate's feed counts as supply resistance; above it as a load."""


@dataclass(frozen=True, slots=True)
class Feed:
    """What one plate is fed from: rms volts and total ohms of its path to the return.

    ``ohms`` counts an unwritten winding resistance as 0; ``unknown`` names those windings.
    """

    plate: str
    volts: float
    ohms: float
    unknown: tuple[str, ...]


def rectifier_tubes(circuit: Circuit) -> Iterator[tuple[Tube, Section]]:
    """Rectifier sections with at least one plate wired, in drawing order."""
    for tube in circuit.tubes.values():
        for section in tube.sections:
            if section.kind is SectionKind.RECTIFIER and any(
                circuit.at(section.electrodes[p]) for p in section.plates
            ):
                yield tube, section


def output_nets(circuit: Circuit, section: Section) -> frozenset[str]:
    """The nets that are the rectifier's output: cathode or filament, its winding, and near ones.

    Fuses, closed switches and resistors up to 20 ohm are crossed.
    """
    primaries = {b.name for w in circuit.windings() if w.primary for b in w.branches}
    near: nx.Graph[str] = nx.Graph()
    near.add_nodes_from(section.cathode_nets)
    for branch in circuit.branches.values():
        if branch.name not in primaries and _crosses(branch):
            near.add_edge(branch.a, branch.b)
    near.remove_nodes_from(_returns(circuit) - set(section.cathode_nets))
    groups = [nx.node_connected_component(near, n) for n in section.cathode_nets if n in near]
    return frozenset().union(*groups)


def _crosses(branch: Branch) -> bool:
    kind = branch.kind
    match kind:
        case PartKind.FUSE | PartKind.HEATER:
            return True
        case PartKind.SWITCH | PartKind.CONTACT:
            return branch.closed
        case PartKind.WINDING:
            volts = si(branch.value, "volt")
            return volts is not None and volts < FILAMENT_V.value
        case PartKind.RESISTOR | PartKind.METER:
            ohms = branch.ohms
            return ohms is not None and ohms <= NEAR_OHM.value
        case (
            PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED
            | PartKind.ZENER | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.PHOTOCELL
            | PartKind.LAMP | PartKind.SPEAKER
            | PartKind.JACK | PartKind.SOURCE | PartKind.POT | PartKind.JACK_CONTACT | PartKind.PLUG
            | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _returns(circuit: Circuit) -> frozenset[str]:
    """Where rectified current goes back to: gnd, the mains, and taps of tapped windings."""
    taps = (n for w in circuit.windings() for lead, n in w.leads if lead == "ct" and _high(w))
    return frozenset((GROUND, "line", "neutral", *taps))


def _high(winding: Winding) -> bool:
    volts = si(winding.volts, "volt")
    return volts is not None and volts > HIGH_V.value


def first_capacitors(circuit: Circuit, section: Section) -> list[tuple[Branch, float]]:
    """Capacitors from the output to anything else, with farads (half a series pair and so on)."""
    output = output_nets(circuit, section)
    found = []
    for branch in circuit.branches.values():
        if branch.kind is PartKind.CAPACITOR and len({branch.a, branch.b} & output) == 1:
            farads = _with_partner(circuit, branch, output)
            if farads is not None:
                found.append((branch, farads))
    return found


def _with_partner(circuit: Circuit, first: Branch, output: frozenset[str]) -> float | None:
    """The farads of a capacitor, in series with a second one where its far end needs it."""
    farads = first.farads
    far = first.b if first.a in output else first.a
    partners = [b for b in circuit.at(far) if b.kind is PartKind.CAPACITOR and b is not first]
    only_bleeders = all(b.kind is PartKind.CAPACITOR or _is_bleeder(b) for b in circuit.at(far))
    if farads is None or far in _returns(circuit) or len(partners) != 1 or not only_bleeders:
        return farads
    second = si(partners[0].value, "farad")
    return None if second is None else farads * second / (farads + second)


def _is_bleeder(branch: Branch) -> bool:
    ohms = branch.ohms if branch.kind is PartKind.RESISTOR else None
    return ohms is not None and ohms > BLEEDER_OHM.value


def feeds(circuit: Circuit, section: Section) -> list[Feed]:
    """The feed of every wired plate whose path to the return is plain (no bridge of tubes)."""
    graph = _feed_graph(circuit)
    found = (_feed(circuit, graph, p, section.electrodes[p]) for p in section.plates)
    return [f for f in found if f is not None]


def _feed_graph(circuit: Circuit) -> nx.Graph[str]:
    graph: nx.Graph[str] = nx.Graph()
    primaries = {b.name for w in circuit.windings() if w.primary for b in w.branches}
    for branch in circuit.branches.values():
        ohms = _series_ohms(branch)
        if ohms is not None and branch.name not in primaries:
            graph.add_edge(branch.a, branch.b, weight=ohms + 1e-3, branch=branch)
    return graph


def _series_ohms(branch: Branch) -> float | None:
    kind = branch.kind
    match kind:
        case PartKind.WINDING:
            return si(branch.resistance, "ohm") or 0.0
        case PartKind.FUSE | PartKind.SWITCH | PartKind.CONTACT:
            return 0.0
        case (
            PartKind.RESISTOR
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.METER
        ):
            ohms = branch.ohms
            return ohms if ohms is not None and ohms <= SERIES_OHM.value else None
        case (
            PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED
            | PartKind.ZENER | PartKind.LAMP | PartKind.SPEAKER | PartKind.JACK
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.SOURCE | PartKind.HEATER | PartKind.POT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def _feed(circuit: Circuit, graph: nx.Graph[str], plate: str, net: str) -> Feed | None:
    if net not in graph and net not in ("line", "neutral"):
        return None
    ends = [e for e in (GROUND, "neutral", "line") if e in graph or e == net]
    path = _shortest(graph, net, ends)
    if path is None:
        return None
    branches = [graph.edges[a, b]["branch"] for a, b in pairwise(path)]
    volts = sum(si(b.value, "volt") or 0.0 for b in branches if b.kind is PartKind.WINDING)
    if path[-1] in ("line", "neutral") and not volts:
        volts = _mains_volts(circuit)
    if not volts:
        return None
    ohms = sum(_series_ohms(b) or 0.0 for b in branches)
    reflected, unknown = _reflected(circuit, branches, volts)
    return Feed(plate, volts, ohms + reflected, unknown)


def _shortest(graph: nx.Graph[str], net: str, ends: list[str]) -> list[str] | None:
    paths = []
    for end in ends:
        if net == end:
            return [net]
        if net in graph and nx.has_path(graph, net, end):
            paths.append(nx.dijkstra_path(graph, net, end))
    return min(paths, key=len, default=None)


def _mains_volts(circuit: Circuit) -> float:
    return (si(circuit.mains.voltage, "volt") or 0.0) if circuit.mains else 0.0


def _reflected(
    circuit: Circuit, branches: list[Branch], volts: float
) -> tuple[float, tuple[str, ...]]:
    """Primary resistance by the square of the turns ratio; and windings without a resistance."""
    owners = {b.owner for b in branches if b.kind is PartKind.WINDING}
    unknown = [b.owner for b in branches if b.kind is PartKind.WINDING and b.resistance is None]
    total = 0.0
    for transformer in circuit.transformers.values():
        if owners & {b.owner for w in transformer.secondaries for b in w.branches}:
            ohms = primary_ohms(transformer)
            if ohms is None:
                unknown += [w.name for w in transformer.primaries] or [transformer.name]
            else:
                total += ohms * (volts / _primary_volts(transformer)) ** 2
    return total, tuple(dict.fromkeys(unknown))


def primary_ohms(transformer: Transformer) -> float | None:
    """The resistance of the first primary, as far as the mains' tap, as written."""
    written = [si(b.resistance, "ohm") for b in transformer.fed]
    known = [ohms for ohms in written if ohms is not None]
    return sum(known) if known and len(known) == len(written) else None


def _primary_volts(transformer: Transformer) -> float:
    return sum(si(b.value, "volt") or 0.0 for b in transformer.fed) or 120.0


def least_ohms(table: tuple[tuple[float, float], ...], volts: float) -> float:
    """The least supply resistance at ``volts`` rms a plate, from a data sheet's table.

    Straight lines between the entries; outside them in proportion to the voltage, which keeps
    the peak current of the nearest entry.
    """
    if volts < table[0][0]:
        return table[0][1] * volts / table[0][0]
    if volts > table[-1][0]:
        return table[-1][1] * volts / table[-1][0]
    at, ohms = zip(*table, strict=True)
    return float(np.interp(volts, at, ohms))
