"""The plan of a first power-up as data: steps with their cautions, orders, readings and limits.

Sentences are part of the data, as they are of a finding; how they are laid out is the reports'.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.chart.conditions import Conditions
    from coldcheck.judge.finding import Finding
    from coldcheck.solve.faults.fault import Fault

OHM, DC, AC, DIODE = "ohm", "V DC", "V AC", "V diode"
INSTRUMENTS = {
    OHM: "ohmmeter", DC: "voltmeter, DC", AC: "voltmeter, AC", DIODE: "ohmmeter, diode range",
}  # fmt: skip
"""Unit of a check -> the instrument that reads it."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution; ``level`` is ``danger``, ``warning``, ``caution`` or ``notice``."""

    level: str
    text: str


@dataclass(frozen=True, slots=True)
class Catch:
    """A fault that a resistance check brings to light.

    ``low`` and ``high`` (ohms) are the ends of the reading with the fault, all tolerances at
    their worst; they do not reach into the range expected without it.
    """

    fault: Fault
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Check:
    """One reading: where, with what, what it should be, and where to stop.

    point, other
        The points of the + lead and of the other lead.
    unit
        ``ohm``, ``V DC``, ``V AC`` (rms) or ``V diode`` (what the diode range shows).
    expected, low, high
        The figure and its range; ``math.inf`` for no path at all, ``None`` for an end that is
        not known.
    stop_below, stop_above
        Beyond these: switch off (ohms: do not switch on) and find out why. ``None`` for no limit.
    why
        Why one stops there.
    mains
        The volts the mains (or the high-tension bench supply) are set to for this reading;
        ``None`` for an ohmmeter's.
    catches
        Faults that this reading brings to light, the plainest first.

    position
        The switch that is thrown for this reading; empty with all as in operation.

    Note:
        What to know about the reading.

    """

    point: str
    other: str
    unit: str
    expected: float | None
    low: float | None
    high: float | None
    stop_below: float | None = None
    stop_above: float | None = None
    why: str = ""
    mains: float | None = None
    catches: tuple[Catch, ...] = ()
    note: str = ""
    position: str = ""

    @property
    def instrument(self) -> str:
        """What reads it."""
        return INSTRUMENTS[self.unit]


@dataclass(frozen=True, slots=True)
class Step:
    """One step. ``key`` is its stable name, ``power`` whether power is applied in it.

    missing
        What could not be worked out, and why.
    unseen
        Faults looked for that no reading of this step brings to light.
    """

    key: str
    title: str
    power: bool
    cautions: tuple[Caution, ...] = ()
    do: tuple[str, ...] = ()
    checks: tuple[Check, ...] = ()
    missing: tuple[str, ...] = ()
    unseen: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True)
class Charge:
    """What a capacitor still holds after switch-off.

    volts
        At switch-off, the worst state looked at (``state``) and switch position (``thrown``).
    seconds, low, high
        Until it is below 60 V for good, as drawn and with parts and mains at either end;
        ``math.inf`` where nothing drains it.
    through, perhaps
        What drains it; supplies and parts of unknown value that might.
    """

    capacitor: str
    plus: str
    minus: str
    volts: float
    joules: float
    seconds: float
    low: float
    high: float
    through: tuple[str, ...]
    state: str
    thrown: tuple[str, ...] = ()
    perhaps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Limiter:
    """The lamp in series and what the set takes from the mains.

    watts, amps
        The set's power and rms current, warm and idle, without losses of the core.
    lamp
        Watts of the lamp, at the mains voltage.
    share
        Of the mains voltage that the lamp then leaves the set, an estimate.
    shorted
        Amperes the lamp lets through when the set is a dead short.
    """

    volts: float
    watts: float
    amps: float
    lamp: float
    share: float

    @property
    def shorted(self) -> float:
        """All of the mains across the lamp."""
        return self.lamp / self.volts


@dataclass(frozen=True, slots=True)
class Plan:
    """The whole plan.

    blocking
        Findings of the review, danger and warning, that have to be settled before any power; the
        steps with power are then withheld.
    notices
        Findings below those that speak of damage.
    withheld
        Why there are no steps with power; empty where there are.
    live
        Whether gnd is on the mains.
    """

    file: str
    title: str
    live: bool
    withheld: str
    blocking: tuple[Finding, ...]
    notices: tuple[Finding, ...]
    accepted: tuple[Finding, ...]
    cautions: tuple[Caution, ...]
    limiter: Limiter | None
    steps: tuple[Step, ...]
    charges: tuple[Charge, ...]
    conditions: Conditions
    assumptions: tuple[str, ...] = field(default=())
