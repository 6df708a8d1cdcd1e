"""What may be said of a solution when part of the drawing is open: only what does not depend on it.

A value written ``?`` and a grid that floats are tried at values far apart. A voltage that comes
out the same every time is known; the others have no number. This is a test, not a proof: two
opens whose effects cancel in every trial would pass it.

What a tube without a law draws is tried from nothing to more than any small tube gives. What stays
within a fifth has the number of the middle trial, and a range as wide as the trials are apart.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.solution import no_spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.spread import Spread
    from coldcheck.solve.solution import NoNumber, Solution, TubeReading, Wave

RELATIVE, VOLTS, AMPS = 0.005, 0.05, 1e-5
NEAR = 0.2


def agree(solutions: Sequence[Solution], cause: NoNumber) -> Solution:
    """The first of several trial solutions, reduced to what all of them share."""
    first, rest = solutions[0], solutions[1:]
    waves = _shared_waves([s.waves for s in solutions], VOLTS)
    readings = {
        name: reading
        for name, reading in first.readings.items()
        if all(name in s.readings and _same(reading, s.readings[name]) for s in rest)
    }
    lost = {net: cause for net in first.waves if net not in waves}
    return replace(
        first,
        residual_a=max(s.residual_a for s in solutions),
        waves=waves,
        currents=_shared_waves([s.currents for s in solutions], AMPS),
        readings=readings,
        undefined={**first.undefined, **lost},
        spread=no_spread,  # it would be that of a trial value
    )


def bracketed(trials: Sequence[Solution], middle: Solution, cause: NoNumber) -> Solution:
    """The middle of several trials, reduced to what they agree on within a fifth."""
    waves = _near_waves(middle.waves, [t.waves for t in trials], VOLTS)
    readings = {
        name: reading
        for name, reading in middle.readings.items()
        if all(name in t.readings and _same(reading, t.readings[name], NEAR) for t in trials)
    }
    lost = {net: cause for net in middle.waves if net not in waves}
    return replace(
        middle,
        residual_a=max(t.residual_a for t in trials),
        waves=waves,
        currents=_near_waves(middle.currents, [t.currents for t in trials], AMPS),
        readings=readings,
        undefined={**middle.undefined, **lost},
        spread=cache(partial(_widened, middle, trials, str(cause))),
    )


def _near_waves(
    middle: Mapping[str, Wave], trials: Sequence[Mapping[str, Wave]], floor: float
) -> dict[str, Wave]:
    return {
        name: wave
        for name, wave in middle.items()
        if all(name in t and _close(wave, t[name], floor, NEAR) for t in trials)
    }


def _widened(middle: Solution, trials: Sequence[Solution], cause: str) -> Spread | None:
    """The middle's spread with one deviation more: how far the trials are from it."""
    spread = middle.spread()
    if spread is None:
        return None
    nets = {
        net: np.append(row, max(abs(t.waves[net].dc - middle.waves[net].dc) for t in trials))
        if net in middle.waves else np.append(row, 0.0)
        for net, row in spread.nets.items()
    }  # fmt: skip
    amps = {
        (name, electrode): np.append(row, _apart(middle, trials, name, electrode))
        for (name, electrode), row in spread.amps.items()
    }
    return replace(spread, causes=(*spread.causes, cause), nets=nets, amps=amps)


def _apart(middle: Solution, trials: Sequence[Solution], section: str, electrode: str) -> float:
    """How far the mean current of an electrode moves between the trials, amperes."""
    figure = f"{electrode}_ma"
    found = [getattr(t.readings.get(section), figure, None) for t in (middle, *trials)]
    known = [f for f in found if f is not None]
    return 1e-3 * (max(known) - min(known)) if known else 0.0


def _shared_waves(trials: Sequence[Mapping[str, Wave]], floor: float) -> dict[str, Wave]:
    first, rest = trials[0], trials[1:]
    return {
        name: wave
        for name, wave in first.items()
        if all(name in other and _close(wave, other[name], floor) for other in rest)
    }


def _close(a: Wave, b: Wave, floor: float, share: float = RELATIVE) -> bool:
    apart = float(np.abs(a.samples - b.samples).max())
    return apart <= floor + share * a.peak


def _same(a: TubeReading, b: TubeReading, share: float = RELATIVE) -> bool:
    for item in fields(a):
        x, y = getattr(a, item.name), getattr(b, item.name)
        if (x is None) != (y is None):
            return False
        if x is not None and abs(x - y) > VOLTS + share * abs(x):
            return False
    return True


def judged(
    circuit: Circuit, readings: Mapping[str, TubeReading], missing: Mapping[str, NoNumber]
) -> dict[str, TubeReading]:
    """Readings without the figures that rest on nets that have no number."""
    kept: dict[str, TubeReading] = {}
    for section in circuit.sections():
        reading = readings.get(section.name)
        if reading is None or _any(section.cathode_nets, missing):
            continue
        heater = circuit.tubes[section.tube].heater
        if heater is not None and _any(heater.nets, missing):
            reading = replace(
                reading, heater_cathode_dc=None, heater_cathode_low=None, heater_cathode_high=None
            )
        reading = replace(
            reading,
            plate_v=None if section.net(section.plates[0]) in missing else reading.plate_v,
            screen_v=None if section.net("screen") in missing else reading.screen_v,
            grid_v=None if section.net("grid") in missing else reading.grid_v,
        )
        kept[section.name] = reading
    return kept


def _any(nets: Iterable[str], missing: Mapping[str, NoNumber]) -> bool:
    return any(net in missing for net in nets)
