"""Each reading against what it should be: the predicted range as the meter would show it.

The range is the spread of parts, tubes and mains (most copies of a sound circuit fall in it; it
is no bound), widened by the meter's accuracy and lowered by its loading.
"""

from __future__ import annotations

from dataclasses import field, replace
from math import hypot, inf
from typing import TYPE_CHECKING

from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.diagnosis.readings import AC, DC, OHM
from coldcheck.bench.instruments.instruments import DC_METER, TRUE_RMS_METER
from coldcheck.bench.instruments.measure import accuracy, divided
from coldcheck.drawing.units import engineering
from coldcheck.records import dataclass
from coldcheck.solve.faults.spread import MOVED, SpreadSolver

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.bench.chart.expected import Band, Expected
    from coldcheck.bench.diagnosis.readings import Reading
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit

OHM_ACCURACY = 0.01
"""Of an ohmmeter's reading (common practice for hand-held meters)."""

LEAST = {DC: 0.05, AC: 0.01, OHM: 0.3}
"""Volts and ohms below which a difference means nothing: leads, noise, contact potentials."""

WITHIN, LOW, HIGH, UNKNOWN = "within", "low", "high", "not predicted"


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
    _predicted: dict[tuple[str, str, str], _Prediction | None] = field(default_factory=dict)
    _solver: SpreadSolver | None = None

    def all(self, readings: Iterable[Reading]) -> tuple[Judged, ...]:
        """Every reading judged."""
        return tuple(self.one(r) for r in readings)

    def one(self, reading: Reading) -> Judged:
        """One reading judged."""
        bench = self._bench(reading.state)
        if reading.kind == OHM:
            return self._ohms(bench, reading)
        key = (reading.net, reading.kind, reading.state)
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

    def _prediction(self, bench: Bench, reading: Reading) -> _Prediction | None:
        """What the meter should show; ``None`` where there is no voltage. Once a point."""
        found = bench.expected.voltages(reading.net)
        if found is None:
            return None
        meter = self.dc if reading.kind == DC else self.ac
        band = found.dc if reading.kind == DC else found.ac
        ohms = meter.input_ohms(found.peak)
        share = self._share(bench, reading, ohms)
        if reading.kind == DC and share < MOVED:
            share = self._solved(reading, ohms, band.value, share)
        return _Prediction(band, share, accuracy(meter, band.value * share, found.peak))

    def _bench(self, state: str) -> Bench:
        if state not in self._benches:
            self._benches[state] = Bench(self.circuit, state)
        return self._benches[state]

    def _share(self, bench: Bench, reading: Reading, ohms: float) -> float:
        """What a meter of so many ohms leaves of the voltage."""
        frequency = 0.0
        mains = self.circuit.mains
        if reading.kind == AC:
            frequency = float(mains.frequency.m_as("hertz")) if mains else 60.0
        source = bench.sources.impedance(reading.net, "gnd", frequency)
        return divided(ohms, source)

    def _solved(self, reading: Reading, ohms: float, volts: float, share: float) -> float:
        """The share that is left where the meter moves the tube as well: solved with it on.

        A grid that is pulled down takes its cathode along, and the meter less than by the slope.
        """
        if self._solver is None:
            self._solver = SpreadSolver(self.circuit)
        loaded = self._solver.loaded((), reading.net, ohms, reading.state)
        return share if loaded is None or not volts else loaded / volts

    def _ohms(self, bench: Bench, reading: Reading) -> Judged:
        ohms = bench.meter.read(reading.net)
        if ohms.nominal is None:
            reason = "an unknown value takes part"
            return Judged(reading, None, ohms.low, ohms.high, UNKNOWN, reason=reason)
        low = ohms.low if ohms.low == inf else ohms.low * (1 - OHM_ACCURACY) - LEAST[OHM]
        high = ohms.high * (1 + OHM_ACCURACY) + LEAST[OHM]
        return Judged(reading, ohms.nominal, low, high, _verdict(reading.value, low, high))


def _unpredicted(reading: Reading, expected: Expected) -> Judged:
    """By what practice gives, where it gives something."""
    band = expected.practice(reading.net) if reading.kind == DC else None
    if band is None or band.low is None or band.high is None:
        return Judged(reading, None, None, None, UNKNOWN, reason=expected.reason(reading.net))
    verdict = _verdict(reading.value, band.low, band.high)
    return Judged(reading, band.value, band.low, band.high, verdict)


def _voltage(reading: Reading, prediction: _Prediction) -> Judged:
    """The band as the meter shows it; a range that could not be worked out is left open."""
    band, share = prediction.band, prediction.share
    shown = band.value * share
    if band.off is None:
        reason = "no range could be worked out"
        return Judged(reading, shown, None, None, UNKNOWN, 1 - share, reason)
    off = hypot(band.off * share, prediction.meter_off, LEAST[reading.kind])
    low, high = shown - off, shown + off
    if reading.kind == AC:
        low = max(low, 0.0)
    return Judged(reading, shown, low, high, _verdict(reading.value, low, high), 1 - share)


def _verdict(value: float, low: float, high: float) -> str:
    if value < low:
        return LOW
    return HIGH if value > high else WITHIN
