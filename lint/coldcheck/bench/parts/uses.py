"""The most each part sees in any state: the figures that the rules judge it by, with the state.

All are at rest, without the signal, but for a speaker's watts: those it can get.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, assert_never

import numpy as np

from coldcheck.anatomy.jacks import jacks
from coldcheck.bench.parts.items import Sort
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.units import si
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.use import Use, most
from coldcheck.records import dataclass
from coldcheck.rules.capacitor.margin import full_swing
from coldcheck.rules.capacitor.over_voltage import worst_peak, worst_rms
from coldcheck.rules.capacitor.ripple import ripple
from coldcheck.rules.output.core import in_primary
from coldcheck.rules.output.speaker import speaker_watts
from coldcheck.rules.resistor.controls import track_amps
from coldcheck.rules.resistor.ratings import LASTING, dissipation
from coldcheck.rules.supply.coils import HEATER_V, delivered, direct, winding_rms
from coldcheck.rules.supply.fuses import when_blown
from coldcheck.rules.supply.shorts import heat
from coldcheck.rules.supply.switch import power_switches, used
from coldcheck.rules.transistor.ratings import across, power_of, through
from coldcheck.rules.tube.rating_checks import in_force
from coldcheck.solve.solution import COLD, HIGH, LOW, STANDBY, WARM

if TYPE_CHECKING:
    from coldcheck.anatomy.case import Case
    from coldcheck.bench.parts.items import Item
    from coldcheck.circuit.model import Branch, Bridge, Circuit, Transistor, Tube
    from coldcheck.solve.solution import Solution, TubeReading

RUNNING = (COLD, WARM, HIGH, LOW, STANDBY)
"""Every kind of state with all tubes in their sockets, the way to warm apart."""

NOMINAL = (WARM, STANDBY)
"""A winding's rating is for the mains as they should be."""


@dataclass(frozen=True, slots=True)
class Uses:
    """The most of each, with the state it is in; ``None`` where it has no number or no meaning."""

    volts: Use | None = None
    watts: Use | None = None
    amps: Use | None = None


def uses(case: Case, item: Item) -> Uses:
    """What one part sees."""
    match item.sort:
        case Sort.TUBE:
            return _of_tube(case, item.name)
        case Sort.TRANSISTOR:
            return _of_transistor(case, case.circuit.transistors[item.name])
        case Sort.TRANSFORMER:
            return _of_winding(case, item.name)
        case Sort.COIL:
            return _of_coil(case, item.name)
        case Sort.OUTPUT:
            return Uses(amps=most(case, RUNNING, partial(_primary, case.circuit, item.name)))
        case Sort.SWITCH:
            return _of_switch(case, item.name)
        case Sort.CONTROL:
            return _of_pot(case, item)
        case Sort.JACK:
            return _of_jack(case, item.name)
        case Sort.DIODE if item.name in case.circuit.bridges:
            return _of_block(case, case.circuit.bridges[item.name])
        case _:
            return _of_branch(case, item.sort, case.circuit.branches[item.name])


def _of_branch(case: Case, sort: Sort, branch: Branch) -> Uses:
    match sort:
        case Sort.RESISTOR:
            return Uses(most(case, (), partial(_peak, branch)), _most_heat(case, branch))
        case Sort.ELECTROLYTIC:
            return Uses(_most_volts(case, branch), amps=_most_ripple(case, branch))
        case Sort.CAPACITOR:
            return Uses(_most_volts(case, branch))
        case Sort.AC_CAPACITOR:
            return Uses(worst_rms(case, branch))
        case Sort.DIODE:
            inverse = most(case, (), partial(_inverse, branch))
            return Uses(inverse, amps=most(case, RUNNING, partial(_mean, branch)))
        case Sort.LED:
            return Uses(amps=most(case, RUNNING, partial(_mean, branch)))
        case Sort.ZENER:
            return Uses(
                watts=most(case, RUNNING, partial(_zener, case, branch)),
                amps=most(case, RUNNING, partial(_mean, branch)),
            )
        case Sort.CHOKE:
            volts = most(case, RUNNING, partial(_to_core, (branch.a, branch.b)))
            return Uses(volts, amps=most(case, RUNNING, partial(direct, branch)))
        case Sort.FUSE | Sort.FAST_FUSE:
            return Uses(_blown(case, branch), amps=most(case, RUNNING, partial(_rms, branch)))
        case Sort.THYRISTOR:
            volts = most(case, RUNNING, partial(_peak, branch))
            return Uses(volts, amps=most(case, RUNNING, partial(_rms, branch)))
        case Sort.LAMP | Sort.THERMISTOR | Sort.METER | Sort.BARRETTER | Sort.PHOTOCELL:
            volts = most(case, RUNNING, partial(_rms_volts, branch))
            watts = most(case, RUNNING, partial(_power, branch))
            return Uses(volts, watts, most(case, RUNNING, partial(_rms, branch)))
        case Sort.ARRESTER | Sort.CRYSTAL:
            return Uses(most(case, RUNNING, partial(_peak, branch)))
        case Sort.SPEAKER:
            return Uses(watts=_speaker(case, branch))
        case Sort.SOURCE:
            return Uses(amps=most(case, RUNNING, partial(_mean, branch)))
        case (
            Sort.CONTROL | Sort.TRANSFORMER | Sort.OUTPUT | Sort.COIL | Sort.TUBE
            | Sort.SWITCH | Sort.JACK | Sort.TRANSISTOR
        ):  # fmt: skip
            return Uses()  # told above, by name
        case _:
            assert_never(sort)


def _most_volts(case: Case, branch: Branch) -> Use | None:
    """At rest, or at the top of a full swing where it hangs on a plate that swings freely."""
    rest, swung = worst_peak(case, branch), full_swing(case, branch)
    if swung is None or (rest is not None and rest.figure.value >= swung):
        return rest
    return Use(figure(swung, "V"), FULL_OUTPUT)


FULL_OUTPUT = "full output"


def _most_ripple(case: Case, branch: Branch) -> Use | None:
    return most(case, (WARM, HIGH), partial(ripple, branch))


def _most_heat(case: Case, branch: Branch) -> Use | None:
    def watts(solution: Solution) -> Figure | None:
        power = dissipation(solution, branch)
        return None if power is None else figure(power, "W")

    return most(case, LASTING, watts)


def _speaker(case: Case, speaker: Branch) -> Use | None:
    """What it gets as the rule reckons it, or what the stages give before they clip, if more.

    Somebody turns the control up. Without a signal nothing is known but what it gets at rest.
    """
    ohm, signal = speaker.ohms, case.signal
    if not ohm or signal is None or not signal.solved:
        return None
    outputs = [o for d in signal.sources.values() for o in d.outputs if o.name == speaker.name]
    most_v = max((o.undistorted or 0.0 for o in outputs), default=0.0)
    watts = max(speaker_watts(case, speaker, ohm), most_v**2 / 2 / ohm)
    return Use(figure(watts, "W"), WARM)


def _peak(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(branch.a, branch.b)
    return None if wave is None else figure(wave.peak, "V")


def _inverse(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(branch.b, branch.a)
    return None if wave is None else figure(max(wave.high, 0.0), "V")


def _mean(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.current(branch.name)
    return None if wave is None else figure(abs(wave.dc), "A")


def _rms(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.current(branch.name)
    return None if wave is None else figure(wave.rms, "A")


def _rms_volts(branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(branch.a, branch.b)
    return None if wave is None else figure(wave.rms, "V")


def _power(branch: Branch, solution: Solution) -> Figure | None:
    across, through = solution.between(branch.a, branch.b), solution.current(branch.name)
    if across is None or through is None:
        return None
    return figure(abs(float(np.mean(across.samples * through.samples))), "W")


def _zener(case: Case, branch: Branch, solution: Solution) -> Figure | None:
    power = heat(case, solution, branch)
    return None if power is None else figure(power, "W")


def _blown(case: Case, fuse: Branch) -> Use | None:
    found = when_blown(case, fuse) if any(True for _ in case.solved()) else None
    return None if found is None else Use(figure(found[0], "V"), found[1])


def _to_core(nets: tuple[str, ...], solution: Solution) -> Figure | None:
    waves = [w for net in nets if (w := solution.wave(net)) is not None]
    return figure(max(w.peak for w in waves), "V") if waves else None


def _of_winding(case: Case, name: str) -> Uses:
    winding = next(w for w in case.circuit.windings() if w.name == name)
    high = not winding.primary and (si(winding.volts, "volt") or 0.0) > HEATER_V
    measure = delivered if high else winding_rms
    volts = None if winding.primary else most(case, RUNNING, partial(_to_core, winding.nets))
    return Uses(volts, amps=most(case, NOMINAL, partial(measure, winding)))


def _of_coil(case: Case, name: str) -> Uses:
    coil = next(c for c in case.circuit.coils() if c.name == name)
    each = [most(case, RUNNING, partial(direct, branch)) for _, branch in coil.parts]
    amps = max((u for u in each if u is not None), key=lambda u: u.figure.value, default=None)
    return Uses(most(case, RUNNING, partial(_to_core, coil.nets)), amps=amps)


def _primary(circuit: Circuit, name: str, solution: Solution) -> Figure | None:
    found = in_primary(circuit.outputs[name], solution)
    return figure(max(map(abs, found.values())), "A") if found else None


def _of_switch(case: Case, name: str) -> Uses:
    contacts = [b for b in case.circuit.branches.values() if b.owner == name and b.traits.by_hand]
    if not contacts or not any(True for _ in case.solved()):
        return Uses()
    use = used(case, contacts)
    volts = Use(figure(use.dc_v, "V"), use.dc_state) if use.dc_state else None
    if on_mains(case, name):
        mains = si(case.circuit.mains.voltage, "volt") if case.circuit.mains else None
        volts = None if mains is None else Use(figure(mains, "V"), "mains")
    amps = Use(figure(use.amps, "A"), use.amps_state) if use.amps_state else None
    return Uses(volts, amps=amps)


def on_mains(case: Case, name: str) -> bool:
    """Whether a switch is one of the mains, and so breaks AC."""
    return name in power_switches(case)


def _of_pot(case: Case, item: Item) -> Uses:
    track = [b for b in case.circuit.branches.values() if b.owner == item.name]
    volts = [u for b in track if (u := most(case, (), partial(_peak, b))) is not None]

    def watts(solution: Solution) -> Figure | None:
        amps = track_amps(track, solution)
        return None if amps is None or not item.size else figure(amps.value**2 * item.size, "W")

    return Uses(
        max(volts, key=lambda u: u.figure.value, default=None),
        most(case, (WARM, HIGH, STANDBY), watts),
    )


def _of_block(case: Case, block: Bridge) -> Uses:
    """The most any of its diodes blocks; the DC that leaves it at plus."""

    def inverse(solution: Solution) -> Figure | None:
        known = [f for d in block.diodes if (f := _inverse(d, solution)) is not None]
        return max(known, key=lambda f: f.value, default=None)

    def direct_out(solution: Solution) -> Figure | None:
        known = [_mean(d, solution) for d in block.diodes[:2]]
        return figure(sum(f.value for f in known if f is not None), "A") if all(known) else None

    return Uses(most(case, (), inverse), amps=most(case, RUNNING, direct_out))


def _of_transistor(case: Case, one: Transistor) -> Uses:
    return Uses(
        most(case, (), partial(across, one)),
        most(case, RUNNING, partial(power_of, one)),
        most(case, RUNNING, partial(through, one)),
    )


def _of_jack(case: Case, name: str) -> Uses:
    jack = next((j for j in jacks(case.circuit) if j.name == name), None)

    def volts(solution: Solution) -> Figure | None:
        wave = None if jack is None else solution.between(jack.tip, jack.sleeve)
        return None if wave is None else figure(wave.rms, "V")

    return Uses(most(case, RUNNING, volts))


def _of_tube(case: Case, name: str) -> Uses:
    """In the states for which a rating is meant; the inverse volts of a rectifier in any."""
    tube = case.circuit.tubes[name]

    def volts(solution: Solution) -> Figure | None:
        known = [r.plate_v for r in _readings(tube, solution) if r.plate_v is not None]
        return figure(max(known), "V") if known and in_force(tube, solution) else None

    def inverse(solution: Solution) -> Figure | None:
        known = [r.inverse_v for r in _readings(tube, solution)]
        return figure(max(known), "V") if known else None

    def watts(solution: Solution) -> Figure | None:
        known = [r.plate_w for r in _readings(tube, solution)]
        return figure(max(known), "W") if known and in_force(tube, solution) else None

    rectifies = any(s.kind is SectionKind.RECTIFIER for s in tube.sections)
    return Uses(most(case, (), inverse if rectifies else volts), most(case, (), watts))


def _readings(tube: Tube, solution: Solution) -> list[TubeReading]:
    return [r for s in tube.sections if (r := solution.readings.get(s.name)) is not None]
