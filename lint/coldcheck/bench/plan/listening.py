"""The last steps with power: what is heard without a signal, and what comes through with one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.plan.bias import output_sections
from coldcheck.bench.plan.model import AC, Check, Step
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.solve.signal.small_signal import small_signal

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.signal.results import Driven
    from coldcheck.solve.solution import Solution

HUM_TIMES, HUM_LEAST = 3.0, 0.01
"""Hum up to which nothing is looked for: times what was worked out, and volts (common practice;
heaters, stray fields and unequal tubes are not in the drawing)."""

GAIN_OFF = 1.4
"""Times, either way, that an amplified signal may be (common practice)."""

HEARD_V = 5e-3
"""Volts below which a meter tells no signal from what else is about (common practice)."""

SMALL = 0.1
"""Of a plate's direct volts: what a signal may swing it for the straight line to hold."""


def listening_steps(circuit: Circuit, warm: Solution, mains: float) -> Iterator[Step]:
    """Hum across what the output drives, then a signal along its way; nothing without an output."""
    ends = [(o.name, o.secondary_leads[0], o.secondary_leads[-1]) for o in circuit.outputs.values()]
    hum = [c for name, a, b in ends if (c := _hum(warm, name, a, b, mains)) is not None]
    if hum:
        do = (
            "No signal, the volume at its lowest, then turned up: a hum that grows with it comes "
            "from ahead of the control.",
            "At twice the mains' frequency: a filter capacitor or unequal tubes; at the mains' "
            "frequency: heaters, wiring, one half of a rectifier out.",
        )
        yield Step("hum", "Power on: hum", True, (), do, tuple(hum))
    driven = _driven(circuit, warm)
    if driven is not None:
        yield from _signal(circuit, warm, driven, mains)


def _hum(
    warm: Solution, name: str, a: tuple[str, str, float], b: tuple[str, str, float], mains: float
) -> Check | None:
    wave = warm.between(a[1], b[1])
    if wave is None:
        return None
    most = max(HUM_TIMES * wave.ac_rms, HUM_LEAST)
    return Check(
        f"{name}.{a[0]}", f"{name}.{b[0]}", AC, wave.ac_rms, 0.0, most, None, most,
        "hum that the drawing does not account for", mains=mains,
    )  # fmt: skip


def _driven(circuit: Circuit, warm: Solution) -> Driven | None:
    """The circuit with its first source."""
    found = small_signal(circuit, warm, (1000.0,))
    return next(iter(found.sources.values())) if found is not None and found.sources else None


def _signal(circuit: Circuit, warm: Solution, driven: Driven, mains: float) -> Iterator[Step]:
    at = driven.place
    volts = {net: complex(share[at]) * driven.volts for net, share in driven.response.items()}
    share = _share(circuit, warm, volts)
    checks = [
        _through(point, other, share * abs(volts.get(net, 0.0) - volts.get(to, 0.0)), mains)
        for point, net, other, to in _places(circuit)
    ]
    checks = [c for c in checks if (c.expected or 0.0) >= HEARD_V]
    if not checks:
        return
    do = (
        f"The generator on {driven.source}: {engineering(share * driven.volts, 'V')} rms, "
        f"{engineering(driven.frequency, 'Hz')}, behind a capacitor; every control as drawn, the "
        "load on.",
        "Where the signal is lost the trouble is between that point and the one before. A point at "
        "high voltage is read through the AC range of a meter that stands it, clipped on "
        "beforehand.",
    )
    yield Step("signal", "Power on: the way of a signal", True, (), do, tuple(checks))


def _share(circuit: Circuit, warm: Solution, volts: dict[str, complex]) -> float:
    """Of the drawn signal, in tens, that swings no plate further than a straight line holds."""
    share = 1.0
    for section in circuit.sections():
        plate = section.electrodes.get("plate")
        wave = warm.waves.get(plate) if plate is not None else None
        if plate is None or wave is None or "grid" not in section.electrodes:
            continue
        while share > 1e-4 and share * abs(volts.get(plate, 0.0)) > SMALL * abs(wave.dc):
            share /= 10
    return share


def _places(circuit: Circuit) -> Iterator[tuple[str, str, str, str]]:
    """The grids of output tubes, and what the output drives: point and net, other and net."""
    for section in output_sections(circuit):
        net = section.electrodes["grid"]
        if net != GROUND:
            yield f"{section.name}.grid", net, shown_name(circuit, GROUND), GROUND
    for output in circuit.outputs.values():
        (a, net, _), *_, (b, to, _) = output.secondary_leads
        yield f"{output.name}.{a}", net, f"{output.name}.{b}", to


def _through(point: str, other: str, volts: float, mains: float) -> Check:
    low, high = volts / GAIN_OFF, volts * GAIN_OFF
    why = "a stage with another gain: its tube, a cathode capacitor, a value"
    return Check(
        point, other, AC, volts, low, high, low, None, why, mains=mains, note="with signal"
    )
