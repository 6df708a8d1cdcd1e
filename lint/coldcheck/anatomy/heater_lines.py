"""Heater lines: the heaters that hang together on one winding or in one string."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.units import si
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Tube, Winding


@dataclass(frozen=True, slots=True)
class HeaterLine:
    """Heaters joined by wire or by a winding, and the windings (usually one) that feed them.

    ``nets`` are all their nets except the landmarks, unless there is nothing else.
    """

    windings: tuple[Winding, ...]
    tubes: tuple[Tube, ...]
    nets: tuple[str, ...]

    @property
    def name(self) -> str:
        """The winding's name, or the first tube's where no winding feeds it directly."""
        return self.windings[0].name if self.windings else self.tubes[0].name

    @property
    def net(self) -> str:
        """One of its nets; gnd where it is on nothing else."""
        return self.nets[0] if self.nets else GROUND

    @property
    def at(self) -> tuple[str, ...]:
        """The winding first, then the tubes."""
        return tuple(dict.fromkeys((self.name, *(t.name for t in self.tubes))))

    @property
    def text(self) -> str:
        """What a message calls it."""
        if self.windings:
            return f"heater winding {self.name}"
        return f"the heater of {self.name}" if len(self.tubes) == 1 else "the heater string"


@once
def heater_lines(circuit: Circuit) -> tuple[HeaterLine, ...]:
    """All heater lines in drawing order; a winding without heaters is not one."""
    joins = _joins(circuit)
    lines = []
    for group in nx.connected_components(joins):
        tubes = tuple(t for t in circuit.tubes.values() if ("tube", t.name) in group)
        windings = tuple(w for w in circuit.windings() if ("winding", w.name) in group)
        if tubes:
            lines.append(HeaterLine(windings, tubes, _nets(group)))
    return tuple(sorted(lines, key=lambda line: line.tubes[0].span.line))


def _nets(group: set[tuple[str, str]]) -> tuple[str, ...]:
    return tuple(sorted(name for kind, name in group if kind == "net"))


def _joins(circuit: Circuit) -> nx.Graph[tuple[str, str]]:
    """Tubes, windings and nets as nodes; gnd and the mains join nothing."""
    joins: nx.Graph[tuple[str, str]] = nx.Graph()
    for tube in circuit.tubes.values():
        if tube.heater is None:
            continue
        joins.add_node(("tube", tube.name))
        _join(joins, ("tube", tube.name), tube.heater.nets)
        if tube.heater.winding is not None:
            joins.add_edge(("tube", tube.name), ("winding", tube.heater.winding))
    heated = {name for kind, name in joins if kind == "net"}
    for winding in circuit.windings():
        declared = ("winding", winding.name) in joins
        if not winding.primary and (declared or heated & set(winding.nets)):
            joins.add_node(("winding", winding.name))
            _join(joins, ("winding", winding.name), winding.nets)
    return joins


def _join(joins: nx.Graph[tuple[str, str]], node: tuple[str, str], nets: tuple[str, ...]) -> None:
    own = [n for n in nets if n not in LANDMARKS]
    joins.add_edges_from((node, ("net", n)) for n in own)


def line_of(circuit: Circuit, tube: Tube) -> HeaterLine | None:
    """The line a tube's heater is on; ``None`` where its heater is not drawn."""
    lines = heater_lines(circuit)
    return next((x for x in lines if any(t.name == tube.name for t in x.tubes)), None)


def heater_branches(line: HeaterLine) -> tuple[Branch, ...]:
    """The heaters' branches of a line."""
    return tuple(b for t in line.tubes if t.heater for b in t.heater.branches)


def insulated(tube: Tube) -> bool:
    """Whether there is an insulation between heater and cathode to break."""
    return tube.type.cathode == "indirect" and tube.type.cathode_heater is None


def is_filament_supply(tube: Tube) -> bool:
    """Whether a rectifier's output is on its own heater: filament, or cathode joined inside."""
    rectifier = any(s.kind is SectionKind.RECTIFIER for s in tube.sections)
    return rectifier and (tube.directly_heated or tube.type.cathode_heater is not None)


def cathode_on_filament(tube: Tube, rectifier: Tube) -> bool:
    """Whether a rectifier's cathode is on another's heater leads: the two are in parallel."""
    heater = rectifier.heater.nets if rectifier.heater else ()
    rectifies = any(s.kind is SectionKind.RECTIFIER for s in tube.sections)
    return rectifies and any(n in heater for s in tube.sections for n in s.cathode_nets)


def wants_reference(line: HeaterLine) -> bool:
    """A rectifier's own filament supply and a directly heated tube's are somebody else's rule."""
    return not any(is_filament_supply(t) or t.directly_heated for t in line.tubes)


def lines_wanting_reference(circuit: Circuit) -> Iterator[HeaterLine]:
    """The lines on a winding that must be tied to some DC level."""
    return (x for x in heater_lines(circuit) if x.windings and wants_reference(x))


def strangers(line: HeaterLine) -> tuple[Tube | None, tuple[Tube, ...]]:
    """The filament rectifier on a line and the tubes whose heaters it drags up to its output."""
    rectifier = next((t for t in line.tubes if is_filament_supply(t)), None)
    if rectifier is None:
        return None, ()
    others = (t for t in line.tubes if t is not rectifier)
    return rectifier, tuple(t for t in others if not cathode_on_filament(t, rectifier))


def dragged(circuit: Circuit) -> frozenset[str]:
    """Names of the tubes whose heaters hang on a rectifier's filament supply."""
    return frozenset(t.name for line in heater_lines(circuit) for t in strangers(line)[1])


def tube_amps(tube: Tube) -> float:
    """The rated heater current of a tube the way it is wired."""
    return 0.0 if tube.heater is None else si(tube.heater.amps, "ampere") or 0.0
