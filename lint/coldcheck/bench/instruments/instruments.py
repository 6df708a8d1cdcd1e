"""The instruments on the bench: what they load with, respond to, stand and how far they are off.

The defaults are generic. A user's own come as mappings from the settings (`instrument_of`).
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.sources.register import Citation, cited_by

if TYPE_CHECKING:
    from collections.abc import Iterator

MEAN, AVERAGE, TRUE_RMS, TRACE = "mean", "average", "true-rms", "trace"
RESPONSES = (MEAN, AVERAGE, TRUE_RMS, TRACE)
"""What an instrument makes of a wave: its mean (DC), the mean of its rectified AC scaled for a
sine, the true rms of its AC, or a picture of it."""


LEAST_CATEGORY = 2
"""Measurement category that the wiring of a set plugged into an outlet asks for (IEC 61010-2-030:
II; memory)."""


@dataclass(frozen=True, slots=True)
class Category:
    """A measurement category, 1 to 4, for so many volts rms to earth."""

    level: int
    volts: float

    def __str__(self) -> str:
        return f"CAT {('I', 'II', 'III', 'IV')[self.level - 1]} {self.volts:g} V"


@dataclass(frozen=True, slots=True)
class Probe:
    """An oscilloscope probe: ``ohms`` with the scope's input; ``max_volts`` DC + peak AC."""

    attenuation: float
    ohms: float
    max_volts: float


@dataclass(frozen=True, slots=True)
class Screen:
    """A scope's vertical side.

    ``least`` and ``most`` are volts a division at the input (before the probe); ``corner_hz`` is
    where AC coupling has lost 3 dB at the bare input, whose capacitor is ``farads``.
    """

    divisions: int = 8
    least: float = 2e-3
    most: float = 5.0
    farads: float = 15.9e-9
    probes: tuple[Probe, ...] = ()


@dataclass(frozen=True, slots=True)
class Digits:
    """What a display of figures adds to what a meter is off, range by range.

    ``counts`` are the steps of a range; ``ranges`` its full scales, volts, of which the meter
    chooses itself; ``off`` so many steps it may be off besides its share of the reading.
    """

    counts: int
    ranges: tuple[float, ...]
    off: float

    def resolution(self, peak: float) -> float:
        """A step of the range that holds so many volts, else of the highest; volts."""
        highest = max(self.ranges)
        return next((r for r in sorted(self.ranges) if r >= abs(peak)), highest) / self.counts


@dataclass(frozen=True, slots=True)
class Instrument:
    """A meter or a scope.

    ohms
        Input resistance; for an analogue meter ``None``, and ``ohms_per_volt`` times its range.
    max_volts, max_rms
        What the input stands: DC and peak AC together, and their rms together.
    accuracy, accuracy_of_range
        Fractions of the reading, and of the range.
    category
        Its measurement category by IEC 61010; ``None`` where it has none.
    digits
        The steps of its display; ``None`` for a needle and a trace.
    rejection
        Of the AC that is with a DC voltage, the share that may be left in the reading.
    cites
        Where its figures are from.
    confidence
        ``found``, ``memory``, ``derived``, ``common practice`` or ``settings``.
    """

    name: str
    response: str
    ohms: float | None
    max_volts: float
    max_rms: float
    accuracy: float
    cites: tuple[Citation, ...]
    confidence: str
    accuracy_of_range: float = 0.0
    ohms_per_volt: float | None = None
    ranges: tuple[float, ...] = ()
    category: Category | None = None
    screen: Screen | None = field(default=None)
    digits: Digits | None = None
    rejection: float = 0.0

    @property
    def source(self) -> str:
        """Where its figures are from, in words."""
        return cited_by(self.cites).text

    def for_mains(self, volts: float) -> bool:
        """Whether it may be connected to what is joined to mains of so many volts."""
        return (
            self.category is not None
            and self.category.level >= LEAST_CATEGORY
            and self.category.volts >= volts
        )

    def range_for(self, volts: float) -> float | None:
        """The smallest range that holds so many volts, the highest instant between the tips.

        ``None`` where it has none to choose, or none that holds them.
        """
        return next((r for r in sorted(self.ranges) if r >= abs(volts)), None)

    def full_scale(self, volts: float) -> float:
        """Of the range for so many volts, else of the highest there is; 0 without ranges."""
        return self.range_for(volts) or max(self.ranges, default=0.0)

    def resolution(self, volts: float) -> float:
        """The least difference it shows on the range for so many volts; of a needle, none given."""
        return 0.0 if self.digits is None else self.digits.resolution(volts)

    def stands(self, volts: float) -> bool:
        """Whether its input and the highest of its ranges stand so many volts."""
        return volts <= min(self.max_volts, max(self.ranges, default=self.max_volts))

    def input_ohms(self, volts: float) -> float:
        """Input resistance on the range for so many volts between the tips, ohms."""
        if self.ohms is not None:
            return self.ohms
        return (self.ohms_per_volt or 0.0) * self.full_scale(volts)


REJECTION = 1e-3
"""60 dB of normal mode rejection at 50 and 60 Hz, usual of hand-held meters (memory)."""

DC_DIGITS = Digits(6000, (0.6, 6.0, 60.0, 600.0, 1000.0), 3)
"""6000 steps a range and three of them off (memory)."""

AC_DIGITS = Digits(6000, (0.6, 6.0, 60.0, 600.0, 1000.0), 5)

DC_METER = Instrument(
    "digital meter, DC", MEAN, 10e6, 1000.0, 1000.0, 0.01,
    (
        Citation("practice", "10 Mohm input"),
        Citation("instrument-manuals", "limits and accuracy of a hand-held meter"),
    ),
    "memory", category=Category(3, 600.0), digits=DC_DIGITS, rejection=REJECTION,
)  # fmt: skip
AVERAGE_METER = Instrument(
    "digital meter, AC, average responding", AVERAGE, 10e6, 1000.0, 600.0, 0.02,
    (
        Citation("instrument-pages", "1.111 times the mean of the rectified AC"),
        Citation("instrument-manuals", "limits"),
    ),
    "memory", category=Category(3, 600.0), digits=AC_DIGITS,
)  # fmt: skip
TRUE_RMS_METER = Instrument(
    "digital meter, AC, true rms", TRUE_RMS, 10e6, 1000.0, 600.0, 0.02,
    (
        Citation("instrument-pages", "AC coupled"),
        Citation("instrument-manuals", "limits and accuracy of a hand-held meter"),
    ),
    "memory", category=Category(3, 600.0), digits=AC_DIGITS,
)  # fmt: skip
BENCH_AC_METER = Instrument(
    "bench AC meter, true rms, 1 Mohm", TRUE_RMS, 1e6, 400.0, 300.0, 0.01,
    (
        Citation("practice", "1 Mohm input"),
        Citation("instrument-manuals", "limits"),
    ), "memory",
)  # fmt: skip
ANALOGUE_METER = Instrument(
    "analogue meter, 20 000 ohm/V, DC", MEAN, None, 1000.0, 1000.0, 0.0,
    (
        Citation("practice", "20 000 ohm for each volt of the range; 3 % of full scale"),
        Citation("instrument-manuals", "ranges"),
    ),
    "memory",
    accuracy_of_range=0.03, ohms_per_volt=20e3, ranges=(2.5, 10.0, 50.0, 250.0, 1000.0),
)  # fmt: skip
TUBE_VOLTMETER = Instrument(
    "tube voltmeter, 11 Mohm, DC", MEAN, 11e6, 1500.0, 1500.0, 0.0,
    (
        Citation("practice", "11 Mohm with the 1 Mohm of its probe; 3 % of full scale"),
        Citation("instrument-manuals", "ranges"),
    ),
    "memory", accuracy_of_range=0.03, ranges=(1.5, 5.0, 15.0, 50.0, 150.0, 500.0, 1500.0),
    rejection=REJECTION,
)  # fmt: skip
PROBES = (Probe(1, 1e6, 400.0), Probe(10, 10e6, 600.0), Probe(100, 100e6, 1500.0))
"""x10: 600 V (memory); x100: 1500 V (memory); x1 stands what the input stands."""

SCOPE = Instrument(
    "oscilloscope, 1 Mohm", TRACE, 1e6, 400.0, 300.0, 0.03,
    (
        Citation("instrument-pages", "300 V rms and 400 V DC + peak AC, below 100 kHz"),
        Citation("instrument-manuals", "8 divisions, 2 mV to 5 V each"),
    ),
    "found", screen=Screen(probes=PROBES),
)  # fmt: skip

GENERIC = (
    DC_METER,
    AVERAGE_METER,
    TRUE_RMS_METER,
    BENCH_AC_METER,
    ANALOGUE_METER,
    TUBE_VOLTMETER,
    SCOPE,
)


def meters(instruments: tuple[Instrument, ...] = GENERIC) -> Iterator[Instrument]:
    """Those that show a number."""
    return (i for i in instruments if i.screen is None)


def scopes(instruments: tuple[Instrument, ...] = GENERIC) -> Iterator[Instrument]:
    """Those that show a picture."""
    return (i for i in instruments if i.screen is not None)
