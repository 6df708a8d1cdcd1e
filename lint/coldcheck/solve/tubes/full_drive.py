"""An output pentode driven until its grid reaches its cathode: what its screen then takes.

The grid goes through one sine cycle about its idle bias; at each instant the plate stands where
the law's current and the load line meet. Quasi-static and without what the mean currents do to
supply and bias: the load is a resistance, the supply holds, the bias stays. In a push-pull pair
the other tube is taken to be equal.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.solve.tubes.laws import Law

    Array = NDArray[np.float64]

PHASES = 64
MOST_STEPS = 40
NEAR_V = 1e-6
MOST_V = 2000.0
SCREEN_STEPS = 4
MEAN_STEPS = 25


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a pentode idles and what is around it.

    plate_v, screen_v, grid_v
        Idle volts to the cathode.
    load_ohm
        The load on its plate; of a push-pull pair plate to plate, of parallel tubes the share of
        one (the load times their number).
    push_pull
        Whether an equal tube works against it.
    screen_ohm
        Between the screen and the supply that holds still; ``bypassed`` where a capacitor holds
        the screen itself, so that only the mean current drops volts there.
    tap
        Share of the plate's swing that the screen follows (0 fixed, 1 a triode).
    """

    plate_v: float
    screen_v: float
    grid_v: float
    load_ohm: float
    push_pull: bool = False
    screen_ohm: float = 0.0
    bypassed: bool = False
    tap: float = 0.0


@dataclass(frozen=True, slots=True)
class Cycle:
    """One cycle at full drive: volts and amperes (PHASES,), to the cathode and into the tube."""

    plate_v: Array
    plate_a: Array
    screen_v: Array
    screen_a: Array

    @property
    def screen_w(self) -> float:
        """Mean screen power, watts."""
        return float(np.mean(self.screen_v * self.screen_a))

    @property
    def screen_peak_w(self) -> float:
        """Screen power at the worst instant, watts: the plate is down, the current is not."""
        return float(np.max(self.screen_v * self.screen_a))

    @property
    def screen_mean_a(self) -> float:
        """Mean screen current, amperes."""
        return float(np.mean(self.screen_a))

    @property
    def plate_w(self) -> float:
        """Mean plate power, watts."""
        return float(np.mean(self.plate_v * self.plate_a))

    @property
    def lowest_plate_v(self) -> float:
        """How far down the plate swings, volts to the cathode."""
        return float(np.min(self.plate_v))


def full_drive(law: Law, seat: Seat, drive_v: float | None = None) -> Cycle:
    """One cycle of a pentode from its idle bias to 0 V and as far the other way.

    ``law`` is that of a pentode (electrodes plate, screen, grid), ``drive_v`` another peak of the
    grid's swing. A grid at or above its cathode at idle is not driven at all: the cycle is then its
    idle point.
    """
    peak = max(-seat.grid_v, 0.0) if drive_v is None else drive_v
    grid = seat.grid_v + peak * np.sin(2 * np.pi * (np.arange(PHASES) + 0.5) / PHASES)
    drop = 0.0
    for _ in range(MEAN_STEPS if seat.bypassed and seat.screen_ohm else 1):
        cycle = _Balance(law, seat, grid, drop).solved()
        idle = _idle(law, seat)[1]
        new = seat.screen_ohm * (cycle.screen_mean_a - idle) if seat.bypassed else 0.0
        drop += 0.5 * (new - drop)
    return cycle


def _idle(law: Law, seat: Seat) -> tuple[float, float]:
    """Plate and screen current at rest, amperes."""
    at = np.array([[seat.plate_v], [seat.screen_v], [seat.grid_v]])
    amps, _ = law.currents(at)
    return float(amps[0, 0]), float(amps[1, 0])


class _Balance:
    """The load line against the law at every phase of the cycle."""

    def __init__(self, law: Law, seat: Seat, grid: Array, drop: float) -> None:
        self.law, self.seat, self.grid = law, seat, grid
        self.against = 2 * seat.grid_v - grid
        self.plate_idle, self.screen_idle = _idle(law, seat)
        self.held = seat.screen_v - drop

    def solved(self) -> Cycle:
        """The plate's swing by Newton's method, halving where that would leave what is possible.

        More swing is less current and more load current.
        """
        low, high = np.full(PHASES, -MOST_V), np.full(PHASES, MOST_V)
        swing = np.zeros(PHASES)
        for _ in range(MOST_STEPS):
            left, falls = self._left(swing)
            low, high = np.where(left > 0, swing, low), np.where(left > 0, high, swing)
            new = swing + left / falls
            new = np.where((low <= new) & (new <= high), new, 0.5 * (low + high))
            moved, swing = np.abs(new - swing).max(), new
            if moved < NEAR_V:
                break
        screen, amps, _ = self._tube(swing, self.grid)
        return Cycle(self.seat.plate_v - swing, amps[0], screen, amps[1])

    def _left(self, swing: Array) -> tuple[Array, Array]:
        """Current the tubes give beyond what the load takes, and how it falls with the swing."""
        if not self.seat.push_pull:
            _, own, falls = self._tube(swing, self.grid)
            left = own[0] - self.plate_idle - swing / self.seat.load_ohm
            return left, falls + 1 / self.seat.load_ohm
        _, both, slopes = self._tube(np.append(swing, -swing), np.append(self.grid, self.against))
        load = 4 / self.seat.load_ohm
        left = both[0, :PHASES] - both[0, PHASES:] - load * swing
        return left, slopes[:PHASES] + slopes[PHASES:] + load

    def _tube(self, swing: Array, grid: Array) -> tuple[Array, Array, Array]:
        """With the plate ``swing`` below idle: screen volts (P,) and currents (3, P).

        And how the plate current falls with the swing, siemens, the screen following its feed.
        """
        seat = self.seat
        fixed = self.held - seat.tap * swing
        ohms = 0.0 if seat.bypassed else seat.screen_ohm
        screen = np.maximum(fixed, 0.0)
        for _ in range(SCREEN_STEPS if ohms else 1):
            amps, slopes = self.law.currents(np.array((seat.plate_v - swing, screen, grid)))
            off = screen - fixed + ohms * (amps[1] - self.screen_idle)
            screen = np.maximum(screen - off / (1 + ohms * slopes[1, 1]), 0.0) if ohms else screen
        follows = (seat.tap - ohms * slopes[1, 0]) / (1 + ohms * slopes[1, 1])
        return screen, amps, slopes[0, 0] + slopes[0, 1] * follows
