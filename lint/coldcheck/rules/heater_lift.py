"""How far a heater line may be lifted, and a divider that does it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.rules.places import net_text, ohms, preferred, reading, volts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Section, Tube
    from coldcheck.rules.heater_lines import HeaterLine
    from coldcheck.rules.model import Case
    from coldcheck.solve.solution import Solution

UPPER_OHMS = 220e3
"""Upper resistor of the suggested divider: about a milliampere from 300 V (common practice)."""

MARGIN = 0.9
"""A suggestion keeps this much of a limit."""


def lift_remedy(case: Case, line: HeaterLine, section: Section, sign: int) -> str:
    """What to do about a heater-cathode stress beyond its limit.

    ``sign`` is -1 where the heater is too low and +1 where it is too high.
    """
    low, high = lift_window(case, line)
    if low > high or (sign < 0 and case.warm.converged and high <= 0):
        return (
            f"No one lift suits all tubes on {line.name}: give {section.tube} a heater winding of "
            f"its own, tied near its cathode"
        )
    target = _target(case, section, low, high)
    if sign > 0 and low <= 0 and target < 5:
        return f"Tie {line.text} to gnd; nothing on it needs a lift"
    verb = "Lift" if sign < 0 else "Lower the lift of"
    return f"{verb} {line.text} to about {volts(target)}{_divider(case, target)}"


def lift_window(case: Case, line: HeaterLine) -> tuple[float, float]:
    """The lowest and the highest DC of the heater line that every tube on it stands (volts)."""
    low, high = -1e9, 1e9
    for solution in case.solved():
        for tube in line.tubes:
            for least, most in _bounds(tube, solution):
                low, high = max(low, least), min(high, most)
    return low, high


def _bounds(tube: Tube, solution: Solution) -> Iterator[tuple[float, float]]:
    for section in tube.sections:
        found = reading(solution, section)
        if found is None or found.heater_cathode_dc is None or found.cathode_v is None:
            continue
        dc = found.heater_cathode_dc
        heater_dc = found.cathode_v + dc
        down = (("heater-negative-peak", found.heater_cathode_low), ("heater-negative-dc", dc))
        up = (("heater-positive-peak", found.heater_cathode_high), ("heater-positive-dc", dc))
        least = [heater_dc - edge - _kept(tube, n) for n, edge in down if edge is not None]
        most = [heater_dc - edge + _kept(tube, n) for n, edge in up if edge is not None]
        yield max(least, default=-1e9), min(most, default=1e9)


def _kept(tube: Tube, name: str) -> float:
    limit = tube.type.rating(name)
    return 1e9 if limit is None else MARGIN * limit.value


def _target(case: Case, section: Section, low: float, high: float) -> float:
    """Half the cathode's voltage, kept inside the window."""
    found = reading(case.warm, section) if case.warm.converged else None
    half = (found.cathode_v or 0.0) / 2 if found is not None else 0.0
    return min(max(half, low, 0.0), max(high, 0.0))


def _divider(case: Case, target: float) -> str:
    """A worked divider from the highest steady point of the nominal state."""
    points = case.warm.waves if case.warm.converged else {}
    steady = {n: w.dc for n, w in points.items() if w.ac_rms < 0.1 * abs(w.dc)}
    top = max(steady, key=lambda n: steady[n], default=None)
    if top is None or target < 5 or steady[top] < 1.5 * target:
        return ""
    supply = steady[top]
    lower = preferred(UPPER_OHMS * target / (supply - target))
    got = supply * lower / (UPPER_OHMS + lower)
    name = net_text(case.circuit, top)
    return (
        f": {ohms(UPPER_OHMS)} over {ohms(lower)} from {name} ({volts(supply)}) gives "
        f"{volts(got)}, with a capacitor of 10 uF across the lower one"
    )
