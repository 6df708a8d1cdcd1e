"""What a meter shows of a wave: its response, its loading, its accuracy, its limits.

A DC meter shows the mean. An average-responding AC meter blocks the DC, takes the mean of the
rectified rest and is scaled so that a sine reads its rms (pi / (2 sqrt 2) = 1.1107); a true-rms
one shows the rms of the rest. The DC an AC meter blocks still stands at its input.
"""

from __future__ import annotations

from math import hypot, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.instruments.instruments import AVERAGE, MEAN, TRUE_RMS
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.judge.finding import Finding
    from coldcheck.solve.solution import Wave

    Array = NDArray[np.float64]

FORM_FACTOR = pi / (2 * sqrt(2))
"""Rms over rectified mean of a sine."""


@dataclass(frozen=True, slots=True)
class Source:
    """What a point is like for an instrument: ohms for DC, complex ohms for the mains' AC.

    ``None`` where it is not known: nothing is then said of the loading.
    """

    dc: float | None
    ac: complex | None


STIFF = Source(0.0, 0j)


@dataclass(frozen=True, slots=True)
class Shown:
    """A meter's reading, volts.

    shown, low, high
        The reading with the meter's loading, and its ends by the meter's accuracy. No reading to
        take where ``over`` says that the meter does not stand what is there.
    unloaded
        What an ideal meter of the same response would show.
    ohms, range
        Input resistance, and the range to set: the smallest that holds ``peak``. ``None`` where
        the meter chooses, and where it is not to be connected at all.
    peak, rms
        What may stand at the input, DC included.
    over
        What of it is beyond the instrument: ``peak``, ``rms``, ``range``, ``category`` (none for
        these mains), ``loading`` (see ``harm``); empty when all is well.
    harm
        What its loading puts beyond its limits in the circuit.
    loading_known
        Whether the source resistance was known; else ``shown`` is the unloaded reading.
    """

    instrument: Instrument
    shown: float
    low: float
    high: float
    unloaded: float
    ohms: float
    range: float | None
    peak: float
    rms: float
    over: tuple[str, ...]
    loading_known: bool
    harm: tuple[Finding, ...] = ()

    @property
    def safe(self) -> bool:
        """Whether the meter, on its range, stands what may be between its tips."""
        return not self.over

    @property
    def loading(self) -> float:
        """The share of the reading that the meter's own resistance takes."""
        return 1 - self.shown / self.unloaded if self.unloaded else 0.0


def responds(response: str, wave: Wave) -> float:
    """What an ideal instrument of a response shows of a wave, volts. Raises ValueError."""
    if response == MEAN:
        return wave.dc
    if response == AVERAGE:
        return FORM_FACTOR * float(np.mean(np.abs(wave.samples - wave.dc)))
    if response == TRUE_RMS:
        return wave.ac_rms
    raise ValueError(f"an instrument that shows a {response} shows no number")


def divided(ohms: float, source: complex | float | None) -> float:
    """The share of a voltage left across ``ohms`` behind a source resistance; 1 if not known."""
    return 1.0 if source is None else abs(ohms / (ohms + source))


def show(
    instrument: Instrument,
    wave: Wave,
    source: Source = STIFF,
    stands: Sequence[Wave] = (),
    mains: float | None = None,
) -> Shown:
    """A meter's reading of a wave. Raises ValueError for an instrument that shows a picture.

    ``stands`` are other waves that the meter has to stand there. Its range holds the highest
    instant of all: AC on a DC range, and DC on an AC range, stress a meter that does not show them.
    ``mains`` are the volts of the mains that one of the points is joined to.
    """
    unloaded = responds(instrument.response, wave)
    peak, rms = (max(w.peak for w in (wave, *stands)), max(w.rms for w in (wave, *stands)))
    ohms = instrument.input_ohms(peak)
    behind = source.dc if instrument.response == MEAN else source.ac
    shown = unloaded * divided(ohms, behind)
    unfit = () if mains is None or instrument.for_mains(mains) else ("category",)
    over = (*unfit, *_over(instrument, peak, rms))
    off = accuracy(instrument, shown, peak, wave.ac_rms)
    return Shown(
        instrument, shown, shown - off, shown + off, unloaded, ohms,
        None if over else instrument.range_for(peak), peak, rms, over, behind is not None,
    )  # fmt: skip


def accuracy(instrument: Instrument, volts: float, peak: float = 0.0, ac: float = 0.0) -> float:
    """Plus or minus how many volts a reading may be off by the instrument alone.

    ``peak`` is the highest instant between the tips, where that is more than is read: the range
    has to hold it. ``ac`` is the AC with a DC voltage, volts rms.
    """
    held = np.array([max(abs(volts), peak)])
    return instrument.accuracy * abs(volts) + float(off_by_range(instrument, held, ac)[0])


def off_by_range(instrument: Instrument, held: Array, ac: float = 0.0) -> Array:
    """What a reading is off besides its share, on the ranges that hold such voltages, volts."""
    off = np.full(len(held), instrument.rejection * ac)
    if instrument.digits is not None:
        digits = instrument.digits
        off += digits.off * _spans(digits.ranges, held) / digits.counts
    if instrument.ranges:
        off += instrument.accuracy_of_range * _spans(instrument.ranges, held)
    return off


def _spans(ranges: tuple[float, ...], held: Array) -> Array:
    """Full scale of the smallest range that holds each, else of the highest."""
    scales = np.sort(ranges)
    return np.asarray(scales[np.minimum(np.searchsorted(scales, held), len(scales) - 1)])


STRAY_VOLTS = 3e-4
"""Volts that mean nothing: contacts of unlike metals, leads (common practice)."""

STRAY_AMPS = 4e-8
"""Amperes that mean nothing: what grids, sockets and boards take or leak, whatever the circuit
behind makes of it (common practice: 40 mV at a grid leak of a megohm)."""

PICKED_UP, COUPLED_AMPS = 5e-4, 7e-8
"""Volts AC that leads bring by themselves (common practice), and amperes AC that the mains' wiring
around drives into a point: 230 V, 50 Hz through a picofarad (derived)."""


def floor(response: str, ohms: float) -> float:
    """Volts that mean nothing where there are so many ohms behind the tips, the meter's included.

    >>> round(floor(MEAN, 1.0), 4), round(floor(MEAN, 1e6), 2)
    (0.0003, 0.04)
    """
    if response == MEAN:
        return hypot(STRAY_VOLTS, STRAY_AMPS * ohms)
    return hypot(PICKED_UP, COUPLED_AMPS * ohms)


def _over(instrument: Instrument, peak: float, rms: float) -> Iterator[str]:
    if peak > instrument.max_volts:
        yield "peak"
    if rms > instrument.max_rms:
        yield "rms"
    if instrument.ranges and instrument.range_for(peak) is None:
        yield "range"
