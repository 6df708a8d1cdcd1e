"""What an ohmmeter reads on the circuit with the power off.

Heaters cold, tubes and semiconductors not conducting, capacitors charged. The ends of a reading
are those of all tolerances together: a resistance between two points never falls when any of the
parts grows (Rayleigh), so all parts at their lowest and all at their highest are bounds.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from itertools import pairwise
from math import inf, isclose
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.bench.chart.cold import Cold, cold_ohms
from coldcheck.bench.chart.resistors import Resistors
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import NO_CHANGE
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.relays import at_rest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Branch, Circuit, Transistor
    from coldcheck.circuit.paths import Change

MATTERS = 0.01
"""A share of a reading below which nothing is worth a word."""

CHANNEL = (0.3, 10.0)
"""Times what a channel has at rest that a copy may have, and one that the meter's volts pinch."""

SETTLED = 0.01
"""A reading has settled when it is within this share of its end."""


@dataclass(frozen=True, slots=True)
class Ohms:
    """A reading, ohms; ``math.inf`` where no path leads there.

    ``nominal`` is ``None`` where an unknown value takes part; the ends then hold whatever it is.
    """

    low: float
    nominal: float | None
    high: float

    @property
    def infinite(self) -> bool:
        """Whether there is no path at all."""
        return self.nominal == inf


@dataclass(frozen=True, slots=True)
class Charging:
    """Capacitors that a reading has to wait for.

    seconds
        The mean time the reading needs to rise, sum of C z^2 / R over the capacitors, where z are
        the volts each gets for one ampere of the meter (Elmore's time of the network's step,
        for a meter that drives a constant current). ``math.inf`` where the reading never settles.
    names
        The capacitors that bring a tenth of it or more, in the order of the drawing.
    backwards
        Those electrolytics that the + lead on the point would charge the wrong way round.
    """

    seconds: float
    names: tuple[str, ...]
    backwards: tuple[str, ...] = ()


class Ohmmeter:
    """Readings on one circuit; ``change`` is what is thrown or pulled, ``pots`` their positions.

    Power is off, so all relays are at rest.
    """

    def __init__(
        self,
        circuit: Circuit,
        change: Change = NO_CHANGE,
        pots: Mapping[str, float] | None = None,
    ) -> None:
        self.circuit = circuit
        change = replace(change, thrown=change.thrown | at_rest(circuit))
        self.parts = [
            (b, cold_ohms(circuit, b, pots))
            for b in circuit.branches.values()
            if b.traits.metal and change.conducts(b)
        ]
        self.parts += [(one.channel, self._channel(one)) for one in self._own]

    @cached_property
    def _metal(self) -> Resistors:
        """Every part at its value but for the channels of transistors, which are open."""
        known = ((c, b.traits.metal) for b, c in self.parts)
        return self._network([c.nominal if c is not None and metal else inf for c, metal in known])

    @cached_property
    def _own(self) -> tuple[Transistor, ...]:
        """The transistors that conduct by themselves."""
        every = self.circuit.transistors.values()
        return tuple(one for one in every if one.type.conducts_at_rest)

    def _channel(self, one: Transistor) -> Cold | None:
        """What a channel has at rest; ``None`` where nothing holds its gate at its source."""
        ohms = one.type.open_ohms
        if ohms is None or not self._metal.joined(one.nets["gate"], one.nets["source"]):
            return None
        low, high = CHANNEL
        return Cold(low * ohms, ohms, high * ohms)

    def conducting(self, net: str) -> tuple[str, ...]:
        """The transistors that conduct by themselves and take part in a reading to gnd."""
        if not self._own:
            return ()
        without, found = self._metal.ohms(net, GROUND), self.read(net).nominal
        if found is not None and isclose(without, found, rel_tol=MATTERS):
            return ()
        return tuple(q.name for q in self._own if self._shorted.joined(net, q.channel.a))

    @cached_property
    def nominal(self) -> Resistors:
        """Every part at its value, unknown ones open."""
        return self._network([inf if c is None else c.nominal for _, c in self.parts])

    @cached_property
    def _lowest(self) -> Resistors:
        return self._network([0.0 if c is None else c.low for _, c in self.parts])

    @cached_property
    def _highest(self) -> Resistors:
        return self._network([inf if c is None else c.high for _, c in self.parts])

    @cached_property
    def _shorted(self) -> Resistors:
        return self._network([0.0 if c is None else c.nominal for _, c in self.parts])

    def _network(self, ohms: list[float]) -> Resistors:
        edges = [(b.a, b.b, r) for (b, _), r in zip(self.parts, ohms, strict=True)]
        return Resistors(self.circuit.graph.nodes, edges, GROUND)

    def read(self, a: str, b: str = GROUND) -> Ohms:
        """Between two nets. Raises KeyError for a net the circuit does not have."""
        nominal = self.nominal.ohms(a, b)
        known = not self._open_values or isclose(nominal, self._shorted.ohms(a, b), rel_tol=1e-9)
        ends = self._lowest.ohms(a, b), self._highest.ohms(a, b)
        return Ohms(ends[0], nominal if known else None, ends[1])

    @cached_property
    def _open_values(self) -> bool:
        return any(cold is None for _, cold in self.parts)

    @cached_property
    def _between(self) -> Mapping[frozenset[str], tuple[Branch, Cold | None]]:
        """Two nets -> the part of least resistance between them."""
        found: dict[frozenset[str], tuple[Branch, Cold | None]] = {}
        for branch, cold in self.parts:
            ends = frozenset((branch.a, branch.b))
            if ends not in found or _ohms(cold) < _ohms(found[ends][1]):
                found[ends] = (branch, cold)
        return found

    @cached_property
    def _ways(self) -> Mapping[str, list[str]]:
        """Net -> the nets on the way of least resistance to gnd."""
        graph: nx.Graph[str] = nx.Graph()
        for branch, cold in self.parts:
            held = graph.get_edge_data(branch.a, branch.b, {"weight": inf})["weight"]
            graph.add_edge(branch.a, branch.b, weight=min(_ohms(cold), held))
        if GROUND not in graph:
            return {}
        found: Mapping[str, list[str]] = nx.single_source_dijkstra_path(graph, GROUND)
        return found

    def through(self, net: str) -> tuple[tuple[Branch, Cold | None], ...]:
        """The parts on the way of least resistance from a net to gnd, in order."""
        way = self._ways.get(net, [])[::-1]
        return tuple(self._between[frozenset(pair)] for pair in pairwise(way))

    def charging(self, net: str) -> Charging | None:
        """The capacitors that a reading to gnd waits for; ``None`` where there are none."""
        whole = self.nominal.ohms(net, GROUND)
        if whole == inf:
            return self._endless(net)
        if whole == 0.0:
            return None
        times = {b.name: t for b in self._capacitors() if (t := self._time(net, b)) > 0}
        total = sum(times.values()) / whole
        slow = tuple(n for n, t in times.items() if t > 0.1 * total * whole)
        return Charging(total, slow, self._backwards(net, slow)) if slow else None

    def _capacitors(self) -> list[Branch]:
        return [b for b in self.circuit.branches.values() if b.kind is PartKind.CAPACITOR]

    def _drop(self, net: str, capacitor: Branch) -> float:
        """Volts from ``a`` to ``b`` of a capacitor for one ampere into a net."""
        network = self.nominal
        if not (network.joined(capacitor.a, GROUND) and network.joined(capacitor.b, GROUND)):
            return 0.0
        return network.transfer(capacitor.a, net) - network.transfer(capacitor.b, net)

    def _time(self, net: str, capacitor: Branch) -> float:
        return plain(capacitor.value, "farad", 0.0) * self._drop(net, capacitor) ** 2

    def _backwards(self, net: str, names: tuple[str, ...]) -> tuple[str, ...]:
        found = []
        for name in names:
            branch = self.circuit.branches[name]
            forward = self._drop(net, branch) * (1 if branch.plus == branch.a else -1)
            if branch.plus is not None and forward < 0:
                found.append(name)
        return tuple(found)

    def _endless(self, net: str) -> Charging | None:
        """An open circuit but for capacitors: the reading climbs for as long as one looks."""
        across = [b for b in self._capacitors() if self._bridges(net, b)]
        across.sort(key=lambda b: -plain(b.value, "farad", 0.0))
        if not across:
            return None
        wrong = [b.name for b in across if b.plus is not None and self._near(net, b) != b.plus]
        return Charging(inf, tuple(b.name for b in across[:3]), tuple(wrong))

    def _near(self, net: str, capacitor: Branch) -> str:
        return capacitor.a if self.nominal.joined(capacitor.a, net) else capacitor.b

    def _bridges(self, net: str, capacitor: Branch) -> bool:
        joined = self.nominal.joined
        ends = (capacitor.a, capacitor.b), (capacitor.b, capacitor.a)
        return any(joined(near, net) and joined(far, GROUND) for near, far in ends)


def _ohms(cold: Cold | None) -> float:
    return 0.0 if cold is None else cold.nominal


def pot_ends(circuit: Circuit, change: Change = NO_CHANGE) -> dict[str, tuple[Ohmmeter, Ohmmeter]]:
    """Each potentiometer at both ends of its travel, as ohmmeters on the otherwise same circuit.

    One with taps is left out: its wiper would pass them, which is another network.
    """
    every = dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT)
    names = [name for name in every if sum(map(len, halves(circuit, name))) == 2]
    return {
        name: (Ohmmeter(circuit, change, {name: 0.0}), Ohmmeter(circuit, change, {name: 1.0}))
        for name in names
    }
