"""A range of DC lift and what sets its ends."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.sources.register import Citation


@dataclass(frozen=True, slots=True)
class Edge:
    """What sets one end of a window.

    ``volts`` is the DC of the winding at which the limit is just met; ``rating`` the limit's name
    in the tube data, ``limit`` its volts; ``cathode_v`` the DC of the cathode in that state.
    """

    volts: float
    tube: str
    section: str
    state: str
    rating: str
    limit: float
    cathode_v: float
    source: str
    cites: tuple[Citation, ...] = ()


@dataclass(frozen=True, slots=True)
class Room:
    """A range of DC lift; an end is ``None`` where no limit on file sets one."""

    low: Edge | None = None
    high: Edge | None = None

    @property
    def least(self) -> float:
        """The lower end, volts; minus infinity where nothing sets it."""
        return -inf if self.low is None else self.low.volts

    @property
    def most(self) -> float:
        """The upper end, volts; infinity where nothing sets it."""
        return inf if self.high is None else self.high.volts

    @property
    def empty(self) -> bool:
        """Whether no lift at all is inside."""
        return self.least > self.most

    @property
    def middle(self) -> float:
        """Half way between the ends; with an open end, the lift nearest to gnd that is inside."""
        if self.low is not None and self.high is not None:
            return (self.least + self.most) / 2
        return min(max(0.0, self.least), self.most)

    def holds(self, volts: float) -> bool:
        """Whether a lift is inside, ends included."""
        return self.least <= volts <= self.most

    def meet(self, other: Room) -> Room:
        """What both have in common."""
        low = self.low if self.least >= other.least else other.low
        high = self.high if self.most <= other.most else other.high
        return Room(low, high)


def common(rooms: Iterable[Room]) -> Room:
    """What all rooms have in common; a room without ends where there are none."""
    found = Room()
    for room in rooms:
        found = found.meet(room)
    return found
