"""What may be looked at: a circuit, and every state of it by name."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.signal.results import SignalSolution
    from coldcheck.solve.solution import Solution


@dataclass(frozen=True, slots=True)
class Case:
    """What a rule may look at: the circuit, and every state by name (solved or not)."""

    circuit: Circuit
    solutions: Mapping[str, Solution]
    _kept: dict[str, SignalSolution | None] = field(default_factory=dict, compare=False, repr=False)
    kept: dict[Hashable, Any] = field(default_factory=dict, init=False, compare=False, repr=False)
    """Answers about this very case (:mod:`coldcheck.circuit.once`)."""

    @property
    def warm(self) -> Solution:
        """The nominal state."""
        return self.solutions["warm"]

    @property
    def signal(self) -> SignalSolution | None:
        """The small-signal solution about the nominal state, worked out when first asked for.

        ``None`` for a drawing without a ``signal`` source; where there are no numbers its
        ``solved`` is false and ``reason`` says why. Never raises for content.
        """
        if "warm" not in self._kept:
            from coldcheck.solve.signal.small_signal import small_signal

            self._kept["warm"] = small_signal(self.circuit, self.solutions.get("warm"))
        return self._kept["warm"]

    def solved(self, *kinds: str) -> Iterator[Solution]:
        """The states that converged, of the given kinds (all when none is given)."""
        for solution in self.solutions.values():
            if solution.converged and (not kinds or solution.state.kind in kinds):
                yield solution


def warm_volts(case: Case, net: str) -> float | None:
    """The DC of a net in the nominal state, where that is solved."""
    warm = case.solutions.get("warm")
    wave = warm.waves.get(net) if warm is not None and warm.converged else None
    return None if wave is None else wave.dc


def unsolved_reason(case: Case) -> str | None:
    """Why there are no numbers for the nominal state; ``None`` when there are."""
    warm = case.solutions.get("warm")
    if warm is None:
        return "the circuit was not solved"
    return None if warm.converged else f"no voltages could be worked out: {warm.reason}"
