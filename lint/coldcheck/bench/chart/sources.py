"""The resistance a meter sees at a point of the working circuit: what its loading follows from.

Small-signal, from the network made linear about the solved state
(`linearised`): every tube is its slopes, every rectifier its conductance
averaged over the cycle. Good as long as the meter moves the point little; where it moves it much
the loaded reading is a size, not a figure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.solution import Solution

    Complex = NDArray[np.complex128]

HOW = "small-signal, from the network made linear about the solved state"
INVERTED_UP_TO = 1500


class Sources:
    """Source resistances of a solved state; ``reason`` says why there are none."""

    def __init__(self, solution: Solution) -> None:
        self.solution, self.reason = solution, ""
        self._linear: Linearised | None = None
        self._inverses: dict[float, Complex] = {}
        try:
            self._linear = Linearised(solution.circuit, solution)
        except (Unsolvable, np.linalg.LinAlgError) as problem:
            self.reason = str(problem)

    def ohms(self, a: str, b: str = GROUND) -> float | None:
        """Between two nets for direct current, ohms; ``None`` where it is not known."""
        found = self.impedance(a, b, 0.0)
        return None if found is None else abs(found)

    def impedance(self, a: str, b: str, frequency: float) -> complex | None:
        """Between two nets at a frequency in hertz, ohms; ``None`` where it is not known.

        A net whose voltage the solution does not give has no source resistance either.
        """
        if self._linear is None or any(not self._has(net) for net in (a, b)):
            return None
        column = self._linear.column({a: 1.0, b: -1.0})
        if not np.any(column):
            return 0j
        try:
            answer = self._answer(a, b, frequency)
        except np.linalg.LinAlgError:
            return None
        found = complex(column @ answer)
        return found if np.isfinite(found) else None

    def _has(self, net: str) -> bool:
        return net == GROUND or net in self.solution.waves

    def _answer(self, a: str, b: str, frequency: float) -> Complex:
        """All unknowns for one ampere from ``b`` into ``a``; small networks are inverted once."""
        assert self._linear is not None
        network = self._linear.network
        if network.size > INVERTED_UP_TO:
            drive = self._linear.column({a: 1.0, b: -1.0})[:, None]
            return self._linear.solve(frequency, drive)[:, 0]
        if frequency not in self._inverses:
            self._inverses[frequency] = self._linear.solve(frequency, np.eye(network.size))
        inverse, (i, j) = self._inverses[frequency], (network.at(net) for net in (a, b))
        into = 0.0 if i is None else inverse[:, i]
        return np.asarray(into - (0.0 if j is None else inverse[:, j]))
