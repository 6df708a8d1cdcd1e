"""What a reading from the bench is: a kind, where its two tips were, a value, a state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import ends_of
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit

DC, AC, OHM, AMP, SIGNAL, FREQUENCY = "dc", "ac", "ohm", "current", "signal", "frequency"
KINDS = {
    "dc": DC, "dcv": DC, "v dc": DC, "vdc": DC, "v": DC, "volts dc": DC, "mv": DC, "dc mv": DC,
    "ac": AC, "acv": AC, "v ac": AC, "vac": AC, "ac rms": AC, "volts ac": AC,
    "hum": AC, "ripple": AC, "hz": FREQUENCY, "khz": FREQUENCY, "frequency": FREQUENCY,
    "ohm": OHM, "ohms": OHM, "r": OHM, "resistance": OHM, "Ω": OHM, "ω": OHM,
    "signal": SIGNAL, "sig": SIGNAL, "ac signal": SIGNAL,
    "a": AMP, "ma": AMP, "current": AMP, "amps": AMP, "dc ma": AMP,
}  # fmt: skip
"""What people call a kind of reading -> the kind."""

BARE = {"mv": 1e-3, "dc mv": 1e-3, "ma": 1e-3, "dc ma": 1e-3, "khz": 1e3}
"""Kinds that name a prefix -> what a number without a unit is times; else volts, ohms, amperes."""

UNITS = {DC: "volt", AC: "volt", OHM: "ohm", AMP: "ampere", SIGNAL: "volt",
         FREQUENCY: "hertz"}  # fmt: skip
WHAT = {DC: "volts DC", AC: "volts AC", OHM: "ohms", AMP: "amperes DC",
        SIGNAL: "volts AC with the signal on", FREQUENCY: "hertz"}  # fmt: skip
THROUGH = "through "
"""How a current's place begins: the lead of a part or electrode that is lifted for the meter."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: ``value`` in volts, ohms (``inf``: no path), amperes or hertz.

    ``net`` is where the first tip was and ``other`` the second. Of a current ``net`` is the part or
    the electrode whose lead was lifted. ``point`` is what the place is called. ``across`` says that
    a part was named and no polarity: its sign is then the one the sound circuit has.
    """

    point: str
    net: str
    kind: str
    value: float
    state: str = WARM
    line: int = 0
    other: str = GROUND
    across: bool = False

    def same_place(self, other: Reading) -> bool:
        """Whether it is the same reading taken again."""
        one, two = {self.net, self.other}, {other.net, other.other}
        return one == two and (self.kind, self.state) == (other.kind, other.state)


@dataclass(frozen=True, slots=True)
class Place:
    """Where a reading is taken: what it is called, and the nets of the two tips."""

    name: str
    net: str
    other: str = GROUND
    across: bool = False


def place_across(circuit: Circuit, part: str) -> Place | None:
    """The two ends of a part, winding or heater; ``None`` where it has not two."""
    ends = ends_of(circuit, part)
    return None if ends is None else Place(f"across {ends.name}", ends.a, ends.b, across=True)


def place_between(circuit: Circuit, one: str, other: str) -> Place:
    """Two points as the circuit spells them; the second is left unsaid where it is gnd."""
    a, b = circuit.points[one], circuit.points[other]
    return Place(one, a) if b == GROUND else Place(f"{one} to {other}", a, b)
