"""What a solved state says: a waveform at every net, currents, tube readings.

Plain SI floats inside; each waveform holds N equally spaced instants of one mains cycle (N is 1
for a circuit without mains AC). What could not be worked out has no number: ``None``.
"""

from __future__ import annotations

from dataclasses import field
from enum import Enum
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.spread import Spread
    from coldcheck.solve.work import TooMuchWork

COLD, WARMING, WARM, HIGH, LOW, STANDBY, PULLED = (
    "cold",
    "warming",
    "warm",
    "high line",
    "low line",
    "standby",
    "pulled",
)


class Lost(Enum):
    """Why a net of a solved state has no number."""

    FLOATING = "floating"
    OPEN = "open"
    """It depends on something the drawing leaves open: a value not given, a grid that floats."""


@dataclass(frozen=True, slots=True)
class NoNumber:
    """Why a net has no number: the kind, and the same in words."""

    kind: Lost
    words: str

    def __str__(self) -> str:
        return self.words


class Unsolved(Enum):
    """Why a state has no numbers at all."""

    NOT_ARRIVED = "not-arrived"
    """No way of solving it came to an answer."""
    CONTRADICTION = "contradiction"
    """Sources are shorted or fight one another."""
    NO_VALUE = "no-value"
    """A value or a law that the equations cannot do without is not known."""
    BROKEN = "broken"
    """The solver itself broke down, which is no fault of the drawing."""


@dataclass(frozen=True, slots=True)
class State:
    """One condition of the circuit.

    line
        Factor on the mains voltage (1.0 nominal).
    warm
        Whether cathodes emit; directly heated ones emit also when ``False``.
    thrown
        Names of the switches not in their operating position.
    pulled
        Names of the tubes out of their sockets.
    unheated
        Names of the tubes in their sockets whose cathodes do not emit yet (kind ``warming``).
    """

    name: str
    kind: str
    line: float = 1.0
    warm: bool = True
    thrown: frozenset[str] = frozenset()
    pulled: frozenset[str] = frozenset()
    unheated: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Wave:
    """One mains cycle of a voltage or a current: ``samples`` of shape (N,), volts or amperes."""

    samples: NDArray[np.float64]

    @property
    def dc(self) -> float:
        """The mean over the cycle: what a DC meter shows."""
        return _mean(self.samples)

    @property
    def ac_rms(self) -> float:
        """The rms of what is left when the DC is taken out."""
        swing = self.samples - _mean(self.samples)
        return sqrt(_mean(swing * swing))

    @property
    def rms(self) -> float:
        """DC and AC together."""
        return sqrt(_mean(self.samples * self.samples))

    @property
    def low(self) -> float:
        """The lowest instant."""
        return float(np.minimum.reduce(self.samples))

    @property
    def high(self) -> float:
        """The highest instant."""
        return float(np.maximum.reduce(self.samples))

    @property
    def peak(self) -> float:
        """The largest excursion from zero, as a positive number."""
        return float(np.maximum.reduce(np.abs(self.samples)))

    def __sub__(self, other: Wave) -> Wave:
        return Wave(self.samples - other.samples)


def _mean(samples: NDArray[np.float64]) -> float:
    """As ``samples.mean()``, at a quarter of its cost: rules ask for it thousands of times."""
    return float(np.add.reduce(samples)) / len(samples)


TAIL_MA = 1e-3
"""The laws have tails that come to no end: a microampere is less than any stage works with."""


@dataclass(frozen=True, slots=True)
class TubeReading:
    """A tube section at work; voltages to its cathode except ``cathode_v`` (to gnd).

    ``plate_ma`` and the rest are cycle means; ``peak_plate_ma`` is the largest instant and
    ``inverse_v`` the largest reverse voltage (rectifiers: of the worse plate).
    ``heater_cathode_low``/``high`` are the extreme instants of heater minus cathode, over both
    heater ends; ``heater_cathode_dc`` their mean. ``None`` where there is no such thing.
    """

    plate_v: float | None = None
    plate_ma: float = 0.0
    screen_v: float | None = None
    screen_ma: float = 0.0
    grid_v: float | None = None
    grid_ma: float = 0.0
    cathode_v: float | None = None
    plate_w: float = 0.0
    screen_w: float = 0.0
    peak_plate_ma: float = 0.0
    inverse_v: float = 0.0
    heater_v: float | None = None
    heater_cathode_dc: float | None = None
    heater_cathode_low: float | None = None
    heater_cathode_high: float | None = None

    @property
    def conducts(self) -> bool:
        """Whether plate current flows, the tail of the law aside."""
        return self.plate_ma > TAIL_MA


def no_spread() -> Spread | None:
    """For answers without a Jacobian to ask: unsolved states, and those with open values."""
    return None


@dataclass(frozen=True, slots=True)
class Solution:
    """One state, solved or not. When ``converged`` is false there are no numbers at all."""

    state: State
    converged: bool
    residual_a: float
    """Largest error of Kirchhoff's current law at any net and instant, amperes."""
    iterations: int
    reason: str
    """Why there is no solution; empty when there is one."""
    circuit: Circuit
    waves: Mapping[str, Wave] = field(default_factory=dict)
    """Net -> voltage to gnd. Nets that cannot be judged are missing."""
    currents: Mapping[str, Wave] = field(default_factory=dict)
    """Branch name -> current from ``a`` to ``b``."""
    readings: Mapping[str, TubeReading] = field(default_factory=dict)
    """Section name -> reading."""
    undefined: Mapping[str, NoNumber] = field(default_factory=dict)
    """Net -> why it has no number (floating, hangs on an unknown value)."""
    too_large: TooMuchWork | None = None
    """Why it was not solved, where it would have been too much work."""
    spread: Callable[[], Spread | None] = no_spread
    """Works out, when first asked, how far the numbers may be off; ``None`` where it cannot."""
    unsolved: Unsolved = Unsolved.NOT_ARRIVED
    """What kind of reason ``reason`` is; says nothing of a state that was solved."""

    def why_lost(self, net: str) -> str:
        """Why a net has no number, in words; empty where nothing is known of it."""
        return str(self.undefined.get(net, ""))

    def floats(self, net: str) -> bool:
        """Whether a net has no number because nothing holds it."""
        why = self.undefined.get(net)
        return why is not None and why.kind is Lost.FLOATING

    def wave(self, point: str) -> Wave | None:
        """The voltage of a point, lead or net to gnd."""
        return self.waves.get(self.circuit.points.get(point, point))

    def between(self, a: str, b: str) -> Wave | None:
        """The voltage of ``a`` measured from ``b`` (points, leads or nets)."""
        high, low = self.wave(a), self.wave(b)
        return None if high is None or low is None else high - low

    def current(self, branch: str) -> Wave | None:
        """The current through a branch from its ``a`` end to its ``b`` end."""
        return self.currents.get(branch)
