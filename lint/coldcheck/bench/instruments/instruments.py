"""The instruments on the bench: what they load with, respond to, stand and how far they are off.

The defaults are generic. A user's own come as mappings from the settings (`instrument_of`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

MEAN, AVERAGE, TRUE_RMS, TRACE = "mean", "average", "true-rms", "trace"
RESPONSES = (MEAN, AVERAGE, TRUE_RMS, TRACE)
"""What an instrument makes of a wave: its mean (DC), the mean of its rectified AC scaled for a
sine, the true rms of its AC, or a picture of it."""


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
class Instrument:
    """A meter or a scope.

    ohms
        Input resistance; for an analogue meter ``None``, and ``ohms_per_volt`` times its range.
    max_volts, max_rms
        What the input stands: DC and peak AC together, and their rms together.
    accuracy, accuracy_of_range
        Fractions of the reading, and of the range.
    category
        Its measurement category by IEC 61010 as printed on it; empty where it has none.
    confidence
        ``found``, ``memory``, ``derived``, ``common practice`` or ``settings``.
    """

    name: str
    response: str
    ohms: float | None
    max_volts: float
    max_rms: float
    accuracy: float
    source: str
    confidence: str
    accuracy_of_range: float = 0.0
    ohms_per_volt: float | None = None
    ranges: tuple[float, ...] = ()
    category: str = ""
    screen: Screen | None = field(default=None)

    def range_for(self, volts: float) -> float | None:
        """The smallest range that holds a reading, volts; ``None`` where it has none to choose."""
        if not self.ranges:
            return None
        return next((r for r in sorted(self.ranges) if r >= abs(volts)), max(self.ranges))

    def input_ohms(self, volts: float) -> float:
        """Input resistance when it reads so many volts, ohms."""
        if self.ohms is not None:
            return self.ohms
        return (self.ohms_per_volt or 0.0) * (self.range_for(volts) or 0.0)


DC_METER = Instrument(
    "digital meter, DC", MEAN, 10e6, 1000.0, 1000.0, 0.01,
    "10 Mohm input usual; limits and accuracy of a hand-held meter from memory",
    "memory", category="CAT III 600 V",
)  # fmt: skip
AVERAGE_METER = Instrument(
    "digital meter, AC, average responding", AVERAGE, 10e6, 1000.0, 600.0, 0.02,
    "1.111 times the mean of the rectified AC (found); limits from memory",
    "memory", category="CAT III 600 V",
)  # fmt: skip
TRUE_RMS_METER = Instrument(
    "digital meter, AC, true rms", TRUE_RMS, 10e6, 1000.0, 600.0, 0.02,
    "AC coupled (found); limits and accuracy of a hand-held meter from memory",
    "memory", category="CAT III 600 V",
)  # fmt: skip
BENCH_AC_METER = Instrument(
    "bench AC meter, true rms, 1 Mohm", TRUE_RMS, 1e6, 400.0, 300.0, 0.01,
    "1 Mohm input usual; limits from memory", "memory",
)  # fmt: skip
ANALOGUE_METER = Instrument(
    "analogue meter, 20 000 ohm/V, DC", MEAN, None, 1000.0, 1000.0, 0.0,
    "20 000 ohm for each volt of the range; 3 % of full scale; ranges from memory", "memory",
    accuracy_of_range=0.03, ohms_per_volt=20e3, ranges=(2.5, 10.0, 50.0, 250.0, 1000.0),
)  # fmt: skip
PROBES = (Probe(1, 1e6, 400.0), Probe(10, 10e6, 600.0), Probe(100, 100e6, 1500.0))
"""x10: 600 V (memory); x100: 1500 V (memory); x1 stands what the input stands."""

SCOPE = Instrument(
    "oscilloscope, 1 Mohm", TRACE, 1e6, 400.0, 300.0, 0.03,
    "300 V rms (found) and 400 V DC + peak AC (found), below 100 kHz; "
    "8 divisions, 2 mV to 5 V each (memory)",
    "found", screen=Screen(probes=PROBES),
)  # fmt: skip

GENERIC = (
    DC_METER,
    AVERAGE_METER,
    TRUE_RMS_METER,
    BENCH_AC_METER,
    ANALOGUE_METER,
    SCOPE,
)


def meters(instruments: tuple[Instrument, ...] = GENERIC) -> Iterator[Instrument]:
    """Those that show a number."""
    return (i for i in instruments if i.screen is None)


def scopes(instruments: tuple[Instrument, ...] = GENERIC) -> Iterator[Instrument]:
    """Those that show a picture."""
    return (i for i in instruments if i.screen is not None)
