"""Which cathodes stay cold because a fault takes their heater's volts away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.cycle.settling import EMISSION_SHARE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.solution import State


@dataclass(frozen=True, slots=True)
class Heating:
    """Which unknowns say whether a drawn heater gets its volts: see ``settling.unheated``.

    ``plus`` and ``minus`` are rows of the unknowns with one of zeros behind them, one entry a
    branch in series; ``tube`` says whose it is, ``least`` (tubes,) the rms volts that count as hot.
    """

    names: tuple[str, ...]
    plus: NDArray[np.intp]
    minus: NDArray[np.intp]
    tube: NDArray[np.intp]
    least: NDArray[np.float64]

    @classmethod
    def of(cls, circuit: Circuit, cycle: Cycle, state: State) -> Heating:
        """Collect the heaters that are drawn and plugged in."""
        drawn = [
            (t, t.heater)
            for t in circuit.tubes.values()
            if t.heater is not None and t.heater.branches and t.name not in state.pulled
        ]
        rows: list[tuple[int, int, int]] = []
        ground = cycle.network.size
        for k, (_, heater) in enumerate(drawn):
            series = heater.branches[:1] if heater.mode == "parallel" else heater.branches
            ends = [[cycle.network.nets.get(n, ground) for n in (b.a, b.b)] for b in series]
            rows += [(a, b, k) for a, b in ends]
        least = [EMISSION_SHARE * plain(h.volts, "volt", 0.0) for _, h in drawn]
        places = np.array(rows, dtype=int).reshape(-1, 3).T
        plus, minus, tube = places
        return cls(tuple(t.name for t, _ in drawn), plus, minus, tube, np.array(least))

    def cold(self, unknowns: NDArray[np.float64]) -> frozenset[str]:
        """The tubes whose heaters get too little, for unknowns of shape (m, N)."""
        volts = np.concatenate([unknowns, np.zeros((1, unknowns.shape[1]))])
        total = np.zeros((len(self.names), unknowns.shape[1]))
        np.add.at(total, self.tube, volts[self.plus] - volts[self.minus])
        low = np.sqrt((total**2).mean(axis=1)) < self.least
        return frozenset(n for n, is_low in zip(self.names, low, strict=True) if is_low)
