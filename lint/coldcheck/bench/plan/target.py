"""Where an output tube's current is read, what it is to be, and where to stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.plan.bias import output_sections
from coldcheck.bench.plan.model import DC, Check
from coldcheck.bench.plan.rails import range_of
from coldcheck.bench.plan.tubes import cathode_point
from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.plan.bias import Adjuster
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.solution import Solution, TubeReading

ADJUSTED = 0.10
"""Either way of its target a bias is left at (common practice)."""

WHY = "above: the plate is beyond its rating"


def target(
    circuit: Circuit, section: Section, warm: Solution, found: Adjuster, mains: float
) -> Check | None:
    """The reading to set: at the cathode's resistor, else across the tube's half of the primary.

    The stop is where the plate reaches its rating: along the pot's travel where that was solved,
    else in proportion. ``None`` where no point shows the current, or no rating is on file.
    """
    rated = circuit.tubes[section.tube].type.rating("plate-dissipation", section.type.name)
    reading = warm.readings.get(section.name)
    if reading is None or rated is None or not reading.plate_w:
        return None
    cathode = section.cathode_nets[0]
    at_cathode = None if cathode == GROUND else range_of(warm, cathode)
    if at_cathode is None:
        return across_winding(circuit, section, warm, mains, off=ADJUSTED)
    limit = found.full_at(section.name, rated.value)
    volts = at_cathode[0]
    stop = limit[1] if limit else volts * rated.value / reading.plate_w
    return Check(
        cathode_point(section), GROUND, DC, volts, (1 - ADJUSTED) * volts, (1 + ADJUSTED) * volts,
        None, stop, WHY, mains=mains, note=_note(reading, rated.value),
    )  # fmt: skip


def currents(circuit: Circuit, solution: Solution, mains: float) -> Iterator[Check]:
    """Output tubes whose cathodes are on gnd: what their current drops across the primary."""
    for section in output_sections(circuit):
        if section.cathode_nets[0] == GROUND:
            check = across_winding(circuit, section, solution, mains)
            yield from () if check is None else (check,)


def across_winding(
    circuit: Circuit, section: Section, solution: Solution, mains: float, off: float | None = None
) -> Check | None:
    """The drop across the output winding that feeds a plate, plus or minus a share of it.

    Without a share the range is the solver's. Stop where the plate reaches its rating, its
    voltage taken to stay.
    """
    rated = circuit.tubes[section.tube].type.rating("plate-dissipation", section.type.name)
    reading = solution.readings.get(section.name)
    feed, plate = _winding_at(circuit, section), section.electrodes.get("plate", GROUND)
    found = None if feed is None else range_of(solution, feed, plate)
    if feed is None or found is None or rated is None or reading is None or not reading.plate_w:
        return None
    volts, low, high = found
    if off is not None:
        low, high = (1 - off) * volts, (1 + off) * volts
    return Check(
        shown_name(circuit, feed), f"{section.name}.plate", DC, volts, low, high, None,
        volts * rated.value / reading.plate_w, WHY, mains=mains, note=_note(reading, rated.value),
    )  # fmt: skip


def _note(reading: TubeReading, rated: float) -> str:
    share = 100 * reading.plate_w / rated
    return f"{reading.plate_ma:.1f} mA, {reading.plate_w:.3g} W: {share:.0f} % of its {rated:g} W"


def _winding_at(circuit: Circuit, section: Section) -> str | None:
    """The far end of the output winding that feeds a plate."""
    plate = section.electrodes["plate"]
    coils = [b for b in circuit.at(plate) if b.owner.split(".")[0] in circuit.outputs]
    return coils[0].other(plate) if coils else None
