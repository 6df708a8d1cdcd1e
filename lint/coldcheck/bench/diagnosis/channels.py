"""What can be read where: DC, AC and cold ohms of the nets a meter may go to.

DC is taken in volts; AC and ohms in logarithms, since filters and tolerances multiply there
(:func:`scaled`).
"""

from __future__ import annotations

from math import exp, inf, log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.running import unforetold
from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.bench.chart.points import named_points
from coldcheck.bench.diagnosis.readings import AC, DC, FREQUENCY, OHM, SIGNAL
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.faults.spread import MOVED

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.faults.spread import Shown

    Array = NDArray[np.float64]

AC_FLOOR = 0.01
"""Volts AC that mean nothing: leads, stray pick-up."""

SIGNAL_FLOOR = 2e-3
"""Volts of a signal that mean nothing: what else of AC is about."""

LEAST_HERTZ = 0.1
"""Below this a counter shows nothing."""

LEADS = 1.0
"""Ohms of leads and contacts, at the low end of what an ohmmeter tells apart."""

MOST_OHMS = 2e7
"""Above this a hand-held meter shows an overload."""

OVERLOAD = 0.9
"""Share of that from which a model is taken to say: no path."""

SHOWS = 0.5
"""Share of a resistor that an ohmmeter across it has to show for a reading to be about it."""

HUM = 0.005
"""Volts AC rms below which a net is no point for an AC reading."""

SWAMPED = 10.0
"""Volts AC rms from which a DC meter tells nothing of a smaller DC below it (a winding's end)."""

LEFT = 0.1
"""Share of a voltage that a meter has to leave: what hangs on insulation alone shows nothing."""

SINE_PEAK = 2**0.5


@dataclass(frozen=True, slots=True)
class Channel:
    """A kind of reading of a net from another; ``point`` is what the place is called.

    ``peak`` is the highest instant of the sound circuit there, volts, taking the AC for a sine;
    ``wait`` is how long an ohmmeter takes to settle on its capacitors, seconds.
    """

    kind: str
    net: str
    point: str
    peak: float = 0.0
    wait: float = 0.0
    other: str = GROUND

    @property
    def what(self) -> tuple[str, str, str]:
        """What is read, whatever the place is called: kind and both nets."""
        return self.kind, self.net, self.other


def channels_of(circuit: Circuit, good: Shown, meter: Instrument) -> tuple[Channel, ...]:
    """DC and the cold resistance at every safe net, AC at those that carry some; resistors across.

    Safe are nets off the mains wiring that the meter's input stands, as sines at least. What an
    oscillator makes of its own volts tells nothing of faults.
    """
    unsafe, own = unsafe_nets(circuit), unforetold(circuit)
    names = {net: name for name, net in named_points(circuit).items()}
    found = []
    shown = zip(good.nets, good.volts, good.ac, good.ohms, strict=True)
    for net, volts, ac, ohms in shown:
        peak = float(abs(volts) + SINE_PEAK * ac)
        if net in unsafe | own or np.isnan(volts) or not meter.stands(peak):
            continue
        point = names.get(net, net)
        left = _left(meter, peak, ohms)
        if left >= LEFT and (ac < SWAMPED or (abs(volts) > ac and left >= MOVED)):
            found.append(Channel(DC, net, point, peak))
        if ac > HUM:
            found.append(Channel(AC, net, point, peak))
    meter_off = Ohmmeter(circuit)
    safe = [n for n in good.nets if n not in unsafe]
    found += [*_ohm_channels(meter_off, safe, names), *_across(meter_off, set(safe))]
    return (*found, *_contacts(circuit))


def _across(meter: Ohmmeter, safe: set[str]) -> Iterator[Channel]:
    """Ohms across resistors between two nets, where they show: no voltage tells a grid's stopper.

    One with a lead on gnd is read there.
    """
    for b in meter.circuit.branches.values():
        if b.kind is not PartKind.RESISTOR or b.a == b.b or not {b.a, b.b} <= safe:
            continue
        found, own = meter.read(b.a, b.b).nominal, plain(b.value, "ohm", 0.0)
        if found is not None and found > SHOWS * own > 0:
            yield Channel(OHM, b.a, f"across {b.name}", other=b.b)


def _contacts(circuit: Circuit) -> Iterator[Channel]:
    """Ohms across fuses and closed switches, of the mains wiring too: the plug is pulled."""
    for b in circuit.branches.values():
        wired = b.kind is PartKind.FUSE or (b.kind is PartKind.SWITCH and b.closed)
        if wired and b.a != b.b and b.part is not None:
            ends = (b.b, b.a) if b.a == GROUND else (b.a, b.b)
            yield Channel(OHM, ends[0], f"across {b.name}", other=ends[1])


def _ohm_channels(
    meter: Ohmmeter, nets: Sequence[str], names: Mapping[str, str]
) -> Iterator[Channel]:
    """Ohms to gnd of nets off the mains wiring, where every value on the way is known."""
    for net in nets:
        if meter.read(net).nominal is not None:
            waits = meter.charging(net)
            wait = 0.0 if waits is None else waits.seconds
            yield Channel(OHM, net, names.get(net, net), wait=wait)


def _left(meter: Instrument, peak: float, ohms: float) -> float:
    """The share of the DC of a net that a meter leaves; about as it is from ``MOVED``.

    The ends of a bridge's winding hang on diodes that are off for most of the cycle: what DC
    they show there is nobody's to predict.
    """
    inside = meter.input_ohms(peak)
    return inside / (inside + ohms)


def unsafe_nets(circuit: Circuit) -> set[str]:
    """The nets of the mains wiring; of a set whose gnd is live, line and neutral themselves.

    Such a set can only be worked on behind an isolating transformer, which the report says.
    """
    side = mains_side(circuit)
    if GROUND in side:
        side = frozenset(circuit.points[n] for n in ("line", "neutral") if n in circuit.points)
    return {*side, GROUND}


def scaled(kind: str, value: float) -> float:
    """A reading as the models have it: volts DC, else a logarithm above a floor."""
    if kind == DC:
        return value
    if kind == SIGNAL:
        return log_volts(value)
    if kind == FREQUENCY:
        return log(max(value, LEAST_HERTZ))
    return log(value + AC_FLOOR) if kind == AC else log_ohms(value)


def log_volts(volts: float) -> float:
    """A signal as the models have it."""
    return log(volts + SIGNAL_FLOOR)


def read_back(kind: str, number: float) -> float:
    """The reading that a number of the models stands for; ``inf`` ohms beyond a meter's range."""
    if kind == DC:
        return number
    if kind == FREQUENCY:
        return exp(number)
    if kind in (AC, SIGNAL):
        return max(exp(number) - (AC_FLOOR if kind == AC else SIGNAL_FLOOR), 0.0)
    ohms = max(exp(number) - LEADS, 0.0)
    return inf if ohms > OVERLOAD * MOST_OHMS else ohms


def log_ohms(ohms: float) -> float:
    """An ohmmeter's reading as the models have it: never below an ohm's worth of leads."""
    return log(min(ohms, MOST_OHMS) + LEADS)


def above(mean: Array) -> Array:
    """The share that the AC itself has in what its logarithm is taken of: 0 far below the floor."""
    return np.asarray(np.maximum(1 - AC_FLOOR * np.exp(-mean), 0.0))
