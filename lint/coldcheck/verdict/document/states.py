"""The solved states, what the supply rails are, and the tubes that are at work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import feeds_others, is_own
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.rules.transistor.ratings import power_of
from coldcheck.solve.solution import COLD, WARM
from coldcheck.verdict.document.content import (
    Level,
    Reading,
    SectionTold,
    StateTold,
    TransistorTold,
)
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Section, Transistor
    from coldcheck.solve.solution import Solution, TubeReading, Wave
    from coldcheck.verdict.review import Review

RAIL_VOLTS = 20.0
"""A named point is taken for a supply rail from this much DC on, in volts."""


def state_told(solution: Solution) -> StateTold:
    """A state; one that did not converge has its reason and no number at all."""
    if not solution.converged:
        return StateTold(False, None, solution.reason)
    points, spread = solution.circuit.points, solution.spread()
    off = {n: None if spread is None else spread.volts(n) for n in solution.waves}
    known = {net: _level(wave, off[net]) for net, wave in solution.waves.items()}
    lost = {n: solution.why_lost(n) for n in solution.undefined if n not in known}
    return StateTold(
        True,
        rounded(solution.residual_a, 3),
        "",
        {p: known[net] for p, net in points.items() if net in known},
        {p: lost[net] for p, net in points.items() if net in lost},
        {name: _reading(r) for name, r in solution.readings.items()},
        {n: _transistor(q, solution) for n, q in solution.circuit.transistors.items()},
    )


def _level(wave: Wave, off: float | None) -> Level:
    return Level(
        rounded(wave.dc),
        rounded(off),
        rounded(wave.ac_rms),
        rounded(wave.low),
        rounded(wave.high),
    )


def _transistor(one: Transistor, solution: Solution) -> TransistorTold:
    across = solution.between(one.channel.a, one.channel.b)
    steering = solution.between(one.control.a, one.control.b)
    through, power = solution.current(one.channel.name), power_of(one, solution)
    rated, sign = one.type.figure("dissipation"), one.type.family.sign
    return TransistorTold(
        one.type.name,
        None if across is None else rounded(sign * across.dc),
        None if through is None else rounded(1e3 * through.dc),
        None if steering is None else rounded(sign * steering.dc),
        None if power is None else rounded(power.value),
        None if power is None or rated is None else rounded(power.value / rated.value),
    )


def _reading(reading: TubeReading) -> Reading:
    return Reading(
        plate_v=rounded(reading.plate_v),
        plate_ma=rounded(reading.plate_ma),
        screen_v=rounded(reading.screen_v),
        screen_ma=rounded(reading.screen_ma),
        grid_v=rounded(reading.grid_v),
        cathode_v=rounded(reading.cathode_v),
        plate_w=rounded(reading.plate_w),
        screen_w=rounded(reading.screen_w),
        peak_plate_ma=rounded(reading.peak_plate_ma),
        inverse_v=rounded(reading.inverse_v),
        heater_cathode_dc=rounded(reading.heater_cathode_dc),
        heater_cathode_worst=rounded(heater_cathode(reading)),
    )


def heater_cathode(reading: TubeReading) -> float | None:
    """The worst instant between heater and cathode with the sign of the heater, volts."""
    low, high = reading.heater_cathode_low, reading.heater_cathode_high
    if low is None or high is None:
        return None
    return low if -low > high else high


def sections_told(review: Review) -> tuple[SectionTold, ...]:
    """The sections that have a reading when warm, in the order of the drawing."""
    warm = _solved(review, WARM)
    if review.circuit is None or warm is None:
        return ()
    return tuple(_sections(review.circuit, warm))


def _sections(circuit: Circuit, warm: Solution) -> Iterator[SectionTold]:
    for section in circuit.sections():
        reading = warm.readings.get(section.name)
        if reading is not None:
            kind = circuit.tubes[section.tube].type
            share = _share(circuit, section, reading)
            yield SectionTold(section.name, kind.name, section.kind is SectionKind.RECTIFIER, share)


def _share(circuit: Circuit, section: Section, reading: TubeReading) -> float | None:
    kind = circuit.tubes[section.tube].type
    limit = kind.rating("plate-dissipation", section.type.name)
    return rounded(reading.plate_w / limit.value) if limit and limit.value else None


def _solved(review: Review, name: str) -> Solution | None:
    solution = review.solutions.get(name)
    return solution if solution is not None and solution.converged else None


def rails(review: Review) -> tuple[str, ...]:
    """Points that feed the circuit: named by the designer, well off gnd, and smoothed or fed.

    A plate's or a cathode's own point is no rail unless a large capacitor or a source holds it.
    """
    circuit = review.circuit
    states = [s for s in (_solved(review, WARM), _solved(review, COLD)) if s is not None]
    if circuit is None or not states:
        return ()
    found = []
    for net in circuit.names:
        name = _invented(circuit, net)
        dc = [abs(w.dc) for s in states if (w := s.waves.get(net)) is not None]
        if name and dc and max(dc) >= RAIL_VOLTS and feeds_others(circuit, net):
            found.append(name)
    return tuple(sorted(found, key=circuit.span))


def _invented(circuit: Circuit, net: str) -> str | None:
    """The first name on a net that the designer made up, if any.

    What a sheet calls a point of the drawing that uses it is not looked at.
    """
    names = circuit.names[net]
    if net in LANDMARKS or any(n in LANDMARKS for n in names):
        return None
    own = [n for n in names if "/" not in n] or names
    return next((n for n in own if is_own(n)), None)
