"""Switches against the voltage they break and the current they carry."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.solution import HIGH, STANDBY, WARM
from coldcheck.solve.states import standby_switches
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Rating
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, State

STATES = (WARM, HIGH, STANDBY)
AC_SWITCH_DC_V = Threshold(
    "DC that a switch for 250 V AC breaks",
    30.0,
    "V",
    Citation("switch-sheets", "30 V DC at full current"),
)
"""Direct voltage that a switch marked for 250 V AC breaks (common practice: 30 V DC at full amps).

An arc on AC goes out 100 or 120 times a second; on DC nothing puts it out.
"""


@dataclass(frozen=True, slots=True)
class Use:
    """The most a switch's contacts see: DC across them open, rms amperes through them closed."""

    dc_v: float
    dc_state: str
    amps: float
    amps_state: str


@rule(
    "supply.switch-over-rating",
    title="Switch beyond its rating, or an AC switch in a DC line",
    level="notice",
    states="warm and high line (closed), standby (open)",
    needs="the rating in the drawing (`[S2 switch 500 V 2 A]`, `250 Vac` for AC only) and solved "
    "states with the switch open",
    criterion="The DC across an open contact exceeds the rated V; or more than 30 V DC across one "
    "that is rated in Vac; or the current through a closed one exceeds the rated A.",
    why="An arc on AC goes out at the next zero. On DC there is none: a switch marked 250 V AC "
    "holds its arc at 400 V DC until the contacts weld or the body burns through, and then the "
    "standby switch no longer switches anything off.",
    source=Citation("switch-sheets", "30 V DC for common AC switches"),
    limits="The voltage is that of the settled open state: what an inductance adds when the "
    "current breaks is not counted, nor contact wear. A mains switch is compared with the mains "
    "voltage.",
    thresholds=(AC_SWITCH_DC_V, TOUCH_DC, UNKNOWN),
)
def switch_over_rating(case: Case) -> Iterator[Outcome]:
    """Every switch in the drawing with what it breaks."""
    mains = power_switches(case)
    groups: dict[str, list[Branch]] = {}
    for branch in case.circuit.branches.values():
        if branch.traits.by_hand and branch.owner not in case.circuit.tubes:
            groups.setdefault(branch.owner, []).append(branch)
    for name, contacts in groups.items():
        rating = contacts[0].rating
        use = used(case, contacts)
        if name in mains:
            yield from _mains(case, name, rating)
        elif rating is None or rating.voltage is None:
            yield from _untold(name, use)
        else:
            yield from _voltage(case, name, rating, use)
        yield from _current(case, name, rating, use)


def power_switches(case: Case) -> frozenset[str]:
    """The switches that are not standby switches: those of the mains."""
    owners = {b.owner for b in case.circuit.branches.values() if b.traits.by_hand}
    return frozenset(owners) - frozenset(standby_switches(case.circuit))


def _is_open(branch: Branch, state: State) -> bool:
    return not branch.closed_with(state.thrown)


def used(case: Case, contacts: list[Branch]) -> Use:
    """The most that a switch breaks and carries."""
    dc, amps = (0.0, ""), (0.0, "")
    for solution in case.solved(*STATES):
        for branch in contacts:
            if _is_open(branch, solution.state):
                dc = max(dc, (_across(solution, branch), solution.state.name))
            elif (wave := solution.current(branch.name)) is not None:
                amps = max(amps, (wave.rms, solution.state.name))
    return Use(*dc, *amps)


def _across(solution: Solution, branch: Branch) -> float:
    wave = solution.between(branch.a, branch.b)
    return 0.0 if wave is None else abs(wave.dc)


def _untold(name: str, use: Use) -> Iterator[Outcome]:
    if use.dc_v > TOUCH_DC.value:
        yield switch_over_rating.not_judged(
            (name,), f"it breaks {volts(use.dc_v)} DC, and its rating is not written"
        )


def _voltage(case: Case, name: str, rating: Rating, use: Use) -> Iterator[Finding]:
    stated = si(rating.voltage, "volt") or 0.0
    limit = AC_SWITCH_DC_V.value if rating.ac_only else stated
    if use.dc_v <= limit:
        return
    why = (
        f"it is rated {volts(stated)} AC, which is good for about {volts(limit)} DC"
        if rating.ac_only
        else f"it is rated {volts(stated)}"
    )
    excess = use.dc_v / limit
    yield switch_over_rating.finding(
        case,
        (name,),
        f"{name} breaks {volts(use.dc_v)} DC; {why}",
        f"Use a switch rated for {volts(use.dc_v)} DC or more, or let it switch something "
        "gentler: the AC side of silicon rectifiers, or a resistor in series that it shorts",
        state=use.dc_state,
        evidence={"dc": figure(use.dc_v, "V"), "stated": figure(stated, "V")},
        limit=figure(limit, "V"),
        certainty=certainty(excess),
        excess=excess,
    )


def _mains(case: Case, name: str, rating: Rating | None) -> Iterator[Finding]:
    supply = si(case.circuit.mains.voltage, "volt") if case.circuit.mains else None
    stated = si(rating.voltage, "volt") if rating is not None else None
    if supply is None or stated is None or supply <= stated:
        return
    yield switch_over_rating.finding(
        case,
        (name,),
        f"{name} switches the {volts(supply)} mains; it is rated {volts(stated)}",
        f"Use a switch rated 250 V AC, for instance `[{name} switch 250 Vac 3 A]`",
        evidence={"mains": figure(supply, "V")},
        limit=figure(stated, "V"),
        certainty="certain",
        excess=supply / stated,
    )


def _current(case: Case, name: str, rating: Rating | None, use: Use) -> Iterator[Finding]:
    limit = si(rating.current, "ampere") if rating is not None else None
    if limit is None or use.amps <= limit:
        return
    excess = use.amps / limit
    yield switch_over_rating.finding(
        case,
        (name,),
        f"{name} carries {amperes(use.amps)} rms; it is rated {amperes(limit)}",
        f"Use a switch rated for {amperes(1.5 * use.amps)} or more",
        state=use.amps_state,
        evidence={"current": figure(use.amps, "A")},
        limit=figure(limit, "A"),
        certainty=certainty(excess),
        excess=excess,
    )


RULES: tuple[Rule, ...] = (switch_over_rating,)
