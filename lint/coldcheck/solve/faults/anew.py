"""A faulty circuit put together and solved by the ordinary route, where low rank leads nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.cycle.allinstants import AllInstants
from coldcheck.solve.cycle.assembly import Assembly, Parts
from coldcheck.solve.cycle.defined import undefined_nets
from coldcheck.solve.cycle.starts import NotConverged
from coldcheck.solve.engine import ROUGH_INSTANTS, Solver
from coldcheck.solve.faults.change import HELD_S, loose_electrodes, weak_port, weak_valve
from coldcheck.solve.faults.fault import OPEN_OHM
from coldcheck.solve.setting import Setting

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import TypeAlias

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.devices import Port, Valve
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.cycle.starts import LabelledStart, Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.faults.change import Change
    from coldcheck.solve.solution import State

    Made: TypeAlias = tuple[Network, tuple[Port, ...], tuple[Valve, ...]]

HARD_INSTANTS = 8
"""Instants of the rough answer from which a hard fault starts. Over the hard faults of all samples
the whole costs a seventh less than with 16, and all of them arrive."""


def anew(
    faulty: Circuit,
    change: Change,
    wanted: State,
    start: LabelledStart,
    instants: int,
    *,
    hard: bool,
) -> tuple[Cycle, Steady]:
    """Solve a faulty circuit in a state; ``start`` is the good circuit's answer.

    Straight to the last resorts (all instants together, then cycle after cycle) where it is
    ``hard``: where that answer led nowhere before. Raises as solving does.
    """
    solver = Solver(faulty, instants)
    grids = loose_electrodes(faulty, wanted, undefined_nets(faulty, wanted))
    parts = FaultParts(faulty, change, grids)
    solver._assembly = Assembly(parts, instants)
    solver._rough_assembly = Assembly(parts, ROUGH_INSTANTS)
    setting = Setting(wanted)  # gas tubes dark, as when the set is switched on with the fault
    solver.first = start
    if hard:
        solver.first, solver._hard = _roughly(parts, setting, start), True
    _, cycle, answer = settle(solver, setting)
    return cycle, answer


class FaultParts(Parts):
    """The parts of a faulty circuit: what a drawing cannot say is put in."""

    def __init__(self, circuit: Circuit, change: Change, grids: Iterable[tuple[str, str]]) -> None:
        super().__init__(circuit)
        self.change, self.grids = change, tuple(grids)
        self.made: tuple[Setting, Made] | None = None

    def of(self, setting: Setting) -> Made:
        """See :class:`Parts`."""
        if self.made is None or self.made[0] != setting:
            network, ports, valves = super().of(setting)
            for net, amps in self.change.gas.items():
                if net in network.nets:
                    network.steady.append((network.nets[net], amps))
            for grid, cathode in self.grids:
                network.tie({grid: 1.0, cathode: -1.0}, HELD_S)
            for name in self.change.cut & set(network.rows):
                row = network.rows[name]
                network.g.append((row, row, -OPEN_OHM))
            emits = self.change.emission
            self.made = (
                setting,
                (
                    network,
                    tuple(weak_port(p, emits) for p in ports),
                    tuple(weak_valve(v, emits) for v in valves),
                ),
            )
        return self.made[1]


def _roughly(parts: Parts, setting: Setting, start: LabelledStart) -> LabelledStart:
    """A nearer start, from all unknowns of few instants together; the same one if that fails."""
    cycle = Assembly(parts, HARD_INSTANTS).cycle(setting)
    try:
        return cycle.label(AllInstants(cycle).solve(cycle.adapt(start), start.unknowns))
    except (NotConverged, np.linalg.LinAlgError):
        return start


def settle(solver: Solver, setting: Setting) -> tuple[Setting, Cycle, Steady]:
    """Solve, light and put out gas tubes, cool cathodes, until nothing follows any more."""
    while True:
        cycle, answer = solver.at(setting)
        following = solver.following(setting, cycle, answer)
        if following == setting:
            return setting, cycle, answer
        setting = following
