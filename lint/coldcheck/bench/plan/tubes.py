"""Readings at the tubes with power on: grids, cathodes, screens, plates, and where to stop."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.plan.model import DC, Check
from coldcheck.bench.plan.places import output_tubes
from coldcheck.bench.plan.rails import range_of
from coldcheck.circuit.model import GROUND

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.plan.power import Rung
    from coldcheck.circuit.model import Circuit, Section

TUBE = "a wrong part, a bad tube, or a slip of wiring at this tube"
LEAST_MA, LEAST_VOLTS = 0.01, 0.05
"""Plate current below which a tube is not at work; cathode volts that say nothing."""

ON_THE_GRID = 0.5
"""Volts either way that a grid at rest may stand off 0 (common practice)."""


def grid_check(section: Section, rung: Rung, note: str = "") -> Check | None:
    """The grid of an output tube, with what comes to it from ahead."""
    net = section.electrodes["grid"]
    found = None if net == GROUND else range_of(rung.full, net)
    if found is None:
        return None
    volts, low, high = found
    why = "less negative: the tube draws more than the drawing intends"
    if abs(volts) < ON_THE_GRID:
        low, high = -ON_THE_GRID, ON_THE_GRID
        why = "positive: the coupling capacitor leaks and overheats the tube"
    return Check(
        f"{section.name}.grid", GROUND, DC, volts, low, high, low, high, why,
        mains=rung.volts, note=note,
    )  # fmt: skip


def tube_checks(circuit: Circuit, rung: Rung) -> Iterator[Check]:
    """Cathodes and plates of all tubes at work."""
    for section in circuit.sections():
        reading = rung.full.readings.get(section.name)
        if "grid" not in section.electrodes or reading is None or reading.plate_ma < LEAST_MA:
            continue
        if section.tube in output_tubes(circuit):
            grid = grid_check(section, rung)
            yield from () if grid is None else (grid,)
            yield from _plain(rung, section, "screen")
        yield from _cathode(circuit, rung, section)
        yield from _plain(rung, section, "plate")


def drawing_checks(circuit: Circuit, rung: Rung) -> Iterator[Check]:
    """What output tubes draw on the way up: no more than with all of their emission.

    Where their heaters are too cold for that the lower end is nothing.
    """
    for section in circuit.sections():
        reading = rung.full.readings.get(section.name)
        if reading is None or section.tube not in output_tubes(circuit):
            continue
        for check in _plain(rung, section, cathode_point(section).rpartition(".")[2]):
            why = "above: the tube draws more than it can have; its bias, or its grid's capacitor"
            yield replace(
                check, low=min(check.low or 0.0, 0.0), stop_below=None, why=why,
            )  # fmt: skip


def cathode_point(section: Section) -> str:
    """The lead to hold the meter to: the cathode, or the first end of a filament."""
    return f"{section.name}.{'cathode' if 'cathode' in section.electrodes else 'f1'}"


def _cathode(circuit: Circuit, rung: Rung, section: Section) -> Iterator[Check]:
    for check in _plain(rung, section, cathode_point(section).rpartition(".")[2]):
        watts = rung.full.readings[section.name].plate_w
        stop, note = dissipation(circuit, section, watts, check.expected or 0.0)
        if not stop:
            yield replace(check, note=note)
            continue
        why = "above: the plate is beyond its rating"
        yield replace(check, stop_below=check.low, stop_above=stop, why=why, note=note)


def _plain(rung: Rung, section: Section, electrode: str) -> Iterator[Check]:
    net = section.electrodes.get(electrode, GROUND)
    found = None if net == GROUND else range_of(rung.full, net)
    if found is not None and abs(found[0]) >= LEAST_VOLTS:
        volts, low, high = found
        yield Check(
            f"{section.name}.{electrode}", GROUND, DC, volts, low, high, low, high, TUBE,
            mains=rung.volts,
        )  # fmt: skip


def dissipation(
    circuit: Circuit, section: Section, watts: float, volts: float
) -> tuple[float | None, str]:
    """The cathode voltage at which an output tube's plate reaches its rating, and a note.

    The plate's voltage is taken to stay as it was worked out.
    """
    rated = circuit.tubes[section.tube].type.rating("plate-dissipation", section.type.name)
    if section.tube not in output_tubes(circuit):
        return None, ""
    if rated is None:
        return None, f"{watts:.2g} W on the plate; no rating on file"
    note = f"{watts:.3g} W on the plate, {100 * watts / rated.value:.0f} % of its {rated.value:g} W"
    usable = watts > 0 and volts > LEAST_VOLTS
    return (volts * rated.value / watts if usable else None), note
