"""What a fuse does with a current, and how fast: the gates of IEC 60127-2 (all from memory).

The standard gives, at some multiples of the rating, the longest and the shortest times. Of its
sheets for one speed the slowest is taken here, since a drawing says ``slow`` and not which sheet;
between two gates the time at the lower one is a bound. A fuse of another standard (those of 3AG
size hold their rating, not 1.5 times it) is another fuse.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch

OPENS = Threshold(
    "times its rating at which a fuse opens within half an hour",
    2.1,
    "",
    Citation("iec-60127", "2.1 times: within 2 minutes to half an hour"),
)
"""Times its rating at which a fuse of IEC 60127 opens within 2 minutes to half an hour (memory)."""

HOLDS = Threshold(
    "times its rating that a fuse carries for an hour",
    1.5,
    "",
    Citation("iec-60127-2", "1.5 times: an hour and more"),
)


class Speed(Enum):
    """How fast a fuse is meant to be."""

    FAST = "fast"
    SLOW = "slow"
    UNSAID = "of no speed in the drawing, taken as slow"


_GATES = {
    Speed.FAST: ((OPENS.value, 1800.0), (2.75, 2.0), (4.0, 0.3), (10.0, 0.02)),
    Speed.SLOW: ((OPENS.value, 1800.0), (2.75, 80.0), (4.0, 5.0), (10.0, 0.3)),
}
"""Times the rating, and the longest that it may then take, seconds."""

_SLOW = ("slow", "anti-surge", "time-delay")


@dataclass(frozen=True, slots=True)
class Blown:
    """A fuse that carries more than its rating.

    times
        Times its rating, rms, at the upper end of the mains.
    least
        The same at the lower end, where it opens last; ``times`` where that is not known apart.
    """

    name: str
    times: float
    least: float | None = None
    speed: Speed = Speed.UNSAID

    @property
    def surely(self) -> float:
        """Times its rating at either end of the mains."""
        return self.times if self.least is None else min(self.times, self.least)

    @property
    def opens(self) -> bool:
        """Whether it opens within half an hour."""
        return self.surely >= OPENS.value

    @property
    def holds(self) -> bool:
        """Whether it is made to carry this for an hour and more."""
        return self.times <= HOLDS.value

    @property
    def seconds(self) -> float | None:
        """The longest it may take to open; ``None`` where it need not."""
        return opens_within(self.speed, self.surely)


def opens_within(speed: Speed, times: float) -> float | None:
    """Seconds within which a fuse opens at so many times its rating; ``None`` where it need not."""
    gates = _GATES[Speed.FAST if speed is Speed.FAST else Speed.SLOW]
    passed = [seconds for gate, seconds in gates if times >= gate]
    return passed[-1] if passed else None


def speed_of(fuse: Branch) -> Speed:
    """What the drawing says of a fuse."""
    words = fuse.part.words if fuse.part is not None else ()
    if "fast" in words:
        return Speed.FAST
    return Speed.SLOW if any(word in words for word in _SLOW) else Speed.UNSAID
