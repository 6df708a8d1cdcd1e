"""The states a set may be switched off in, at the most that the mains brings there.

States before the tubes draw and states of standby are solved at the nominal mains. With little or
no load their voltages follow it, so they count at the top of its tolerance. Where a bench source
feeds the circuit nothing is scaled.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.solution import HIGH, STANDBY, Wave
from coldcheck.solve.warmup import UNLOADED

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.solve.solution import Solution


def at_their_highest(solutions: Iterable[Solution]) -> list[Solution]:
    """The solved states, those without load as the highest mains would have them."""
    solved = [s for s in solutions if s.converged]
    factor = max((s.state.line for s in solved if s.state.kind == HIGH), default=1.0)
    return [_scaled(s, factor) if _follows(s) and factor > 1 else s for s in solved]


def _follows(solution: Solution) -> bool:
    state = solution.state
    if state.line != 1.0 or not (state.name in UNLOADED or state.kind == STANDBY):
        return False
    return all(b.kind is not PartKind.SOURCE for b in solution.circuit.branches.values())


def _scaled(solution: Solution, factor: float) -> Solution:
    name = f"{solution.state.name}, {HIGH}"
    waves = {net: Wave(factor * w.samples) for net, w in solution.waves.items()}
    return replace(solution, state=replace(solution.state, name=name), waves=waves)
