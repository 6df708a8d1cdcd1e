"""What may be said of a solution when part of the drawing is open: only what does not depend on it.

A value written ``?`` and a grid that floats are tried at values far apart. A voltage that comes
out the same every time is known; the others have no number. This is a test, not a proof: two
opens whose effects cancel in every trial would pass it.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.solution import no_spread

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import NoNumber, Solution, TubeReading, Wave

RELATIVE, VOLTS, AMPS = 0.005, 0.05, 1e-5


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


def _shared_waves(trials: Sequence[Mapping[str, Wave]], floor: float) -> dict[str, Wave]:
    first, rest = trials[0], trials[1:]
    return {
        name: wave
        for name, wave in first.items()
        if all(name in other and _close(wave, other[name], floor) for other in rest)
    }


def _close(a: Wave, b: Wave, floor: float) -> bool:
    apart = float(np.abs(a.samples - b.samples).max())
    return apart <= floor + RELATIVE * a.peak


def _same(a: TubeReading, b: TubeReading) -> bool:
    for item in fields(a):
        x, y = getattr(a, item.name), getattr(b, item.name)
        if (x is None) != (y is None):
            return False
        if x is not None and abs(x - y) > VOLTS + RELATIVE * abs(x):
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
