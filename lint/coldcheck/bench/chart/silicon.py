"""Which semiconductors an ohmmeter turns on, and with which lead where.

A meter whose test voltage is above a diode's threshold makes it conduct; the reading is then not
that of the resistors. Ideal diodes on the cold network are switched one after the other until
none stands forward or carries a reverse current.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.chart.resistors import stamp
from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.bench.chart.ohmmeter import Ohmmeter
    from coldcheck.circuit.model import Branch

    Array = NDArray[np.float64]

LEAST_OHM = 1.0
LEAK_S, OFF_S, ON_S = 1e-10, 1e-9, 1.0
FORWARD = 1e-4
"""Share of the meter's voltage above which a diode counts as forward."""

CARRIES, CLOSED_OHM = 0.01, 1e8
"""A diode is named where it carries this share of the meter's current, and there is a current."""

LARGEST = 400
"""Nets above which the question is not asked: each answer is a dense solution."""


class Silicon:
    """The diodes of a circuit as an ohmmeter finds them. Only signs are read off its numbers."""

    def __init__(self, meter: Ohmmeter) -> None:
        circuit = meter.circuit
        self.diodes = [b for b in circuit.branches.values() if b.traits.one_way]
        nets = [n for n in circuit.graph.nodes if n != GROUND]
        self.asked = bool(self.diodes) and len(nets) <= LARGEST
        self._row = {net: k for k, net in enumerate(nets)}
        if self.asked:
            self._matrix = np.eye(len(nets)) * LEAK_S
            for branch, cold in meter.parts:
                ohms = 1e6 if cold is None else max(cold.nominal, LEAST_OHM)
                stamp(self._matrix, self._row, branch.a, branch.b, 1 / ohms)
            self._all_off = np.linalg.inv(self._with(set()))

    def turned_on(
        self, net: str, other: str = GROUND, *, plus_on_point: bool = True
    ) -> tuple[str, ...]:
        """The diodes that carry the meter's current when it stands between a net and another."""
        if not self.asked or net == other:
            return ()
        ends, sign = (net, other), 1.0 if plus_on_point else -1.0
        on: set[str] = set()
        volts = self._volts(ends, sign, on)
        for _ in range(2 * len(self.diodes) + 2):
            following = {d.name for d in self.diodes if self._forward(d, ends, volts, on)}
            if following == on:
                break
            on, volts = following, self._volts(ends, sign, following)
        if self._shown(ends, volts) > CLOSED_OHM:
            return ()
        amps = {d.name: ON_S * self._across(d, volts) for d in self.diodes if d.name in on}
        return tuple(name for name, i in amps.items() if i > CARRIES)

    def _volts(self, ends: tuple[str, str], sign: float, on: set[str]) -> Array:
        """All nets' volts for one ampere of the meter out of the second net into the first."""
        drive = np.zeros(len(self._matrix))
        for net, amps in zip(ends, (sign, -sign), strict=True):
            if net != GROUND:
                drive[self._row[net]] = amps
        if not on:  # how every question begins, and most end
            return np.asarray(self._all_off @ drive)
        return np.asarray(np.linalg.solve(self._with(on), drive))

    def _shown(self, ends: tuple[str, str], volts: Array) -> float:
        return abs(self._at(volts, ends[0]) - self._at(volts, ends[1]))

    def _with(self, on: set[str]) -> Array:
        """The network's conductances with these diodes on and the others off."""
        matrix = self._matrix.copy()
        for diode in self.diodes:
            siemens = ON_S if diode.name in on else OFF_S
            stamp(matrix, self._row, diode.a, diode.b, siemens)
        return matrix

    def _forward(self, diode: Branch, ends: tuple[str, str], volts: Array, on: set[str]) -> bool:
        """Whether a diode conducts: more than a trace forward when off, no reverse when on."""
        least = 0.0 if diode.name in on else FORWARD * self._shown(ends, volts)
        return self._across(diode, volts) > least

    def _across(self, diode: Branch, volts: Array) -> float:
        return self._at(volts, diode.a) - self._at(volts, diode.b)

    def _at(self, volts: Array, net: str) -> float:
        return 0.0 if net == GROUND else float(volts[self._row[net]])
