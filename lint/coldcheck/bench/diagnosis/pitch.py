"""The frequency a counter shows: of hum, which tells what rectifies, or of a stage that oscillates.

A rectifier that lost a half, or a heater's AC, hums at the mains' frequency; a whole one at twice.
A counter locks on to the largest part of what is there: where a second one is nearly as large, or
there is too little for it to count at all, it says nothing. Halves of a winding that differ by
their tolerance put some of the mains' frequency on what is drawn without any.
"""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.oscillators import at_grid
from coldcheck.anatomy.running import running
from coldcheck.bench.diagnosis.channels import LEAST_HERTZ
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable, plain
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import in_phase
from coldcheck.solve.solution import Wave

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.chart.expected import Expected
    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.library import Library
    from coldcheck.bench.diagnosis.ripple import Rippling
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.faults.spread import Shown

    Array = NDArray[np.float64]

COUNTS_V = 0.2
"""Volts rms below which a hand-held meter's counter is not sure to count (common practice)."""

CLEAR = 0.5
"""Share of the largest part that the next may have with the counter still on the largest."""

MAINS_OFF, SWING_OFF = 0.01, 0.25
"""Shares that the mains' frequency (EN 50160, memory) and that of a stage which oscillates may be
off: coils and capacitors of 20 % and more, and what wiring adds (common practice)."""

PITCH_OFF, EITHER, UNHEARD = 0.02, log(2.0), log(10.0)
"""Deviations of the logarithm: of what is counted, where it may be the next part as well, and where
nothing is known."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """What a counter shows, hertz; ``clear`` where it is sure to; ``rms`` is all that is there."""

    hertz: float
    clear: bool
    rms: float


def pitch_of(wave: Wave, mains: float, unequal: float = 0.0) -> Pitch:
    """The largest part of one cycle of the mains (hertz).

    ``unequal`` is the rms that unequal halves may add at the mains' frequency.
    """
    parts = 2**0.5 * np.abs(np.fft.rfft(wave.samples))[1:] / len(wave.samples)
    order = np.argsort(-parts)
    largest, second = parts[order[0]], parts[order[1]]
    second = max(second, unequal) if order[0] > 0 else second
    clear = wave.ac_rms >= COUNTS_V and second <= CLEAR * largest
    return Pitch(float(mains * (order[0] + 1)), bool(clear), wave.ac_rms)


def unequal_at(solved: Rippling, net: str, other: str = GROUND) -> float:
    """Volts rms at the mains' frequency between two nets, halves as unequal as they may be.

    They were solved a deviation off, which is the tolerance over the root of three.
    """
    waves = [_between(shown, net, other) for pair in solved.halves for shown in pair]
    return max((3**0.5 * _fundamental(wave) for wave in waves), default=0.0)


def _fundamental(samples: Array) -> float:
    return float(2**0.5 * np.abs(np.fft.rfft(samples)[1]) / len(samples))


def _between(shown: Shown, net: str, other: str) -> Array:
    """The voltage over a cycle between two nets, (N,)."""
    place = {name: k for k, name in enumerate(shown.nets)}
    ends = [shown.waves[place[n]] for n in (net, other) if n != GROUND]
    return np.asarray(ends[0] - (ends[1] if len(ends) > 1 else 0.0), dtype=float)


def hertz_of(circuit: Circuit) -> float | None:
    """The frequency of the mains; ``None`` where the drawing has none."""
    return None if circuit.mains is None else plain(circuit.mains.frequency, "hertz", 0.0) or None


def swing_at(expected: Expected, net: str) -> float | None:
    """Hertz of a stage that oscillates and moves this net; ``None`` where none does."""
    found = expected.swing(net)
    if found is not None:
        return found
    for stage in running(expected.circuit):
        if net in stage.nets | at_grid(expected.circuit, stage.section):
            return _turning(expected, stage.section.name)
    return None


def _turning(expected: Expected, name: str) -> float | None:
    """Where the loop of a stage comes round in phase, hertz."""
    section = next(s for s in expected.circuit.sections() if s.name == name)
    try:
        around = in_phase(Linearised(expected.circuit, expected.solution), section)
    except (Unsolvable, np.linalg.LinAlgError):
        return None
    return None if around is None else around.hertz


def pitch_columns(
    library: Library, channels: Sequence[Channel], mains: float
) -> tuple[Array, Array]:
    """Mean and variance (H, n) of the logarithm of what a counter shows in each model."""
    assert library.solved is not None
    means, variances = [], []
    for channel in channels:
        table: dict[int, list[tuple[float, Pitch]]] = {}
        unequal = unequal_at(library.solved.rippling, channel.net, channel.other)
        for place, _, cases in library.solved.cases:
            for case, shown in cases:
                table.setdefault(place, []).append(
                    (case.size, _heard(shown, channel, mains, unequal))
                )
        usual = log(table[0][0][1].hertz)
        found = [
            _at(table.get(int(o), []), s, usual)
            for o, s in zip(library.owner, library.size, strict=True)
        ]
        means.append([mean for mean, _ in found])
        variances.append([off**2 for _, off in found])
    return np.array(means).T, np.array(variances).T


def _heard(shown: Shown, channel: Channel, mains: float, unequal: float) -> Pitch:
    place = {net: k for k, net in enumerate(shown.nets)}
    ends = [place[n] for n in (channel.net, channel.other) if n != GROUND]
    wave = Wave(np.nan_to_num(_between(shown, channel.net, channel.other)))
    found = pitch_of(wave, mains, unequal)
    lost = any(np.isnan(shown.volts[k]) for k in ends)
    return Pitch(found.hertz, clear=False, rms=0.0) if lost else found


def _at(cases: Sequence[tuple[float, Pitch]], size: float, usual: float) -> tuple[float, float]:
    """The logarithm and its deviation at a size: known where the nearest either side agree."""
    if not cases:
        return usual, UNHEARD
    below = max((c for c in cases if c[0] <= size), key=lambda c: c[0], default=cases[0])
    above = min((c for c in cases if c[0] >= size), key=lambda c: c[0], default=cases[-1])
    one, other = _counted(below[1]), _counted(above[1])
    return one if one == other else (one[0], UNHEARD)


def _counted(pitch: Pitch) -> tuple[float, float]:
    """The logarithm of what a counter shows and its deviation: nothing where there is too little.

    What it picks up there it may count all the same.
    """
    if pitch.rms < COUNTS_V:
        return log(LEAST_HERTZ), UNHEARD
    return log(pitch.hertz), PITCH_OFF if pitch.clear else EITHER
