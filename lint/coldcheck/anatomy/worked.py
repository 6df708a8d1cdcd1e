"""What a review knows besides its states: the signal and its hum, switched off, warming up.

Each is worked out when it is first asked for, and once: rules and reports share the answers. None
of them raises; what could not be worked out says why.
"""

from __future__ import annotations

from functools import cache, partial
from typing import TYPE_CHECKING

from coldcheck.circuit.once import once
from coldcheck.records import dataclass
from coldcheck.solve.off.off_state import OffState, off_state
from coldcheck.solve.signal.hum import hum
from coldcheck.solve.signal.results import SignalSolution
from coldcheck.solve.signal.small_signal import with_swing
from coldcheck.solve.solution import HIGH, LOW, WARM, State
from coldcheck.solve.warmup import WarmUp, warm_up

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section
    from coldcheck.solve.signal.hum import Hum
    from coldcheck.solve.solution import Solution

PLAYING = (WARM, HIGH, LOW)
"""Kinds of states in which the set plays: all tubes in, warm, no switch thrown."""


@dataclass(frozen=True, slots=True)
class Worked:
    """Answers by asking.

    case
        What the rules saw; whatever is derived from it later shares its answers.
    signal
        The small-signal solution about the nominal state, ``None`` without a ``signal`` source.
    hum
        Hum at each output of the signal; empty without a signal or without mains.
    off
        The way down of every charge after switch-off.
    warm_up
        The worst on the way from switch-on to warm.
    """

    case: Case
    signal: Callable[[], SignalSolution | None]
    hum: Callable[[], tuple[Hum, ...]]
    off: Callable[[], OffState]
    warm_up: Callable[[], WarmUp]


def worked_out(case: Case) -> Worked:
    """The answers for a circuit and its solved states."""
    signal = cache(partial(_signal, case))
    return Worked(
        case,
        signal,
        cache(partial(_hum, case, signal)),
        cache(partial(_off, case)),
        cache(partial(warm_up, case.circuit, case.solutions)),
    )


def cathode_swing(case: Case, solution: Solution, section: Section) -> float:
    """Peak volts that the stated signal moves a section's cathode by in a state; 0 at rest.

    The swing about the nominal state is taken for the ends of the line too.
    """
    signal = case.signal if solution.state.kind in PLAYING else None
    return with_swing(solution, signal).get(section.name, 0.0)


def _signal(case: Case) -> SignalSolution | None:
    try:
        return case.signal
    except Exception as error:
        return SignalSolution(State(WARM, WARM), False, _failed(error))


def _hum(case: Case, signal: Callable[[], SignalSolution | None]) -> tuple[Hum, ...]:
    found, warm = signal(), case.solutions.get(WARM)
    if found is None or not found.solved or warm is None or not warm.converged:
        return ()
    try:
        return hum(warm, found)
    except Exception:
        return ()


@once
def switched_off(case: Case) -> OffState:
    """The way down of every charge after switch-off. Raises what the solver raises."""
    return off_state(case.circuit, case.solutions)


def _off(case: Case) -> OffState:
    try:
        return switched_off(case)
    except Exception as error:
        return OffState((), _failed(error), ())


def _failed(error: Exception) -> str:
    return f"the solver failed: {type(error).__name__}: {error}"
