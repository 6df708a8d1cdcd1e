"""Hum at the outputs: what the supply's ripple and the heaters leave there, against the signal.

Ripple, and heater AC that gets in through drawn parts, are in the periodic solution already.
Leakage inside a tube from heater to cathode is not: no figures are on file, so it is bounded by
an assumed resistance. Stray magnetic and electric fields are not in a drawing at all. In a
balanced stage ripple cancels, here to the last digit: two real tubes are never that equal.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable, has_ac, mains_frequency
from coldcheck.solve.signal.linearised import Linearised

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from coldcheck.circuit.model import Section
    from coldcheck.solve.signal.results import Output, SignalSolution
    from coldcheck.solve.solution import Solution

    Complex = NDArray[np.complex128]

LEAKAGE_OHM = 10e6
"""Heater to cathode inside a tube, an assumption (from memory; makers guarantee less)."""

LEAST_GAIN = 1e-6
"""Below this an output is not driven at all, and there is nothing to refer the hum to."""


@dataclass(frozen=True, slots=True)
class Hum:
    """Volts rms at one output, with the signal at rest.

    ``ripple`` is measured in the periodic solution: supply ripple, and heater AC through drawn
    parts. ``leakage`` maps a section to what an assumed leak from the worse end of its heater
    adds; they are added up as if in phase, which they may be. ``signal`` is the output at the
    stated input, or where the first stage reaches its limit if that is less; 0 where none
    arrives. ``None``: not judged.
    """

    output: str
    ripple: float | None
    leakage: Mapping[str, float]
    signal: float

    @property
    def below_signal_db(self) -> float | None:
        """Ripple below the signal, decibels (positive is quieter); ``None`` where not judged."""
        if not self.ripple or not self.signal:
            return None
        return 20 * math.log10(self.signal / self.ripple)

    @property
    def leakage_below_signal_db(self) -> float | None:
        """The same for the assumed heater leakage of all sections together."""
        total = sum(self.leakage.values())
        return 20 * math.log10(self.signal / total) if total and self.signal else None


def hum(
    solution: Solution, signal: SignalSolution, leakage_ohm: float = LEAKAGE_OHM
) -> tuple[Hum, ...]:
    """Hum at each output of a solved signal solution of the same state.

    Nothing where there is no signal solution, or nothing in the drawing follows the mains.
    """
    try:
        linear = Linearised(solution.circuit, solution)
    except Unsolvable:
        return ()
    if not has_ac(linear.network):
        return ()
    outputs = {o.name: o for d in signal.sources.values() for o in d.outputs}
    return tuple(_hum(linear, o, leakage_ohm) for o in outputs.values())


def _hum(linear: Linearised, output: Output, leakage_ohm: float) -> Hum:
    peak = math.inf if output.undistorted is None else output.undistorted
    reached = abs(output.gain.mid) >= LEAST_GAIN
    return Hum(
        output.name,
        _ripple(linear.solution, output),
        _leakage(linear, output, leakage_ohm),
        min(output.volts, peak / math.sqrt(2)) if reached else 0.0,
    )


def _ripple(solution: Solution, output: Output) -> float | None:
    """AC rms at an output; at a speaker from its current, for its winding may float."""
    amps = solution.current(output.name)
    if output.load is not None and amps is not None:
        return amps.ac_rms * output.load
    across = solution.between(output.a, output.b)
    return None if across is None else across.ac_rms


def _leakage(linear: Linearised, output: Output, ohms: float) -> dict[str, float]:
    """Section -> rms volts at the output from its own heater, through ``ohms`` to its cathode.

    One solution of the transposed network gives the output's volts per ampere into every net.
    """
    frequency = mains_frequency(linear.circuit)
    away = linear.column({output.a: 1.0, output.b: -1.0})[:, None]
    reach: Complex = linear.solve(frequency, away, transposed=True)[:, 0]
    found = {}
    for tube in linear.sections:
        volts = _heater_volts(linear.solution, tube.section)
        row = linear.network.at(tube.section.cathode_nets[0])
        if volts is not None and row is not None:
            found[tube.section.name] = volts / ohms * float(abs(reach[row]))
    return found


def _heater_volts(solution: Solution, section: Section) -> float | None:
    """AC rms from the worse end of an indirectly heated tube's heater to its cathode."""
    tube = solution.circuit.tubes[section.tube]
    if tube.heater is None or tube.directly_heated or tube.type.cathode_heater:
        return None
    waves = [solution.between(net, section.cathode_nets[0]) for net in tube.heater.nets]
    return max((w.ac_rms for w in waves if w is not None), default=None)
