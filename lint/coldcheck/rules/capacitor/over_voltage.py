"""Capacitor rules: the working voltage; polarity and series pairs have modules of their own."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import in_series, resistors_across
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import sockets_last, unsolved
from coldcheck.judge.ranges import BARELY, UNKNOWN, WIDEST, across, certainty, possible, reach
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import Use, most
from coldcheck.records import dataclass
from coldcheck.rules.capacitor.margin import STOCK_V, jacks_behind
from coldcheck.solve.solution import STANDBY
from coldcheck.solve.warmup import UNLOADED
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, Wave
    from coldcheck.sources.register import Origin

CLASSES = ("X1", "X2", "Y1", "Y2")
CLASS_V = Threshold(
    "AC voltage of a class X or Y part where none is written",
    *(250.0, "V", Citation("iec-60384-14")),
)
FAR_OVER = Threshold(
    "times its rating from which a coupling capacitor is taken to give way", 1.5, "", PRACTICE
)
UNRATED_V = Threshold(
    "voltage above which a capacitor without a rating is reported", 25.0, "V", PRACTICE
)
UNLIKE = 1.5
"""Sharing resistors that differ by more are named as the cause; it words the remedy only."""

MARGIN = 0.9
LOW_SURGE = Threshold(
    "surge voltage of an electrolytic up to 315 V, times its rating",
    1.15,
    "",
    Citation("iec-60384-4", "cl. 4.14"),
)
HIGH_SURGE = Threshold(
    "surge voltage of an electrolytic above 315 V, times its rating",
    1.10,
    "",
    Citation("iec-60384-4", "cl. 4.14"),
)
LOW_RATED_V = Threshold(
    "highest rating with the larger surge voltage", 315.0, "V", Citation("iec-60384-4", "cl. 4.14")
)
FILM_FOR_SECONDS = Threshold(
    "times its rating a film capacitor stands for seconds", 1.1, "", PRACTICE
)
"""A film or paper part stands this for the seconds before the tubes draw (common practice)."""


@dataclass(frozen=True, slots=True)
class _Rating:
    """What a capacitor stands: DC plus peak, and for AC parts also the rms of the AC."""

    peak: float
    rms: float | None
    source: Origin


@rule(
    "capacitor.over-voltage",
    title="Capacitor above its working voltage",
    level="notice",
    states=(
        "every solved state; those in which no tube draws current yet (cold, and a rectifier "
        "hot before the other tubes), and each switch thrown, also with the mains at the top of "
        "its tolerance"
    ),
    needs="a working voltage on the drawing, and a solved state",
    criterion=(
        "DC plus the peak of the AC across the capacitor is more than its working voltage; for a "
        "part rated for AC, the rms of the AC more than that rating, or DC plus peak more than "
        "its crest. With a tube out of its socket it is advice. "
        "An electrolytic beyond its surge voltage (1.15 times up to 315 V, 1.10 times "
        "above) is a caution: it can burst; any other kind up to a tenth above, before the tubes "
        f"draw, is advice, and from {FAR_OVER.value:g} times its rating, with a jack behind it, a "
        "warning: the supply comes out there. Where only the usual spread of the parts reaches the "
        "working voltage it is a possible advice."
    ),
    why=(
        "Until the tubes have warmed up nothing loads the supply, and with a silicon or directly "
        "heated rectifier every capacitor along it sees the full peak, at every switch-on. A "
        "coupling capacitor sees the same, because a cold tube's plate sits at the supply. The "
        "surge rating is for the rare occasion, not for each evening."
    ),
    source=(
        Citation("drawing", "the working voltage written"),
        Citation("iec-60384-4", "cl. 4.14, surge"),
    ),
    limits=(
        "The solved states are cold, warm-up, warm, mains at both ends and each switch; "
        "ringing and surges of the mains are not counted. The rating is the one written in "
        "the drawing and says nothing about the age of the part."
    ),
    thresholds=(
        FAR_OVER,
        FILM_FOR_SECONDS,
        CLASS_V,
        HIGH_SURGE,
        LOW_RATED_V,
        LOW_SURGE,
        UNRATED_V,
        UNKNOWN,
        WIDEST,
    ),
)
def capacitor_over_voltage(case: Case) -> Iterator[Outcome]:
    """Compare the worst instant across each capacitor with its rating."""
    capacitors = _capacitors(case)
    reason = unsolved(case)
    if reason is not None and capacitors:
        yield capacitor_over_voltage.not_judged(tuple(b.name for b in capacitors), reason)
    unrated: dict[str, float] = {}
    for branch in capacitors:
        rating = _rating(branch)
        if rating is None:
            unrated[branch.name] = use.figure.value if (use := worst_peak(case, branch)) else 0.0
        else:
            yield from sockets_last(case, _over_voltage(case, branch, rating))
    stressed = {n: v for n, v in unrated.items() if v > UNRATED_V.value}
    if stressed:
        text = f"no working voltage is written; up to {volts(max(stressed.values()))} is across it"
        yield capacitor_over_voltage.not_judged(tuple(stressed), text)


def _over_voltage(case: Case, branch: Branch, rating: _Rating) -> Iterator[Finding]:
    for solution in case.solved():
        wave = solution.between(branch.a, branch.b)
        if wave is None:
            continue
        factor = line_factor(case, solution)
        peak, rms = wave.peak * factor, wave.ac_rms * factor
        excess, shown, limit = peak / rating.peak, peak, rating.peak
        if rating.rms is not None and rms / rating.rms > excess:
            excess, shown, limit = rms / rating.rms, rms, rating.rms
        most = reach(solution, (branch.a, branch.b), shown, limit, edge=limit == rating.peak)
        if most is not None:
            finding = _over(case, solution, branch, rating, wave, shown, limit)
            yield finding if excess > BARELY else possible(finding, most)


def _over(
    case: Case,
    solution: Solution,
    branch: Branch,
    rating: _Rating,
    wave: Wave,
    shown: float,
    limit: float,
) -> Finding:
    excess = shown / limit
    factor = line_factor(case, solution)
    when = f" with the mains {100 * (factor - 1):.0f} % high" if factor != 1 else ""
    kind = "V AC" if limit == rating.rms else "V"
    evidence: dict[str, Figure | str] = {
        "peak": figure(wave.peak * factor, "V"),
        "dc": figure(wave.dc * factor, "V"),
    }
    if rating.rms is not None:
        evidence["ac_rms"] = figure(wave.ac_rms * factor, "V")
    if factor != 1:
        evidence["mains_factor"] = figure(factor, "")
    plain = (_remedy(_highest(case, branch), branch), (), "")
    remedy, beside, why = _partner(case, branch) or plain
    then = f"{_when(solution)}{when}{why}"
    return capacitor_over_voltage.finding(
        case,
        (branch.name, *beside),
        f"{volts(shown)} across {branch.name}, rated {limit:.4g} {kind}, {then}",
        remedy,
        state=solution.state.name,
        level=_level(case, solution, branch, shown / limit),
        evidence={**evidence},
        limit=figure(limit, "V"),
        certainty="certain"
        if solution.state.name in UNLOADED
        else certainty(excess, across(solution, branch, shown)),
        source=rating.source,
        excess=excess,
    )


def _highest(case: Case, branch: Branch) -> float:
    """The most across a capacitor in any state, a tube pulled too: what a new one has to stand."""
    waves = ((s, s.between(branch.a, branch.b)) for s in case.solved())
    return max(w.peak * line_factor(case, s) for s, w in waves if w is not None)


def _level(case: Case, solution: Solution, branch: Branch, excess: float) -> str:
    """By what gives way: a jack behind it gets the supply, an electrolytic bursts."""
    brief = solution.state.name in UNLOADED and branch.plus is None
    rise = solution.state.line * line_factor(case, solution)
    for_mains = rise > 1 and excess <= rise and _made_for_mains(branch)
    if (brief or for_mains) and excess <= FILM_FOR_SECONDS.value:
        return "advice"
    if excess > FAR_OVER.value and jacks_behind(case.circuit, branch):
        return "warning"
    return "caution" if _bursts(branch, excess) else "notice"


def _made_for_mains(branch: Branch) -> bool:
    """A part rated for AC is rated for the nominal mains, whose tolerance it stands."""
    return branch.part is not None and bool(branch.part.voltage_is_ac or branch.part.safety_class)


def _when(solution: Solution) -> str:
    if solution.state.name in UNLOADED:
        return "before the tubes draw current"
    return solution.state.name if solution.state.kind != "warm" else "when warm"


def _remedy(peak: float, branch: Branch) -> str:
    """What to buy: the next stock voltage that leaves a tenth to spare."""
    wanted = peak / MARGIN
    fits = next((v for v in STOCK_V if v >= wanted), None)
    if branch.part is not None and branch.part.safety_class:
        return f"Use one of class {branch.part.safety_class} that is rated for this AC voltage"
    if branch.part is not None and branch.part.voltage_is_ac:
        return "Use a part rated for this AC voltage (across the mains: class X2; to metal: Y2)"
    if fits is None or (branch.plus is not None and fits > 500):
        return (
            "Use two in series, each with the same resistor across it, or a film capacitor "
            f"for {volts(wanted)}"
        )
    return f"Use one for {fits:g} V or more (common practice: at most 90 % of the rating)"


def _partner(case: Case, branch: Branch) -> tuple[str, tuple[str, ...], str] | None:
    """For one of two in series: the other has a resistor across it, this one none or another.

    A remedy, the resistors by which they share the voltage, and what those do.
    """
    own = resistors_across(case.circuit, branch)
    for other in in_series(case.circuit, branch):
        across = resistors_across(case.circuit, other)
        names = tuple(b.name for b in across)
        if across and not own:
            return (
                f"Put the same resistor across {branch.name} as {listed(names)} across "
                f"{other.name}: without it {branch.name} takes all the voltage",
                names,
                f": {listed(names)} holds {other.name} down, and nothing holds {branch.name}",
            )
        if across and own and not UNLIKE > _ohms(own) / _ohms(across) > 1 / UNLIKE:
            both = (*(b.name for b in own), *names)
            return _alike((own, branch), (across, other)), both, ""
    return None


def _alike(*sides: tuple[list[Branch], Branch]) -> str:
    """The smaller resistance made like the larger: the other way both would run hot."""
    (low, part), (high, other) = sorted(sides, key=lambda side: _ohms(side[0]))
    return (
        f"Make {listed(b.name for b in low)} across {part.name} ({ohms(_ohms(low))}) like "
        f"{listed(b.name for b in high)} across {other.name} ({ohms(_ohms(high))}): the two share "
        "the voltage as these do"
    )


def _ohms(parallel: list[Branch]) -> float:
    """Of resistors side by side; those of unknown value count as open."""
    known = [b.ohms or math.inf for b in parallel]
    return 1 / max(sum(1 / value for value in known), 1e-12)


def _bursts(branch: Branch, excess: float) -> bool:
    """Whether an electrolytic is beyond its surge voltage."""
    rated = None if branch.part is None else si(branch.part.voltage, "volt")
    low = rated is not None and rated <= LOW_RATED_V.value
    return branch.plus is not None and excess > (LOW_SURGE if low else HIGH_SURGE).value


def line_factor(case: Case, solution: Solution) -> float:
    """By how much a supply without load still rises at high line.

    The states before the tubes draw, and with a switch thrown, are solved at nominal mains;
    unloaded, their voltages follow the mains. Where a bench source feeds the circuit nothing is
    scaled.
    """
    if solution.state.name not in UNLOADED and solution.state.kind != STANDBY:
        return 1.0
    if any(b.kind is PartKind.SOURCE for b in case.circuit.branches.values()):
        return 1.0
    # Not from a solved state: a slip that may be the cause is tried in few of them.
    on_the_mains = case.circuit.mains is not None or bool(case.circuit.transformers)
    return 1 + case.circuit.mains_tolerance if on_the_mains else 1.0


def _capacitors(case: Case) -> list[Branch]:
    return [
        b for b in case.circuit.branches.values() if b.kind is PartKind.CAPACITOR and b.a != b.b
    ]


def _rating(branch: Branch) -> _Rating | None:
    part = branch.part
    if part is None or (part.voltage is None and part.safety_class is None):
        return None
    if part.voltage is None:
        if (part.safety_class or "").upper() not in CLASSES:
            return None
        return _Rating(math.sqrt(2) * CLASS_V.value, CLASS_V.value, CLASS_V.source)
    limit = si(part.voltage, "volt") or 0.0
    written = Citation("drawing", "the working voltage written")
    if part.voltage_is_ac or part.safety_class:
        return _Rating(math.sqrt(2) * limit, limit, written)
    return _Rating(limit, None, written)


def worst_peak(case: Case, branch: Branch) -> Use | None:
    """The highest instant across it in any solved state, as the rule reckons it."""
    return most(case, (), partial(_peak, case, branch))


def worst_rms(case: Case, branch: Branch) -> Use | None:
    """The most AC across it in any solved state, rms."""
    return most(case, (), partial(_rms, case, branch))


def _peak(case: Case, branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(branch.a, branch.b)
    return None if wave is None else figure(wave.peak * line_factor(case, solution), "V")


def _rms(case: Case, branch: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(branch.a, branch.b)
    return None if wave is None else figure(wave.ac_rms * line_factor(case, solution), "V")


RULES: tuple[Rule, ...] = (capacitor_over_voltage,)
