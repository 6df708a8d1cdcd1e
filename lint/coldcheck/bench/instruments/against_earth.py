"""What points joined to the mains stand at against earth, whichever way the plug sits.

The drawing says what stands between points. Which conductor of the mains is at earth the outlet
decides: the neutral as drawn, the line where plug or outlet is the other way round.
"""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING

from coldcheck.bench.instruments.clip import MAINS_POINTS
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from coldcheck.bench.chart.expected import Expected
    from coldcheck.solve.solution import Wave

    Between = Callable[[str, str], Wave | None]

HIGHEST_LINE = 0.1
"""What the mains may be above their nominal voltage where a drawing does not say (memory)."""


@dataclass(frozen=True, slots=True)
class AgainstEarth:
    """The highest instant of some points against earth, volts, at the upper end of the mains.

    ``as_drawn`` with the neutral at earth, ``turned`` with the line there.
    """

    as_drawn: float
    turned: float

    @property
    def worst(self) -> float:
        """What everything connected there has to stand."""
        return max(self.as_drawn, self.turned)


def against_earth(expected: Expected, nets: Iterable[str]) -> AgainstEarth | None:
    """The taller of the nets, at work or just switched on; ``None`` where it is not known."""
    line, neutral = (expected.circuit.points.get(p) for p in MAINS_POINTS)
    ends = (neutral, line)
    found = [[_highest(expected, net, end) for net in nets] for end in ends]
    known = [[v for v in side if v is not None] for side in found]
    if any(len(some) < len(every) for some, every in zip(known, found, strict=True)):
        return None
    as_drawn, turned = (max(side) * high_line(expected) for side in known)
    return AgainstEarth(as_drawn, turned)


def high_line(expected: Expected) -> float:
    """How many times their nominal voltage the mains may be."""
    circuit = expected.circuit
    return 1 + (circuit.mains_tolerance or HIGHEST_LINE) if circuit.mains is not None else 1.0


def turned_waves(expected: Expected, a: str, b: str, mains: frozenset[str]) -> Iterator[Wave]:
    """What else stands between a point on the mains and one that is not: the plug turned."""
    line = expected.circuit.points.get("line")
    if line is None or (a in mains) == (b in mains):
        return
    for between in _settings(expected):
        live, other = (a, b) if a in mains else (b, a)
        high, low = between(live, line), between(other, GROUND)
        if high is not None and low is not None:
            yield high - low


def _settings(expected: Expected) -> tuple[Between, Between]:
    return expected.wave_between, expected.at_switch_on


def _highest(expected: Expected, net: str, end: str | None) -> float | None:
    """Of a net against the conductor of the mains that is at earth."""
    if end is not None:
        waves = [between(net, end) for between in _settings(expected)]
        peaks = [w.peak for w in waves if w is not None]
        if len(peaks) == len(waves):
            return max(peaks)
    return _bound(expected, net)


def _bound(expected: Expected, net: str) -> float | None:
    """No more than the net stands from gnd, and the mains on top."""
    wave, mains = expected.wave_between(net, GROUND), expected.circuit.mains
    if wave is None or mains is None:
        return None
    return wave.peak + sqrt(2) * plain(mains.voltage, "volt", 0.0)
