"""From a circuit in a setting to the equations of a cycle; the factors that settings share."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.defined import floating_ends
from coldcheck.solve.cycle.devices import gas_line, incidence, one_way_ends, ports, valves
from coldcheck.solve.cycle.network import (
    REVERSE_S,
    build_network,
    has_ac,
    lasting_siemens,
    lit_name,
)
from coldcheck.solve.cycle.response import difference_symbol, harmonics
from coldcheck.solve.cycle.steady import Cycle
from coldcheck.solve.work import Work

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.devices import Port, Valve
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.cycle.response import Response
    from coldcheck.solve.setting import Setting

HELD_GRID_S = 1e-6
TIE_S = 1e-6
"""Holds one net of a floating island at 0 V while solving; its nets get no number."""


@dataclass(slots=True)
class Parts:
    """The network, one-way parts and tubes of a setting; keeps the last, for other instants.

    ``work`` counts what solving the circuit costs in all its settings.
    """

    circuit: Circuit
    work: Work = field(default_factory=Work)
    _siemens: Mapping[str, float] = field(init=False)
    _blocking: list[Mapping[str, float]] = field(init=False)
    _last: tuple[Setting, tuple[Network, tuple[Port, ...], tuple[Valve, ...]]] | None = None

    def __post_init__(self) -> None:
        self._siemens = lasting_siemens(self.circuit)
        self._blocking = one_way_ends(self.circuit)

    def of(self, setting: Setting) -> tuple[Network, tuple[Port, ...], tuple[Valve, ...]]:
        """The parts of a setting. Raises Unsolvable."""
        if self._last is None or self._last[0] != setting:
            made = (
                self._network(setting),
                ports(self.circuit, setting),
                valves(self.circuit, setting),
            )
            self._last = setting, made
        return self._last[1]

    def _network(self, setting: Setting) -> Network:
        """The linear part, with the leaks and ties that keep every net defined."""
        network = build_network(self.circuit, setting.state, setting.values, self._siemens)
        for ends in self._blocking:
            network.tie(ends, REVERSE_S)
        for net in floating_ends(self.circuit, setting.state):
            network.ties[net] = TIE_S
            network.tie({net: 1.0}, TIE_S)
        for section in self.circuit.sections():
            if section.name in setting.lit:
                volts, ohms = gas_line(self.circuit.tubes[section.tube])
                plate, cathode = section.electrodes["plate"], section.electrodes["cathode"]
                row = network.carry(lit_name(section.name), plate, cathode, ohms)
                network.steady.append((row, volts))
        for net, volts in setting.held.items():
            row = network.nets[net]
            network.g.append((row, row, HELD_GRID_S))
            network.steady.append((row, HELD_GRID_S * volts))
        return network


@dataclass(slots=True)
class Assembly:
    """Assembles cycles of one circuit on ``instants``; keeps the harmonic factors."""

    parts: Parts
    instants: int
    _bases: dict[frozenset[str], tuple[Network, Response]] = field(default_factory=dict)

    def cycle(self, setting: Setting) -> Cycle:
        """The equations of a setting. Raises Unsolvable, or LinAlgError for a contradiction."""
        network, one_way, grids = self.parts.of(setting)
        if not has_ac(network):
            nothing = (incidence(network, []), np.zeros((0, 0)))
            return Cycle(network, one_way, grids, None, nothing, 1, self.parts.work)
        base, response = self._factors(network, setting.lit, fresh=setting.trial)
        shunts, work = self._shunts(base, network), self.parts.work
        return Cycle(network, one_way, grids, response, shunts, self.instants, work)

    def _factors(
        self, network: Network, lit: frozenset[str], *, fresh: bool
    ) -> tuple[Network, Response]:
        """The harmonic factors: made once, and corrected for what a state changes."""
        symbol = difference_symbol(self.instants, network.frequency)
        if fresh:
            return network, harmonics(network, symbol)
        if lit not in self._bases:
            self._bases[lit] = network, harmonics(network, symbol)
        return self._bases[lit]

    def _shunts(self, base: Network, network: Network) -> tuple[Any, Any]:
        """Conductances by which a state differs from the base: pulled heaters, switches."""
        changed = [
            (b, network.conductance[name] - base.conductance[name])
            for name, b in self.parts.circuit.branches.items()
            if name in network.conductance and network.conductance[name] != base.conductance[name]
        ]
        ties = [
            (net, network.ties.get(net, 0.0) - base.ties.get(net, 0.0))
            for net in {*network.ties, *base.ties}
        ]
        ends: list[Mapping[str, float]] = [{b.a: 1.0, b.b: -1.0} for b, _ in changed]
        ends += [{net: 1.0} for net, _ in ties]
        return incidence(network, ends), np.diag([change for _, change in changed + ties])
