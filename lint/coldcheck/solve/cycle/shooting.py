"""A cycle that repeats: Newton's method on the state that a marched cycle begins with.

Marching alone would have to sit through every time constant; the derivative of the state at the
end of a cycle by the state at its beginning says where it will all settle (the shooting method:
Aprille and Trick, Proc. IEEE 60, 1972). Where that derivative misleads, marching one more cycle
is always a way forward.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.cycle.marching import March
from coldcheck.solve.cycle.starts import CURRENT_TOLERANCE, NotConverged

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.cycle.marching import Lap
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle

    Array = NDArray[np.float64]

MARCHED = 3
"""Cycles marched from nothing before Newton's method is worth trying."""

MAX_LAPS = 60
PATIENCE = 5
"""Newton steps without halving the change over a cycle before something else is tried."""

ALIKE = 1e-2
"""Change over a cycle from which the next is sought near this one, instant by instant."""

DAMPED = 1.5
"""Sum of the two dampings that take turns then: 1 and 0.5."""

REPEATS = 1e-8
"""Relative change over a cycle of every state that is taken for a repetition."""

SMALL = 1e-9
"""Relative change over a cycle below which rounding may be all that is left."""


def by_shooting(cycle: Cycle, known: Array | None = None) -> Steady:
    """The periodic answer of a cycle, from nothing or from another state's unknowns (m, N).

    Raises NotConverged.
    """
    with np.errstate(over="ignore", invalid="ignore"):
        lap, laps = _repeating(March(cycle), known)
    wave = np.array([p.z[: len(cycle.ports)] for p in lap.points]).T
    answer, _ = cycle.answer(lap.unknowns, wave, laps)
    if not answer.balanced:
        raise NotConverged(f"current still {answer.residual:.2g} A in error after {laps} cycles")
    return answer


def _repeating(march: March, known: Array | None) -> tuple[Lap, int]:
    """The cycle that repeats and how many it took: full Newton steps, not only downhill ones.

    On the way from one side of a jump to the other the change over a cycle has to grow. If that
    goes back and forth, the jumps are kept at the instants where they are: cycles alike.
    """
    state, points = march.beginning(known)
    best, damping, alike = np.inf, 1.0, False
    since = -MARCHED if known is None else 0
    for laps in range(1, MAX_LAPS + 1):
        lap = march.lap(state, points, alike=alike or best < ALIKE)
        points, size = lap.points, _change(march, state, lap)
        balanced = lap.error < CURRENT_TOLERANCE / 4 and size < REPEATS
        if balanced or (size < SMALL and size > 0.5 * best):
            return lap, laps
        since = 0 if since >= 0 and size < 0.5 * best else since + 1
        best = min(best, size)
        if since > PATIENCE:
            since, damping, alike = -1, DAMPED - damping if alike else 1.0, True
        state = _onwards(march, state, lap) if since < 0 else _towards(march, state, lap, damping)
    raise NotConverged("the cycles do not come to repeat, as where stages swing by themselves")


def _towards(march: March, state: Array, lap: Lap, damping: float) -> Array:
    """A Newton step towards the state that repeats."""
    try:
        step = np.linalg.solve(np.eye(march.size) - lap.slope, lap.after - state)
    except np.linalg.LinAlgError:
        return lap.after
    return np.asarray(state + damping * step)


def _onwards(march: March, state: Array, lap: Lap) -> Array:
    """The state after the cycle; the mean mmfs where the emfs would have no mean."""
    after, cores = lap.after.copy(), len(march.cores)
    if cores:
        first = march.size - cores
        own = np.eye(cores) - lap.slope[first:, first:]
        after[first:] = state[first:] + np.linalg.solve(own, after[first:] - state[first:])
    return after


def _change(march: March, state: Array, lap: Lap) -> float:
    """Largest relative change of any state over a cycle; volts, amperes and shares of an emf."""
    change, size = np.abs(lap.after - state), np.abs(state)
    return float((change / (march.scale + size)).max(initial=0.0))
