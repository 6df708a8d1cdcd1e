"""One circuit at many values, all of them taken from its own answers together.

Other values on the same wiring are small changes of the equations, as faults are. Gas tubes and
cold cathodes are settled as :class:`coldcheck.solve.engine.Solver` settles them, from the dark on:
values that light a gas tube go on from this circuit's answer with that one lit. So each is the
answer that the values have alone, wherever this circuit stands.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass
from coldcheck.solve.cycle.defined import (
    floating_grids,
    lawless,
    undefined_nets,
    unknown_values,
)
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.cycle.starts import CURRENT_TOLERANCE, NotConverged
from coldcheck.solve.cycle.triplets import DENSE_UP_TO
from coldcheck.solve.engine import INSTANTS, Solver
from coldcheck.solve.faults.batch import FaultBatch
from coldcheck.solve.faults.change import Changes
from coldcheck.solve.faults.equations import Base, FaultView
from coldcheck.solve.faults.readings import solution_of
from coldcheck.solve.faults.solver import TOGETHER_UP_TO, at_once
from coldcheck.solve.faults.stack import Loaded
from coldcheck.solve.setting import Setting

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.starts import Start, Steady
    from coldcheck.solve.faults.change import Change
    from coldcheck.solve.solution import NoNumber, Solution, State


@dataclass(slots=True)
class ValueSolver:
    """Solves one circuit in one state at other values; lives for one sweep."""

    circuit: Circuit
    state: State
    _solver: Solver = field(init=False)
    _missing: Mapping[str, NoNumber] = field(init=False)

    def __post_init__(self) -> None:
        self._solver = Solver(self.circuit, INSTANTS)
        self._missing = undefined_nets(self.circuit, self.state)

    def solve(self, circuits: Sequence[Circuit]) -> list[Solution | None]:
        """The same wiring with other values; ``None`` where this way leads to no answer.

        Raises TooMuchWork.
        """
        found: list[Solution | None] = [None] * len(circuits)
        waiting = [] if self._tried() else [(Setting(self.state), list(range(len(circuits))))]
        while waiting:
            setting, places = waiting.pop(0)
            some = [circuits[k] for k in places]
            for place, (view, answer) in zip(places, self._answers(setting, some), strict=True):
                if view is None or answer is None or not answer.balanced:
                    continue  # less exact than alone
                following = self._solver.following(setting, view, answer)
                if following == setting:
                    found[place] = self._solution(circuits[place], view, answer)
                else:
                    _join(waiting, following, place)
        return found

    def _tried(self) -> bool:
        """Whether a state of this circuit is found by trying what the drawing leaves open."""
        floating = floating_grids(self.circuit, self.state, self._missing)
        return bool(floating or unknown_values(self.circuit) or lawless(self.circuit, self.state))

    def _answers(
        self, setting: Setting, circuits: Sequence[Circuit]
    ) -> Iterator[tuple[FaultView | None, Steady | None]]:
        """Each circuit in a setting, whatever follows from its answer."""
        known = self._base(setting)
        if known is None:
            yield from ((None, None) for _ in circuits)
            return
        base, start = known
        writer = Changes(self.circuit, base.cycle.network, self.state)
        changes = [writer.revalued(c) for c in circuits]
        answers = _solved(base, start, [c for c in changes if c is not None])
        for change in changes:
            yield (None, None) if change is None else (FaultView(base, change), next(answers))

    def _base(self, setting: Setting) -> tuple[Base, Start] | None:
        """The circuit's own equations and answer; ``None`` where there is none."""
        try:
            cycle, answer = self._solver.at(setting)
        except (np.linalg.LinAlgError, Unsolvable, NotConverged):
            return None
        self._solver.first = cycle.label(answer)
        if cycle.network.size > TOGETHER_UP_TO:
            return None
        return Base.of(cycle, answer, alone=cycle.network.size <= DENSE_UP_TO), answer.start

    def _solution(self, circuit: Circuit, view: FaultView, answer: Steady) -> Solution:
        return solution_of(circuit, view, answer, self.state, self._missing)


def _solved(base: Base, start: Start, changes: Sequence[Change]) -> Iterator[Steady | None]:
    """Answers to the changes of a circuit, as many at once as there is memory for."""
    loaded, many = Loaded.of(base), at_once(base)
    for first in range(0, len(changes), many):
        some = changes[first : first + many]
        cold: list[frozenset[str]] = [frozenset()] * len(some)
        batch = FaultBatch(base, loaded, some, cold, [start] * len(some), CURRENT_TOLERANCE)
        yield from batch.solve()


def _join(waiting: list[tuple[Setting, list[int]]], setting: Setting, place: int) -> None:
    """Put a circuit with those that wait for the same setting."""
    for other, places in waiting:
        if other == setting:
            places.append(place)
            return
    waiting.append((setting, [place]))
