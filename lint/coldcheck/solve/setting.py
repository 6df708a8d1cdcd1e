"""A state together with what had to be found out or assumed about it."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.records import dataclass
from coldcheck.solve.warmup import emits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Tube
    from coldcheck.solve.solution import State


Assumed: TypeAlias = tuple[tuple[str, float], ...]
Trial: TypeAlias = tuple[Assumed, Assumed, bool]


@dataclass(frozen=True, slots=True)
class Ballast:
    """A barretter on the way to its current: ``ohms``; those before and what flowed then.

    ``steps`` is how often it has been moved.
    """

    ohms: float
    before: tuple[float, float]
    steps: int


@dataclass(frozen=True, slots=True)
class Setting:
    """What the equations depend on besides the circuit.

    lit
        Gas tubes that have struck.
    dark
        Gas tubes that went out again: the supply cannot keep them lit all through the cycle.
    unheated
        Tubes whose heater gets too little to emit (a broken series string).
    assumed
        Trial values of parts the drawing leaves open, by branch name (SI).
    held
        Trial volts of grids that float, by net.
    early
        Whether neons are taken to strike as soon as any copy would, not when every one has.
    ease
        How steep transistors are taken to be, a share: on the way to an answer from nothing.
    ballasts
        What barretters have come to, by name; those that are not in it are at their low end.
    """

    state: State
    lit: frozenset[str] = frozenset()
    dark: frozenset[str] = frozenset()
    unheated: frozenset[str] = frozenset()
    assumed: Mapping[str, float] = field(default_factory=dict)
    held: Mapping[str, float] = field(default_factory=dict)
    early: bool = False
    ease: float = 1.0
    ballasts: Mapping[str, Ballast] = field(default_factory=dict)

    @property
    def trial(self) -> bool:
        """Whether anything is assumed: such an answer is no start for others."""
        return bool(self.assumed or self.held or self.early)

    @property
    def of_trial(self) -> Trial:
        """What is assumed, to tell one trial from another."""
        return (*sorted(self.assumed.items()),), (*sorted(self.held.items()),), self.early

    @property
    def values(self) -> Mapping[str, float]:
        """What parts are taken to have whose value the drawing alone does not say (SI)."""
        return {**self.assumed, **{name: b.ohms for name, b in self.ballasts.items()}}

    def emits(self, tube: Tube) -> bool:
        """Whether the cathode emits: plugged in, fed, and hot (a filament is hot at once)."""
        return tube.name not in self.unheated and emits(tube, self.state)
