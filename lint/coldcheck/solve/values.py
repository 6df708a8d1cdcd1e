"""A circuit whose states are solved when they are asked for, and the same one at other values.

One value after the other costs no more than its own Newton steps: all of a sweep are taken from
the answer and the factors of the drawn circuit together (:mod:`coldcheck.solve.faults`). What does
not get there that way, or might arrive at an answer that depends on where it came from, is solved
by itself.
"""

from __future__ import annotations

from dataclasses import field, replace
from functools import cache, partial
from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.engine import Solver, plausible
from coldcheck.solve.faults.values import ValueSolver
from coldcheck.solve.solution import WARM
from coldcheck.solve.states import states_of
from coldcheck.solve.work import TooMuchWork

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.spread import Spread
    from coldcheck.solve.cycle.starts import LabelledStart
    from coldcheck.solve.solution import Solution, State


@dataclass(slots=True)
class Asked:
    """The states of one circuit; ``near`` is the answer of one that differs in values only.

    The states share factors and starts, and each is worked out once.
    """

    circuit: Circuit
    near: LabelledStart | None = None
    states: Mapping[str, State] = field(init=False)
    _solver: Solver | None = None
    _known: dict[str, Solution] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.states = {s.name: s for s in states_of(self.circuit)}

    def solution(self, state: str = WARM) -> Solution:
        """A state by name, solved or not; KeyError for a state the circuit does not have."""
        if state not in self._known:
            if state != WARM:
                self.solution(WARM)  # the others begin at its answer, whatever is asked first
            if self._solver is None:
                self._solver = Solver(self.circuit, first=self.near)
            self._known[state] = self._solver.solve(self.states[state])
        return self._known[state]

    def beside(self, circuit: Circuit) -> Asked:
        """The same circuit at other values; it begins at the answer of this one if there is one."""
        return Asked(circuit, self.near if self._solver is None else self._solver.first)

    def sweep(self, circuits: Sequence[Circuit], state: str = WARM) -> Iterator[Solution]:
        """The same circuit at other values, in a state; each as :meth:`solution` would say.

        KeyError for a state the circuit does not have.
        """
        for circuit, found in zip(circuits, self._together(circuits, state), strict=True):
            if found is None or not _stands(found):
                yield self.beside(circuit).solution(state)
            else:
                yield replace(found, spread=cache(partial(_spread, self, circuit, state)))

    def _together(self, circuits: Sequence[Circuit], state: str) -> Sequence[Solution | None]:
        """By low rank, as far as that leads."""
        try:
            return ValueSolver(self.circuit, self.states[state]).solve(circuits)
        except TooMuchWork:
            return [None] * len(circuits)


def _stands(found: Solution) -> bool:
    """Whether no source is shorted."""
    try:
        plausible(found.circuit, found.currents)
    except Unsolvable:
        return False
    return True


def _spread(near: Asked, circuit: Circuit, state: str) -> Spread | None:
    """Asks the ordinary solution, which has the Jacobian."""
    return near.beside(circuit).solution(state).spread()
