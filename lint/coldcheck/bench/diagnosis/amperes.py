"""What a current should be, read by a meter in a lead that is lifted for it.

Of a resistor it is the voltage across it over its value, so its range is worked out from theirs;
of an electrode of a tube the solver has the spread. Of other parts the current is known and not
its range. The meter's own resistance is left out: an ohm or two on a range of milliamperes.
"""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from coldcheck.bench.chart.expected import Band
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.network import plain

if TYPE_CHECKING:
    from coldcheck.bench.chart.expected import Expected
    from coldcheck.circuit.model import Branch

MILLI = 1e-3
ELECTRODES = ("plate", "screen")


def expected_amps(expected: Expected, place: str) -> Band | None:
    """Through a part (``R7``) or an electrode (``V2.plate``), amperes, without its direction.

    ``None`` where it was not worked out.
    """
    branch = expected.circuit.branches.get(place)
    if branch is None:
        return _electrode(expected, place)
    current = expected.solution.current(place)
    if current is None:
        return None
    return Band.about(abs(current.dc), _branch_off(expected, branch, abs(current.dc)))


def _branch_off(expected: Expected, branch: Branch, amps: float) -> float | None:
    """Plus or minus how much, of a resistor whose ends have a spread."""
    volts, ohms = expected.between(branch.a, branch.b), plain(branch.value, "ohm", 0.0)
    if branch.kind is not PartKind.RESISTOR or not ohms or volts is None or volts.dc.off is None:
        return None
    stated = branch.part.tolerance if branch.part else None
    tolerance = expected.circuit.usual.resistor if stated is None else stated
    return hypot(volts.dc.off / ohms, tolerance * amps)


def _electrode(expected: Expected, place: str) -> Band | None:
    name, _, electrode = place.rpartition(".")
    reading, spread = expected.solution.readings.get(name), expected.spread
    if reading is None:
        return None
    amps = {"plate": reading.plate_ma * MILLI, "screen": reading.screen_ma * MILLI}
    if electrode in amps:
        off = None if spread is None else spread.current(name, electrode)
        return Band.about(amps[electrode], off)
    offs = [spread.current(name, e) for e in ELECTRODES if amps[e]] if spread else None
    return Band.about(sum(amps.values()), None if offs is None else sum(offs))
