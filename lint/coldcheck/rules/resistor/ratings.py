"""Resistor rules: power and voltage."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.running import unforetold
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import sockets_last, unsolved
from coldcheck.judge.ranges import BARELY, UNKNOWN, WIDEST, across, certainty, possible, reach
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution
    from coldcheck.sources.register import Origin

USUAL_SHARE = Threshold("share of its rated power a resistor is used to", 0.6, "", PRACTICE)
UNRATED_W = Threshold(
    "power above which a resistor without a rating is reported", 0.25, "W", PRACTICE
)
UNRATED_V = Threshold(
    "voltage above which a resistor without a rating is reported", 250.0, "V", PRACTICE
)
SIZES_W = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 25.0, 50.0)
FILM = Citation("carbon-film-sheets")
POWER = Citation("power-bodies")
BODIES = {
    watt: Threshold(f"voltage of a body of {watt:g} W", volt, "V", source)
    for watt, volt, source in (
        (0.125, 200.0, PRACTICE),
        *((0.25, 250.0, FILM), (0.5, 350.0, FILM), (1.0, 500.0, FILM)),
        *((3.0, 500.0, POWER), (5.0, 750.0, POWER), (7.0, 1000.0, POWER)),
    )
}
"""Watts from which on a body stands so many volts: carbon film, power film and ceramic wire-wound
from 3 W on."""
LARGEST_W = Threshold("power up to which a body tells its voltage", 15.0, "W", POWER)

LASTING = ("warm", "high line", "low line", "standby")


@rule(
    "resistor.over-power",
    title="Resistor hotter than it is made for",
    level="notice",
    states="warm, high line, low line and standby; the advice in warm and standby only",
    needs="the power written on the drawing, and a solved state",
    criterion=(
        "The power (mean square of the voltage over the resistance) is more than the rating; "
        "above 60 % of it there is an advice; it is one too where the resistor feeds a stage that "
        "oscillates, which is solved at rest."
    ),
    why=(
        "A resistor above its rating scorches and drifts, and finally opens or takes its "
        "neighbours along. The rating holds in free air at room temperature, which the inside "
        "of a tube set is not; hence the practice of using little more than half of it."
    ),
    source=(
        Citation("drawing", "the power written"),
        Citation("practice", "60 % of it, de-rating tables"),
    ),
    limits=(
        "The rating is the one written, in free air at room temperature; neighbours that heat "
        "it and the inside of a closed chassis want more margin. Without a written rating a "
        "resistor is not judged."
    ),
    thresholds=(UNRATED_W, USUAL_SHARE, UNKNOWN),
)
def resistor_over_power(case: Case) -> Iterator[Outcome]:
    """Compare each resistor's heat with its rating."""
    yield from _nothing_solved(resistor_over_power, case)
    unrated: dict[str, float] = {}
    for branch in _resistors(case):
        rated = si(branch.part.power, "watt") if branch.part is not None else None
        for solution in case.solved(*LASTING):
            power = dissipation(solution, branch)
            if power is None:
                continue
            if rated is None:
                unrated[branch.name] = max(power, unrated.get(branch.name, 0.0))
            elif power > rated or (
                power > USUAL_SHARE.value * rated and solution.state.kind in ("warm", "standby")
            ):
                yield _over_power(case, solution, branch, power, rated)
    for name, power in unrated.items():
        if power > UNRATED_W.value:
            text = f"no power is written; it turns {watts(power)} into heat"
            yield resistor_over_power.not_judged((name,), text)


def dissipation(solution: Solution, branch: Branch) -> float | None:
    """Mean power in a resistor over a mains cycle, watts; ``None`` where it has no number."""
    wave = solution.between(branch.a, branch.b)
    resistance = branch.ohms
    return None if wave is None or not resistance else wave.rms**2 / resistance


def _power_off(solution: Solution, branch: Branch) -> float:
    """The range of the power as a share of it: twice that of the voltage."""
    wave = solution.between(branch.a, branch.b)
    return 2 * across(solution, branch, wave.rms if wave is not None else 0.0)


def _over_power(
    case: Case, solution: Solution, branch: Branch, power: float, rated: float
) -> Finding:
    over = power > rated
    resting = bool({branch.a, branch.b} & unforetold(case.circuit))  # at work it takes less
    wanted = next((w for w in SIZES_W if w * USUAL_SHARE.value >= power), None)
    size = f"Use {wanted:g} W or more" if wanted else "Share it between several resistors"
    return resistor_over_power.finding(
        case,
        (branch.name,),
        f"{branch.name} turns {watts(power)} into heat, rated {watts(rated)}"
        + ("" if over else f": more than {USUAL_SHARE.value:.0%} of it".replace("%", " %")),
        size,
        state=solution.state.name,
        level="notice" if over and not resting else "advice",
        evidence={
            "power": figure(power, "W"),
            "rated": figure(rated, "W"),
        },
        limit=figure(rated if over else USUAL_SHARE.value * rated, "W"),
        certainty=certainty(
            power / (rated if over else USUAL_SHARE.value * rated), _power_off(solution, branch)
        ),
        excess=power / (rated if over else USUAL_SHARE.value * rated),
    )


@rule(
    "resistor.over-voltage",
    title="More voltage across a resistor than its body is rated for",
    level="notice",
    states="every solved state",
    needs="the power (which tells the body) or a voltage on the drawing, and a solved state",
    criterion=(
        "The highest instant across the resistor is more than the voltage written on it, or than "
        "a body of its power is rated for: 1/8 W 200 V, 1/4 W 250 V, 1/2 W 350 V, 1, 2 and 3 W 500 "
        "V, 5 W 750 V, 7 to 15 W 1000 V; a power between two counts as the smaller one. Bigger "
        "ones are judged where a voltage is written. Only with a tube out of its socket: advice."
    ),
    why=(
        "A high resistance stays cool and still fails: the voltage arcs across the spiral cut "
        "into its film. A bleeder or a divider that opens unnoticed leaves the supply charged."
    ),
    source=(FILM, POWER),
    limits=(
        "Bodies of 3 W and more differ from maker to maker: write the voltage on the drawing where "
        "it matters. A shorted tube behind a plate resistor is not among the states."
    ),
    thresholds=(*BODIES.values(), LARGEST_W, UNRATED_V, UNKNOWN, WIDEST),
)
def resistor_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare the peak across each resistor with what its body stands."""
    yield from _nothing_solved(resistor_over_voltage, case)
    for branch in _resistors(case):
        limit, source = body_limit(branch)
        if limit is None:
            yield from _body_unknown(case, branch)
            continue
        yield from sockets_last(case, _beyond(case, branch, limit, source))


def _beyond(case: Case, branch: Branch, limit: float, source: Origin) -> Iterator[Finding]:
    for solution in case.solved():
        wave = solution.between(branch.a, branch.b)
        peak = 0.0 if wave is None else wave.peak
        most = reach(solution, (branch.a, branch.b), peak, limit)
        if most is not None:
            finding = _over_voltage(case, solution, branch, peak, limit, source)
            yield finding if peak > limit * BARELY else possible(finding, most)


def _body_unknown(case: Case, branch: Branch) -> Iterator[Outcome]:
    wave = case.warm.between(branch.a, branch.b)
    if wave is not None and wave.peak > UNRATED_V.value:
        text = f"the rating of its body is not known; {volts(wave.peak)} is across it"
        yield resistor_over_voltage.not_judged((branch.name,), text)


def body_limit(branch: Branch) -> tuple[float | None, Origin]:
    """The voltage a resistor stands and where that is from; ``None`` where nothing says it."""
    part = branch.part
    if part is None:
        return None, ""
    if part.voltage is not None:
        return si(part.voltage, "volt"), Citation("drawing", "the voltage written")
    power = si(part.power, "watt")
    if power is None:
        return None, ""
    body = body_of(power)
    return (None, "") if body is None else (body.value, body.source)


def body_of(power: float) -> Threshold | None:
    """What a body of so many watts stands: metal film of 0.4 W is no half-watt body.

    ``None`` above the bodies that tell it, and below the smallest.
    """
    if power > LARGEST_W.value * 1.001:
        return None
    return next((b for w, b in reversed(BODIES.items()) if w <= power * 1.001), None)


def _over_voltage(
    case: Case, solution: Solution, branch: Branch, peak: float, limit: float, source: Origin
) -> Finding:
    pieces = int(np.ceil(peak / limit))
    each = preferred((branch.ohms or 0.0) / pieces)
    return resistor_over_voltage.finding(
        case,
        (branch.name,),
        f"{volts(peak)} across {branch.name}; its body is rated {volts(limit)}",
        f"Use {pieces} in series of {ohms(each)} each "
        f"({watts((peak / pieces) ** 2 / each)} in each), or a body made for the voltage",
        state=solution.state.name,
        evidence={"peak": figure(peak, "V")},
        limit=figure(limit, "V"),
        certainty="possible" if source == POWER else certainty(peak / limit),
        source=source,
        excess=peak / limit,
    )


def _nothing_solved(this: Rule, case: Case) -> Iterator[Outcome]:
    reason = unsolved(case)
    if reason is not None and _resistors(case):
        yield this.not_judged(tuple(b.name for b in _resistors(case)), reason)


def _resistors(case: Case) -> list[Branch]:
    return [
        b
        for b in case.circuit.branches.values()
        if b.kind is PartKind.RESISTOR and b.value is not None and b.a != b.b
    ]


RULES: tuple[Rule, ...] = (
    resistor_over_power,
    resistor_over_voltage,
)
