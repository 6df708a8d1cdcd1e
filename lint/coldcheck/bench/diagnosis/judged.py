"""Each reading against what it should be: the predicted range as the meter would show it.

The range is the spread of parts, tubes and mains (most copies of a sound circuit fall in it; it
is no bound), widened by the meter's accuracy on its range and lowered by its loading.
"""

from __future__ import annotations

from dataclasses import field, replace
from math import hypot, inf
from typing import TYPE_CHECKING

from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.diagnosis.amperes import expected_amps
from coldcheck.bench.diagnosis.heard import signal_volts
from coldcheck.bench.diagnosis.pitch import (
    COUNTS_V,
    MAINS_OFF,
    SWING_OFF,
    hertz_of,
    pitch_of,
    swing_at,
    unequal_at,
)
from coldcheck.bench.diagnosis.readings import AC, AMP, DC, FREQUENCY, OHM, SIGNAL
from coldcheck.bench.diagnosis.ripple import rippling
from coldcheck.bench.instruments.instruments import DC_METER, TRUE_RMS_METER
from coldcheck.bench.instruments.measure import PICKED_UP, Source, accuracy, divided, floor
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.records import dataclass
from coldcheck.solve.faults.spread import MOVED, SpreadSolver

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.bench.chart.expected import Band, Expected, Voltages
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.bench.diagnosis.ripple import Rippling
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit

OHM_ACCURACY = 0.01
"""Of an ohmmeter's reading (common practice for hand-held meters)."""

LEAD_OHMS = 0.3
"""Ohms of leads and contacts below which a difference means nothing."""

AMP_ACCURACY, LEAST_AMPS = 0.01, 2e-5
"""Of a current: share of the reading, and amperes (hand-held meters, memory)."""

WITHIN, LOW, HIGH, UNKNOWN = "within", "low", "high", "not predicted"

THIRD = 1.4
"""Times, either way, that an amplified signal may be (common practice)."""

MISREAD = (10.0, 0.1, 1000.0, 0.001, 100.0, 0.01, -1.0)
"""What a reading that was misread is times what was meant: a range, a prefix, the leads."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A reading and what it should be, as the meter shows it.

    ``low`` and ``high`` are ``None`` where no range could be worked out; ``reason`` says why there
    is no prediction; ``loading`` is the share of the voltage that the meter takes.
    """

    reading: Reading
    expected: float | None
    low: float | None
    high: float | None
    verdict: str
    loading: float = 0.0
    reason: str = ""

    @property
    def meant(self) -> float | None:
        """What was perhaps meant: about in the range, and a whole range, prefix or sign away."""
        value, low, high = self.reading.value, self.low, self.high
        if low is None or high is None or self.verdict == WITHIN or value in (0.0, inf):
            return None
        if low <= 0.0 <= high:  # of what is next to nothing anything is a multiple
            return None
        wide = (high - low) / 2 if high < inf else 0.0
        return next((m for x in MISREAD if low - wide <= (m := value / x) <= high + wide), None)


@dataclass(frozen=True, slots=True)
class _Prediction:
    """A voltage, the share of it that the meter leaves, and plus or minus what the meter is off."""

    band: Band
    share: float
    meter_off: float


@dataclass(slots=True)
class JudgeReadings:
    """Judges readings of one circuit with the usual meters."""

    circuit: Circuit
    dc: Instrument = DC_METER
    ac: Instrument = TRUE_RMS_METER
    _benches: dict[str, Bench] = field(default_factory=dict)
    _predicted: dict[tuple[str, str, str, str], _Prediction | None] = field(default_factory=dict)
    _solver: SpreadSolver | None = None
    _rippling: Rippling | None = None

    def all(self, readings: Iterable[Reading]) -> tuple[Judged, ...]:
        """Every reading judged."""
        return tuple(self.one(r) for r in readings)

    def one(self, reading: Reading) -> Judged:
        """One reading judged."""
        bench = self._bench(reading.state)
        if reading.kind == OHM:
            return self._ohms(bench, reading)
        if reading.kind == AMP:
            return _amps(bench, reading)
        if reading.kind == SIGNAL:
            return _signal(bench, reading)
        if reading.kind == FREQUENCY:
            return _frequency(bench, reading, self._unequal(reading))
        key = (reading.net, reading.other, reading.kind, reading.state)
        if key not in self._predicted:
            self._predicted[key] = self._prediction(bench, reading)
        prediction = self._predicted[key]
        if prediction is None:
            return _unpredicted(reading, bench.expected)
        judged = _voltage(reading, prediction)
        hertz = bench.expected.swing(reading.net)
        if hertz is None or judged.verdict == WITHIN:
            return judged
        reason = f"it swings there at {engineering(hertz, 'Hz')}, and its mean is not that of rest"
        return replace(judged, verdict=UNKNOWN, reason=reason)

    def led(self, reading: Reading) -> Reading:
        """A reading across a part with the tips as the sound circuit has its plus and minus."""
        if not reading.across or reading.kind != DC:
            return reading
        found = self._volts(self._bench(reading.state), reading)
        if found is None or found.dc.value >= 0:
            return reading
        return replace(reading, net=reading.other, other=reading.net)

    def peak(self, reading: Reading) -> float:
        """The highest instant of the sound circuit between the tips, volts; 0 if not known."""
        found = None if reading.kind == OHM else self._volts(self._bench(reading.state), reading)
        return 0.0 if found is None else found.peak

    def _volts(self, bench: Bench, reading: Reading) -> Voltages | None:
        """Between the two tips."""
        if reading.other == GROUND:
            return bench.expected.voltages(reading.net)
        return bench.expected.between(reading.net, reading.other)

    def _prediction(self, bench: Bench, reading: Reading) -> _Prediction | None:
        """What the meter should show; ``None`` where there is no voltage. Once a place."""
        found = self._volts(bench, reading)
        if found is None:
            return None
        meter = self.dc if reading.kind == DC else self.ac
        band = found.dc if reading.kind == DC else found.ac
        ohms = meter.input_ohms(found.peak)
        source = self._source(bench, reading)
        behind = source.dc if reading.kind == DC else source.ac
        share = divided(ohms, behind)
        if reading.kind == DC and share < MOVED:
            share = self._solved(reading, ohms, band.value, share)
        off = accuracy(meter, band.value * share, found.peak, found.ac.value)
        stray = floor(meter.response, abs(behind or 0.0) * divided(ohms, behind))
        return _Prediction(band, share, hypot(off, stray))

    def _bench(self, state: str) -> Bench:
        if state not in self._benches:
            self._benches[state] = Bench(self.circuit, state)
        return self._benches[state]

    def _source(self, bench: Bench, reading: Reading) -> Source:
        """What the meter is connected to, for DC and for the mains' AC."""
        mains = self.circuit.mains
        frequency = float(mains.frequency.m_as("hertz")) if mains else 60.0
        ends = (reading.net, reading.other)
        sources = bench.sources
        return Source(sources.ohms(*ends), sources.impedance(*ends, frequency))

    def _solved(self, reading: Reading, ohms: float, volts: float, share: float) -> float:
        """The share that is left where the meter moves the tube as well: solved with it on.

        A grid that is pulled down takes its cathode along, and the meter less than by the slope.
        """
        if self._solver is None:
            self._solver = SpreadSolver(self.circuit)
        loaded = self._solver.loaded((), reading.net, ohms, reading.state, reading.other)
        return share if loaded is None or not volts else loaded / volts

    def _unequal(self, reading: Reading) -> float:
        """What unequal halves may add at the mains' frequency, volts rms; solved once."""
        if self._rippling is None:
            self._solver = self._solver or SpreadSolver(self.circuit)
            good = self._solver.shown(())
            if isinstance(good, str):
                return 0.0
            self._rippling = rippling(self._solver, good)
        known = {*self._rippling.good.nets, GROUND}
        if not {reading.net, reading.other} <= known:
            return 0.0
        return unequal_at(self._rippling, reading.net, reading.other)

    def _ohms(self, bench: Bench, reading: Reading) -> Judged:
        ohms = bench.meter.read(reading.net, reading.other)
        if ohms.nominal is None:
            reason = "an unknown value takes part"
            return Judged(reading, None, ohms.low, ohms.high, UNKNOWN, reason=reason)
        low = ohms.low if ohms.low == inf else ohms.low * (1 - OHM_ACCURACY) - LEAD_OHMS
        high = ohms.high * (1 + OHM_ACCURACY) + LEAD_OHMS
        return Judged(reading, ohms.nominal, low, high, _verdict(reading.value, low, high))


def _unpredicted(reading: Reading, expected: Expected) -> Judged:
    """By what practice gives, where it gives something."""
    plain = reading.kind == DC and reading.other == GROUND
    band = expected.practice(reading.net) if plain else None
    if band is None or band.low is None or band.high is None:
        return Judged(
            reading,
            None,
            None,
            None,
            UNKNOWN,
            reason=expected.reason(reading.net) or expected.reason(reading.other),
        )
    verdict = _verdict(reading.value, band.low, band.high)
    return Judged(reading, band.value, band.low, band.high, verdict)


def _amps(bench: Bench, reading: Reading) -> Judged:
    """A current against its range, whichever way round the meter is."""
    band = expected_amps(bench.expected, reading.net)
    if band is None:
        reason = bench.expected.solution.reason or "this current was not worked out"
        return Judged(reading, None, None, None, UNKNOWN, reason=reason)
    if band.off is None:
        reason = "no range could be worked out"
        return Judged(reading, band.value, None, None, UNKNOWN, reason=reason)
    off = hypot(band.off, AMP_ACCURACY * band.value, LEAST_AMPS)
    low, high = band.value - off, band.value + off
    return Judged(reading, band.value, low, high, _verdict(abs(reading.value), low, high))


def _signal(bench: Bench, reading: Reading) -> Judged:
    """What the drawing's signal makes there, a small-signal estimate."""
    solution = bench.expected.solution
    volts = signal_volts(solution, reading.net, reading.other) if solution.converged else None
    if volts is None:
        reason = "the drawing has no signal, or what it does here could not be worked out"
        return Judged(reading, None, None, None, UNKNOWN, reason=reason)
    low, high = max(volts / THIRD - PICKED_UP, 0.0), volts * THIRD + PICKED_UP
    return Judged(reading, volts, low, high, _verdict(reading.value, low, high))


def _frequency(bench: Bench, reading: Reading, unequal: float) -> Judged:
    """What a counter shows: of a stage that oscillates, else of the hum (see ``pitch_of``)."""
    swing = swing_at(bench.expected, reading.net)
    if swing is not None:
        return _about(reading, swing, SWING_OFF)
    mains, wave = hertz_of(bench.circuit), bench.expected.wave_between(reading.net, reading.other)
    if mains is None or wave is None:
        reason = bench.expected.solution.reason or "there is nothing to count in the drawing"
        return Judged(reading, None, None, None, UNKNOWN, reason=reason)
    found = pitch_of(wave, mains, unequal)
    if not found.clear:
        reason = (
            f"{engineering(found.rms, 'V')} are too little for a counter"
            if found.rms < COUNTS_V
            else "two frequencies are about as strong there: look with a scope"
        )
        return Judged(reading, found.hertz, None, None, UNKNOWN, reason=reason)
    return _about(reading, found.hertz, MAINS_OFF)


def _about(reading: Reading, hertz: float, off: float) -> Judged:
    low, high = (1 - off) * hertz, (1 + off) * hertz
    return Judged(reading, hertz, low, high, _verdict(reading.value, low, high))


def _voltage(reading: Reading, prediction: _Prediction) -> Judged:
    """The band as the meter shows it; a range that could not be worked out is left open."""
    band, share = prediction.band, prediction.share
    shown = band.value * share
    if band.off is None:
        reason = "no range could be worked out"
        return Judged(reading, shown, None, None, UNKNOWN, 1 - share, reason)
    off = hypot(band.off * share, prediction.meter_off)
    low, high = shown - off, shown + off
    if reading.kind == AC:
        low = max(low, 0.0)
    return Judged(reading, shown, low, high, _verdict(reading.value, low, high), 1 - share)


def _verdict(value: float, low: float, high: float) -> str:
    if value < low:
        return LOW
    return HIGH if value > high else WITHIN
