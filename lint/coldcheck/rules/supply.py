"""Supply rules: rectifiers, their first capacitor, and the charge left after switch-off."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.rules.model import Rule, rule
from coldcheck.rules.numbers import unsolved
from coldcheck.rules.places import (
    E12,
    certainty,
    cited,
    listed,
    ohms,
    si,
    volts,
)
from coldcheck.rules.rectifiers import feeds, first_capacitors, least_ohms, rectifier_tubes
from coldcheck.rules.supply_charge import no_bleeder
from coldcheck.rules.supply_current import choke_below_critical, regulator_current
from coldcheck.rules.supply_return import open_rectifier
from coldcheck.rules.supply_shorts import (
    switch_ahead_of_rectifier,
    winding_shorted,
    zener_overload,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Tube
    from coldcheck.rules.model import Case, Finding, Outcome
    from coldcheck.solve.solution import Solution

DIODE_VOLTS = {
    "1N4001": 50.0,
    "1N4002": 100.0,
    "1N4003": 200.0,
    "1N4004": 400.0,
    "1N4005": 600.0,
    "1N4006": 800.0,
    "1N4007": 1000.0,
    "UF4007": 1000.0,
}
CONDUCTS_V = 0.3
DIODE_SOURCE = "JEDEC registration of the 1N4001 to 1N4007 (memory)"
DIRECT = ("rectifier-current", "direct current")
PEAK = ("peak-plate-current", "peak current a plate")
RUNNING = ("warm", "high line", "low line", "standby")


@rule(
    "supply.first-capacitor-too-large",
    title="First capacitor too large for the rectifier tube",
    level="notice",
    states="the drawing alone",
    needs="the value of the capacitor on the rectifier's cathode and the tube's limit on file",
    criterion="The capacitance right at the rectifier's output is more than its data sheet allows.",
    why=(
        "At every peak of the mains the tube refills this capacitor in one gulp. A larger one "
        "makes the gulp taller, most of all when a hot tube meets an empty capacitor, and the "
        "cathode coating is torn off or the tube arcs."
    ),
    source="the rectifier's data sheet",
)
def first_capacitor_too_large(case: Case) -> Iterator[Outcome]:
    """Compare the capacitance on each rectifier's output with its limit."""
    for tube, section in rectifier_tubes(case.circuit):
        found = first_capacitors(case.circuit, section)
        limit = tube.type.rating("first-capacitor")
        if limit is None:
            if found:
                reason = f"no limit for the first capacitor of {tube.type.name} is on file"
                yield first_capacitor_too_large.not_judged((tube.name,), reason)
            continue
        farads = sum(f for _, f in found)
        if farads > limit.value * 1.001:
            names = tuple(b.name for b, _ in found)
            yield first_capacitor_too_large.finding(
                case,
                (*names, tube.name),
                f"{engineering(farads, 'F')} ({listed(names)}) stands right on the output of "
                f"{tube.name}; type {tube.type.name} takes {engineering(limit.value, 'F')} at most",
                f"Use {engineering(limit.value, 'F')} or less there and put the rest behind a "
                "choke or a resistor",
                evidence={"capacitance_uf": farads * 1e6, "limit_uf": limit.value * 1e6},
                certainty="certain",
                source=cited(limit),
                excess=farads / limit.value,
            )


@rule(
    "supply.source-resistance-too-small",
    title="Too little resistance between the mains and the rectifier's plates",
    level="notice",
    states="the drawing alone",
    needs="winding resistances (primary and high voltage) and the data sheet's table",
    criterion=(
        "Winding resistance per plate, plus the primary's resistance times the square of the "
        "turns ratio, plus any series resistor, is less than the data sheet asks for at that "
        "plate voltage."
    ),
    why=(
        "With a capacitor as the first filter part only this resistance limits the charging "
        "peaks. A stout modern transformer or the bare mains has less of it than the tube's "
        "makers counted on."
    ),
    source="the rectifier's data sheet",
)
def source_resistance_too_small(case: Case) -> Iterator[Outcome]:
    """Compare each plate's feed with the least resistance of the data sheet."""
    for tube, section in rectifier_tubes(case.circuit):
        table = tube.type.supply_resistance
        if not table or not first_capacitors(case.circuit, section):
            continue
        for feed in feeds(case.circuit, section):
            least = least_ohms(table, feed.volts)
            if feed.ohms >= least * 0.98:
                continue
            if feed.unknown:
                yield source_resistance_too_small.not_judged(
                    (tube.name,),
                    f"the resistance of {listed(feed.unknown)} is not written; {tube.type.name} "
                    f"wants {ohms(least)} a plate at {volts(feed.volts)}",
                )
                break
            missing = least - feed.ohms
            yield source_resistance_too_small.finding(
                case,
                (tube.name,),
                f"the plates of {tube.name} see {ohms(feed.ohms)} of supply resistance; type "
                f"{tube.type.name} wants at least {ohms(least)} a plate at {volts(feed.volts)}",
                f"Put about {ohms(_next_e12(missing))} in series with each plate",
                evidence={
                    "supply_ohm": feed.ohms,
                    "limit_ohm": least,
                    "plate_rms_v": feed.volts,
                },
                source=tube.type.supply_resistance_source or None,
                excess=least / max(feed.ohms, 1e-3),
            )
            break


@rule(
    "supply.inverse-voltage",
    title="Rectifier asked to block more than it can",
    level="notice",
    states="every solved state; high line is usually the worst",
    needs="a solved state and the inverse rating of the tube or diode",
    criterion="The largest reverse voltage over a mains cycle exceeds the peak inverse rating.",
    why=(
        "In the half cycle in which it does not conduct, a rectifier holds off the winding's "
        "peak on top of the charged capacitor. If it breaks down it shorts the winding and puts "
        "AC on the filter capacitors."
    ),
    source="the rectifier's data sheet",
)
def inverse_voltage(case: Case) -> Iterator[Outcome]:
    """Compare reverse peaks with ratings, tubes first, then diodes."""
    diodes = [b for b in case.circuit.branches.values() if b.kind == "diode"]
    names = (*(t.name for t, _ in rectifier_tubes(case.circuit)), *(d.name for d in diodes))
    reason = unsolved(case)
    if reason is not None:
        if names:
            yield inverse_voltage.not_judged(names, reason)
        return
    yield from _tube_inverse(case)
    for diode in diodes:
        yield from _diode_inverse(case, diode)


def _tube_inverse(case: Case) -> Iterator[Outcome]:
    for tube, section in rectifier_tubes(case.circuit):
        limit = tube.type.rating("inverse-voltage")
        if limit is None:
            reason = f"no peak inverse voltage of {tube.type.name} is on file"
            yield inverse_voltage.not_judged((tube.name,), reason)
            continue
        for solution in case.solved():
            reading = solution.readings.get(section.name)
            if reading is not None and reading.inverse_v > limit.value:
                peak = reading.inverse_v
                yield _inverse(case, solution, tube.name, peak, limit.value, cited(limit))


def _diode_inverse(case: Case, diode: Branch) -> Iterator[Outcome]:
    limit, source = _diode_rating(diode)
    for solution in case.solved():
        wave = solution.between(diode.b, diode.a)
        if wave is None:
            continue
        if limit is None:
            if solution.state.kind == "warm" and wave.high > 1:
                text = f"no inverse voltage rating; it blocks {volts(wave.high)}"
                yield inverse_voltage.not_judged((diode.name,), text)
        elif wave.high > limit:
            yield _inverse(case, solution, diode.name, wave.high, limit, source)


def _diode_rating(diode: Branch) -> tuple[float | None, str]:
    part = diode.part
    if part is None:
        return None, ""
    if part.voltage is not None:
        return si(part.voltage, "volt"), "the rating written on the drawing"
    return DIODE_VOLTS.get((part.type or "").upper()), DIODE_SOURCE


def _inverse(
    case: Case, solution: Solution, name: str, peak: float, limit: float, source: str
) -> Finding:
    return inverse_voltage.finding(
        case,
        (name,),
        f"{name} has to block {volts(peak)} and is rated {volts(limit)}",
        _never_conducts(case, name)
        + f"Use one rated {volts(_round_up(peak * 1.25))} or more, or two in series",
        state=solution.state.name,
        evidence={"inverse_peak_v": peak, "limit_v": limit},
        certainty=certainty(peak / limit),
        source=source,
        excess=peak / limit,
    )


def _never_conducts(case: Case, name: str) -> str:
    """A word about the direction of a diode that no state makes conduct."""
    diode = case.circuit.branches.get(name)
    if diode is None or diode.kind != "diode":
        return ""
    waves = [s.between(diode.a, diode.b) for s in case.solved()]
    if any(w is not None and w.high > CONDUCTS_V for w in waves):
        return ""
    return f"Look at its direction first: as drawn {name} never conducts. "


@rule(
    "supply.rectifier-overload",
    title="Rectifier tube overloaded",
    level="notice",
    states="warm, high line, low line and standby",
    needs="a solved state and the tube's current ratings",
    criterion=(
        "The direct current through the tube exceeds its rating, or the peak current of one "
        "plate exceeds the steady-state peak rating."
    ),
    why=(
        "The coating of the cathode can give only so much current. Asked for more it sags, "
        "overheats the plates and fails early, often with an arc."
    ),
    source="the rectifier's data sheet",
)
def rectifier_overload(case: Case) -> Iterator[Outcome]:
    """Compare the mean and the peak current with their ratings."""
    reason = unsolved(case)
    names = tuple(t.name for t, _ in rectifier_tubes(case.circuit))
    if reason is not None and names:
        yield rectifier_overload.not_judged(names, reason)
    for tube, section in rectifier_tubes(case.circuit):
        mean = {
            s.state.name: s.readings[section.name].plate_ma / 1000
            for s in case.solved(*RUNNING)
            if section.name in s.readings
        }
        peak = {n: case.solutions[n].readings[section.name].peak_plate_ma / 1000 for n in mean}
        plates = tuple(f"{section.name}.{p}" for p in section.plates)
        yield from _over(case, tube, (tube.name,), mean, DIRECT)
        yield from _over(case, tube, (tube.name, *plates), peak, PEAK)


def _over(
    case: Case, tube: Tube, at: tuple[str, ...], amps: dict[str, float], what: tuple[str, str]
) -> Iterator[Outcome]:
    """Compare a current in every state (amperes) with the rating named in ``what``."""
    rating, words = what
    limit = tube.type.rating(rating)
    if limit is None:
        reason = f"no limit of the {words} of {tube.type.name} is on file"
        yield rectifier_overload.not_judged((tube.name,), reason)
        return
    for state, value in amps.items():
        excess = value / limit.value
        if excess > 1:
            yield rectifier_overload.finding(
                case,
                at,
                f"the {words} of {tube.name} is {engineering(value, 'A')}; type "
                f"{tube.type.name} is rated {engineering(limit.value, 'A')}",
                "Draw less current, add supply resistance or a choke, or use a bigger rectifier",
                state=state,
                evidence={"current_ma": value * 1000, "limit_ma": limit.value * 1000},
                certainty=certainty(excess),
                source=cited(limit),
                excess=excess,
            )


def _next_e12(number: float) -> float:
    decade = 10.0 ** math.floor(math.log10(number))
    steps = [*(s / 10 * decade for s in E12), 10 * decade]
    return min(s for s in steps if s >= number * 0.9999)


def _round_up(number: float) -> float:
    return float(100 * math.ceil(number / 100))


RULES: tuple[Rule, ...] = (
    first_capacitor_too_large,
    source_resistance_too_small,
    inverse_voltage,
    rectifier_overload,
    no_bleeder,
    open_rectifier,
    choke_below_critical,
    regulator_current,
    winding_shorted,
    switch_ahead_of_rectifier,
    zener_overload,
)
