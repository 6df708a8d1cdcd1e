"""The rail above a heater lift: what keeps the heaters from it, and the lift's capacitor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import lift_network
from coldcheck.anatomy.case import Case, unsolved_reason
from coldcheck.anatomy.heater_lines import (
    HeaterLine,
    lines_wanting_reference,
)
from coldcheck.anatomy.lift_divider import capacitor_volts
from coldcheck.anatomy.lift_network import (
    Lift,
    bypasses,
    held_without,
    highest,
    lift_of,
    rides_along,
)
from coldcheck.anatomy.lift_window import common_room, liftable
from coldcheck.anatomy.neighbourhood import metal, nearest, net_text
from coldcheck.anatomy.supplies import rectified
from coldcheck.circuit.preferred import E12, preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

MOST_VOLTS = Threshold(
    "DC of a heater above a cathode that common types stand", 100.0, "V", Citation("rca-rc")
)
"""The DC that common types stand with a positive heater (memory: receiving-tube manual)."""


DROPPED = Threshold(
    "share of the rail below which a heater bus has current through its resistor",
    0.8,
    "",
    PRACTICE,
)
"""Of the rail: a line that stands below this has current through its resistor."""


@rule(
    "heater.lift-unlimited",
    title="Nothing holds a heater lift down",
    level="notice",
    states="every solved state with all tubes in their sockets",
    needs="the resistors from the heater bus to a rail and to gnd, and the rail's voltage",
    criterion=f"A heater bus that hangs on a rail of more than {MOST_VOLTS.value:g} V through "
    "resistors "
    "only, with none to gnd; or on the wiper of a pot that can be turned to more than the tubes on "
    "the line stand.",
    why="A divider lifts by the ratio of two resistors. Without the lower one no current flows, "
    "nothing drops, and the heaters are at the full rail; so they do at the end of a pot whose "
    "top is on it.",
    source=(PRACTICE, Citation("arithmetic", "Ohm's law")),
    limits="A resistor to a rail of 100 V or less is taken for a lift supply, and one to the point "
    "that every cathode on the line stands on (a pass tube's output) is in order. Pots are judged "
    "at the top of their travel only.",
    thresholds=(DROPPED, MOST_VOLTS, lift_network.CENTRE_OHMS, lift_network.RESERVOIR_FARADS),
)
def lift_unlimited(case: Case) -> Iterator[Outcome]:
    """The rail itself against what the tubes on the line stand."""
    for line in lines_wanting_reference(case.circuit):
        lift = lift_of(case.circuit, line)
        if lift is None or rides_along(case.circuit, line, lift):
            continue
        top = highest(case, lift.rail)
        if top is None:
            reason = unsolved_reason(case) or "the voltage of its rail is not known"
            yield lift_unlimited.not_judged((line.name,), reason)
        elif not held_without(case.circuit, line, lift):
            if top[0] > MOST_VOLTS.value and not _drops(case, line, top[0]):
                yield _unlimited(case, line, lift, *top)
        else:
            yield from _turned_up(case, line, lift, *top)


def _drops(case: Case, line: HeaterLine, rail_v: float) -> bool:
    """Whether something else holds the line well below its rail: a gas tube, a zener."""
    stands = highest(case, line.net)
    return stands is not None and stands[0] < DROPPED.value * rail_v


def _unlimited(case: Case, line: HeaterLine, lift: Lift, rail_v: float, state: str) -> Finding:
    name = net_text(case.circuit, lift.rail)
    parts = "+".join(b.owner for b in lift.upper)
    total = sum(b.ohms or 0.0 for b in lift.upper)
    goal = _goal(case, line)
    lower = preferred(total * goal / (rail_v - goal)) if total else None
    fit = (
        "Fit the lower resistor of the divider"
        if lower is None
        else (
            f"Fit {ohms(lower)} from the tap to gnd: with {ohms(total)} from {volts(rail_v)} the "
            f"line is at {volts(rail_v * lower / (lower + total))}"
        )
    )
    return lift_unlimited.finding(
        case,
        (line.name, *dict.fromkeys(b.owner for b in lift.upper)),
        f"{line.name}: {parts} ties the heaters to {name} and nothing to gnd: they are at the "
        f"full {volts(rail_v)}",
        fit,
        state=state,
        evidence={"rail": figure(rail_v, "V")},
        limit=MOST_VOLTS.figure,
        certainty="certain",
        excess=rail_v / MOST_VOLTS.value,
    )


def _goal(case: Case, line: HeaterLine) -> float:
    """A usual lift (common practice: 20 to 50 V), kept inside the window of the line."""
    room = common_room(case, line) if liftable(line) else None
    if room is None or room.empty:
        return 40.0
    return min(max(40.0, room.least), max(room.most, 1.0))


def _turned_up(
    case: Case, line: HeaterLine, lift: Lift, rail_v: float, state: str
) -> Iterator[Outcome]:
    """A pot in the divider, at the end of its travel that lifts the most."""
    pot = next((b for b in lift.upper if b.kind is PartKind.POT), None)
    if pot is None or not liftable(line):
        return
    room = common_room(case, line)
    most = room.most if room.high is not None else MOST_VOLTS.value
    reached = _at_the_top(case.circuit, lift, pot, rail_v)
    if reached is None or reached <= most:
        return
    spare = _series_ohms(case.circuit, lift, pot, rail_v, most)
    fit = (
        f"Put {ohms(spare)} in series with the top of {pot.owner}"
        if spare
        else (f"Take {pot.owner} out and fit a fixed divider")
    )
    yield lift_unlimited.finding(
        case,
        (line.name, pot.owner),
        f"{line.name}: {pot.owner} can be turned up until the heaters are at {volts(reached)}; "
        f"the tubes on it are rated {volts(most)}",
        fit,
        state=state,
        evidence={"reach": figure(reached, "V")},
        limit=figure(most, "V"),
        certainty="likely",
        excess=reached / most,
    )


def _travel(circuit: Circuit, pot: Branch) -> float | None:
    """Ohms of a whole pot."""
    parts = [b.ohms for b in circuit.branches.values() if b.owner == pot.owner]
    return None if None in parts else sum(p for p in parts if p is not None)


def _arms(circuit: Circuit, lift: Lift, pot: Branch) -> tuple[float, float, float] | None:
    """Ohms above the pot, of the pot, and below it."""
    travel = _travel(circuit, pot)
    above = [b.ohms for b in lift.upper if b.owner != pot.owner]
    below = next(
        (b for b in circuit.branches.values() if b.owner == pot.owner and b is not pot), None
    )
    if travel is None or below is None or None in above:
        return None
    foot = next(n for n in (below.a, below.b) if n not in (pot.a, pot.b))
    graph = metal(circuit)
    down = nearest(graph, foot, "gnd")
    return None if down is None else (sum(a for a in above if a is not None), travel, down)


def _at_the_top(circuit: Circuit, lift: Lift, pot: Branch, rail_v: float) -> float | None:
    arms = _arms(circuit, lift, pot)
    if arms is None:
        return None
    above, travel, below = arms
    return rail_v * (travel + below) / (above + travel + below)


def _series_ohms(
    circuit: Circuit, lift: Lift, pot: Branch, rail_v: float, most: float
) -> float | None:
    """The next E12 resistor that keeps the end of the travel within ``most`` volts."""
    arms = _arms(circuit, lift, pot)
    if arms is None or most <= 0:
        return None
    wanted = (arms[1] + arms[2]) * (rail_v / most - 1)
    return next((s * 10.0**e for e in range(7) for s in E12 if s * 10.0**e >= wanted), None)


NEAR = Threshold("share of its rating that a lift's capacitor should see", 0.8, "", PRACTICE)
"""Share of its rating that the capacitor of a lift should see at most (common practice)."""


@rule(
    "heater.lift-capacitor-underrated",
    title="Capacitor of a heater lift rated too low",
    level="notice",
    states="every solved state with all tubes in their sockets; the lower resistor open",
    needs="the capacitor's rating, the voltage of the tap, and that of the rail above it",
    criterion=f"The highest DC of the tap, with the tubes not yet drawing, beyond "
    f"{100 * NEAR.value:g} % "
    "of the rating; advice where it is beyond the rating only when the lower resistor opens.",
    why="The tap of a lift follows the rail, which is highest before the tubes draw current. And "
    "when the lower resistor opens, the tap goes to the full rail: a capacitor for the lift alone "
    "then fails as well, and its short pulls the line down onto the high cathodes.",
    source=(PRACTICE, Citation("drawing", "the rating written")),
    limits="The rail is taken at its voltage with the divider on it; the capacitor's surge rating "
    "is not used.",
    thresholds=(NEAR, lift_network.CENTRE_OHMS, lift_network.RESERVOIR_FARADS),
)
def lift_capacitor_underrated(case: Case) -> Iterator[Outcome]:
    """Tap and rail against the rating."""
    for line in lines_wanting_reference(case.circuit):
        lift = lift_of(case.circuit, line)
        if lift is None or not held_without(case.circuit, line, lift):
            continue
        if any(rectified(case.circuit, net) for net in lift.core):
            continue  # a rectifier's own winding is on the supply itself
        for part in bypasses(case.circuit, lift.core):
            yield from _rated(case, line, lift, part)


def _rated(case: Case, line: HeaterLine, lift: Lift, part: Branch) -> Iterator[Outcome]:
    rating = si(part.part.voltage, "volt") if part.part is not None else None
    net = part.a if part.a in lift.core else part.b
    tap, rail = highest(case, net), highest(case, lift.rail)
    if rating is None or tap is None or rail is None:
        return
    if tap[0] > NEAR.value * rating:
        yield _underrated(case, line, part, rating, tap, rail, fault=False)
    elif rail[0] > rating and _one_below(case.circuit, lift):
        yield _underrated(case, line, part, rating, tap, rail, fault=True)


def _one_below(circuit: Circuit, lift: Lift) -> tuple[Branch, ...]:
    """The lower resistor, where it is a single one."""
    found = [
        b
        for net in lift.core
        for b in circuit.at(net)
        if b.kind is PartKind.RESISTOR and b.other(net) == "gnd"
    ]
    return tuple(found) if len(found) == 1 else ()


def _underrated(
    case: Case,
    line: HeaterLine,
    part: Branch,
    rating: float,
    tap: tuple[float, str],
    rail: tuple[float, str],
    *,
    fault: bool,
) -> Finding:
    value, state = rail if fault else tap
    lower = _lower_name(case, line)
    when = f"goes to {volts(value)} when {lower} opens" if fault else f"reaches {volts(value)}"
    return lift_capacitor_underrated.finding(
        case,
        (part.name,),
        f"{part.name}, rated {volts(rating)}, is on the lift of {line.name}, which {when}",
        f"Use one for {capacitor_volts(rail[0]):g} V, which is rated for the rail",
        state=state,
        level="advice" if fault else None,
        evidence={"tap": figure(tap[0], "V"), "rail": figure(rail[0], "V")},
        limit=figure(rating, "V"),
        certainty="likely",
        excess=value / rating if fault else value / (NEAR.value * rating),
    )


def _lower_name(case: Case, line: HeaterLine) -> str:
    lift = lift_of(case.circuit, line)
    below = _one_below(case.circuit, lift) if lift is not None else ()
    return below[0].owner if below else "the lower resistor"


RULES: tuple[Rule, ...] = (lift_unlimited, lift_capacitor_underrated)
