"""Supply rules: rectifiers, their first capacitor, and the charge left after switch-off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import rectifiers
from coldcheck.anatomy.rectifiers import feeds, first_capacitors, least_ohms, rectifier_tubes
from coldcheck.circuit.preferred import preferred_above
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section, Tube
    from coldcheck.judge.finding import Outcome
    from coldcheck.solve.solution import TubeReading

DIRECT = ("rectifier-current", "direct current")
PEAK = ("peak-plate-current", "peak current a plate")
WITHIN = Threshold(
    "share of the least supply resistance that is enough", 0.9, "",
    Citation("practice", "resistances of windings are known to a tenth"),
)  # fmt: skip
DOUBTFUL = Threshold(
    "times the largest first capacitor up to which it is advice",
    2.2,
    "",
    Citation("practice", "the next preferred value above twice; charging peaks are judged apart"),
)

PEAK_DOUBT = Threshold(
    "times the peak rating up to which it is advice", 1.15, "",
    Citation("arithmetic", "peaks from 128 instants a cycle may be 14 % high"),
)  # fmt: skip

BY_A_HAIR = Threshold(
    "times the rated direct current up to which it is advice", 1.05, "",
    Citation("practice", "what the tubes draw is not known closer"),
)  # fmt: skip

RUNNING = ("warm", "high line", "low line", "standby")


@rule(
    "supply.first-capacitor-too-large",
    title="First capacitor too large for the rectifier tube",
    level="notice",
    states="the drawing alone",
    needs="the value of the capacitor on the rectifier's cathode and the tube's limit on file",
    criterion="The capacitance right at the rectifier's output is more than its data sheet allows: "
    "advice up to 2.2 times that, since the charging peaks are judged by themselves.",
    why=(
        "At every peak of the mains the tube refills this capacitor in one gulp. A larger one "
        "makes the gulp taller, most of all when a hot tube meets an empty capacitor, and the "
        "cathode coating is torn off or the tube arcs."
    ),
    source=Citation("type-sheet"),
    limits=(
        "Only the makers' largest values and the peak current of the settled cycle are "
        "compared; the surge at a hot restart depends on when the cathode cools and is not "
        "computed. A type without a figure on file is not judged."
    ),
    thresholds=(
        rectifiers.BLEEDER_OHM,
        rectifiers.FILAMENT_V,
        rectifiers.HIGH_V,
        rectifiers.NEAR_OHM,
        DOUBTFUL,
    ),
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
                evidence={"capacitance": figure(farads, "F")},
                limit=figure(limit.value, "F"),
                certainty="certain",
                source=limit.cited,
                level="advice" if farads <= DOUBTFUL.value * limit.value else None,
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
        "plate voltage. Advice where the solved charging peaks are within the rating "
        f"of the peak current, for which the sheet asks for it, or up to {PEAK_DOUBT.value:g} "
        "times that."
    ),
    why=(
        "With a capacitor as the first filter part only this resistance limits the charging "
        "peaks. A stout modern transformer or the bare mains has less of it than the tube's "
        "makers counted on."
    ),
    source=Citation("type-sheet"),
    limits=(
        "The transformer's resistance is what the drawing states; leakage inductance, which "
        "helps, is left out. Where a winding's resistance is not written the rule cannot "
        "judge."
    ),
    thresholds=(
        WITHIN,
        PEAK_DOUBT,
        rectifiers.BLEEDER_OHM,
        rectifiers.FILAMENT_V,
        rectifiers.HIGH_V,
        rectifiers.NEAR_OHM,
        rectifiers.SERIES_OHM,
    ),
)
def source_resistance_too_small(case: Case) -> Iterator[Outcome]:
    """Compare each plate's feed with the least resistance of the data sheet."""
    for tube, section in rectifier_tubes(case.circuit):
        table, sheet = tube.type.supply_resistance, tube.type.supply_resistance_source
        if not table or not first_capacitors(case.circuit, section):
            continue
        for feed in feeds(case.circuit, section):
            least = least_ohms(table, feed.volts)
            if feed.ohms >= least * WITHIN.value:
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
                f"Put about {ohms(preferred_above(missing))} in series with each plate",
                evidence={
                    "supply": figure(feed.ohms, "ohm"),
                    "plate_rms": figure(feed.volts, "V"),
                },
                limit=figure(least, "ohm"),
                source=sheet.cited if sheet else None,
                level="advice" if _peak_stands(case, tube, section) else None,
                excess=least / max(feed.ohms, 1e-3),
            )
            break


def _peak_stands(case: Case, tube: Tube, section: Section) -> bool:
    """Whether the charging peak, which the resistance is there for, is within its rating."""
    peak = tube.type.rating("peak-plate-current")
    if peak is None or unsolved(case):
        return False
    found = [s.readings[section.name] for s in case.solved() if section.name in s.readings]
    return bool(found) and _peak_ma(found) / 1e3 <= PEAK_DOUBT.value * peak.value


def _peak_ma(found: list[TubeReading]) -> float:
    return max(r.peak_plate_ma for r in found)


@rule(
    "supply.rectifier-overload",
    title="Rectifier tube overloaded",
    level="notice",
    states="warm, high line, low line and standby",
    needs="a solved state and the tube's current ratings",
    criterion=(
        "The direct current through the tube exceeds its rating: advice up to "
        f"{BY_A_HAIR.value:g} times that; or the peak current of one plate exceeds the rating of "
        "steady peaks: advice up to "
        f"{PEAK_DOUBT.value:g} times that."
    ),
    why=(
        "The coating of the cathode can give only so much current. Asked for more it sags, "
        "overheats the plates and fails early, often with an arc."
    ),
    source=Citation("type-sheet"),
    limits=(
        "Peak current comes from 128 instants a cycle and may be up to 14 % high where "
        "conduction starts abruptly. Gas and mercury rectifiers are treated with a constant "
        "drop approximated by a curve."
    ),
    thresholds=(BY_A_HAIR, PEAK_DOUBT, UNKNOWN),
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
    doubt = PEAK_DOUBT if what is PEAK else BY_A_HAIR
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
                level="advice" if excess <= doubt.value else None,
                evidence={"current": figure(value * 1000, "mA")},
                limit=figure(limit.value * 1000, "mA"),
                certainty=certainty(excess),
                source=limit.cited,
                excess=excess,
            )


RULES: tuple[Rule, ...] = (
    first_capacitor_too_large,
    source_resistance_too_small,
    rectifier_overload,
)
