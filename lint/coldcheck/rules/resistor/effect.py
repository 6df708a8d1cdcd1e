"""Resistors that do nothing where they stand: mostly a lost k that burns nothing."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.supplies import FILTER_F
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LEAST_STOPPER_OHM = Threshold("smallest grid stopper", 47.0, "ohm", PRACTICE)
"""The smallest grid stoppers of the trade (common practice)."""

LEAST_LIFT_V = Threshold("least lift of a heater bus", 1.0, "V", PRACTICE)
LIFT_RAIL_V = Threshold("rail a heater bus is lifted from", 100.0, "V", PRACTICE)
LIKELY_LIFT = (10.0, 80.0)
MOST_FEED_OHM = Threshold("feed resistor that may be too small", 100.0, "ohm", PRACTICE)
FACTOR = Threshold(
    "feed resistor over the capacitor's reactance",
    2.0,
    "",
    Citation("arithmetic", "1 / sqrt(1 + 4) = 0.45"),
)
"""Below twice the reactance ripple passes nearly whole (derived: 1 / sqrt(1 + 4) = 0.45)."""

RAIL_V = Threshold("voltage of a supply point", 50.0, "V", PRACTICE)


LITTLE = Threshold(
    "times the reactance behind it below which a feed is a slip, not a choice", 1.0, "", PRACTICE
)


@rule(
    "resistor.without-effect",
    title="Resistor that does nothing where it stands",
    level="notice",
    states="the drawing alone; for supplies and heater lifts a solved warm state",
    needs="the values of the resistor and of the capacitors at its ends",
    criterion="A resistor between two filter capacitors of a supply is below "
    f"{MOST_FEED_OHM.value:g} ohm and smaller than {FACTOR.value:g} times the reactance of the "
    "smaller one at the ripple frequency; or the only resistor in the lead to a grid is below "
    f"{LEAST_STOPPER_OHM.value:g} ohm; "
    f"or a feedback resistor from a speaker winding is below {LEAST_STOPPER_OHM.value:g} ohm and "
    "below "
    "what it works into; "
    f"or the divider of a heater lift, from a rail above {LIFT_RAIL_V.value:g} V, lifts by less "
    "than "
    f"{LEAST_LIFT_V.value:g} V.",
    why="10 for 10k in the supply of a first stage burns nothing and changes no voltage by much, "
    "but the stages are then on one supply: it hums, and it may motor-boat. 1.5 ohm at a grid "
    "stops no oscillation, and a lift of a few millivolts lifts nothing.",
    source=Citation(
        "practice", "feeds of 1 to 100 kohm, stoppers from 47 ohm up, lifts of 20 to 80 V"
    ),
    limits="Resistors that only limit the first rush of current, or act as a fuse, look the same "
    "in a drawing; those ahead of the first filter capacitor and in series with a choke are left "
    "alone. Stoppers of power tubes in parallel are a rule of their own, and those at a coil are "
    "left alone.",
    thresholds=(
        FACTOR,
        FILTER_F,
        LEAST_LIFT_V,
        LITTLE,
        LEAST_STOPPER_OHM,
        LIFT_RAIL_V,
        MOST_FEED_OHM,
        RAIL_V,
    ),
)
def without_effect(case: Case) -> Iterator[Outcome]:
    """Look at supply feeds, grid leads and heater lifts."""
    yield from _feeds(case)
    yield from _stoppers(case)
    yield from _lifts(case)
    yield from _feedbacks(case)


def _feedbacks(case: Case) -> Iterator[Finding]:
    """Resistors from a speaker winding into the circuit that divide nothing down."""
    circuit = case.circuit
    for output in case.circuit.outputs.values():
        own = {net for end, net in output.leads if end.startswith("s")} - set(LANDMARKS)
        for branch in (b for n in own for b in circuit.at(n) if b.kind is PartKind.RESISTOR):
            far, value = (
                branch.other(next(iter(own & {branch.a, branch.b}))),
                branch.ohms,
            )
            below = _to_gnd(circuit, far) if far not in LANDMARKS else None
            if value is None or below is None or value >= LEAST_STOPPER_OHM.value or value >= below:
                continue
            yield without_effect.finding(
                case,
                (branch.name, output.name),
                f"{branch.name}: {ohms(value)} from {output.name} to "
                f"{net_text(circuit, far)} feeds all of the speaker's voltage back",
                f"Look at the original again: {ohms(1e3 * value)} would suit; write it with its k",
                evidence={"resistance": figure(value, "ohm")},
                limit=LEAST_STOPPER_OHM.figure,
                excess=LEAST_STOPPER_OHM.value / max(value, 1e-3),
            )


def _to_gnd(circuit: Circuit, net: str) -> float | None:
    """The smallest resistor from a net to gnd, ohms."""
    at = (b for b in circuit.at(net) if b.kind is PartKind.RESISTOR and b.other(net) == GROUND)
    return min((b.ohms or 0.0 for b in at), default=None)


# -- feeds -----------------------------------------------------------------------------------------


def _feeds(case: Case) -> Iterator[Finding]:
    ripple = _ripple(case.circuit)
    for branch in case.circuit.branches.values():
        value = branch.ohms if branch.kind is PartKind.RESISTOR else None
        filters = [_filter(case, net) for net in (branch.a, branch.b)]
        if _centres(case.circuit, branch):
            continue
        if not value or value >= MOST_FEED_OHM.value or not ripple or None in filters:
            continue
        behind = min(f for f in filters if f is not None)
        reactance = 1 / (2 * pi * ripple * behind)
        if value < FACTOR.value * reactance:
            yield _feed(case, branch, value, reactance, ripple)


def _centres(circuit: Circuit, branch: Branch) -> bool:
    """Whether a resistor is one of two that make the middle of a tube's filament."""
    at = [x for n in (branch.a, branch.b) for x in circuit.electrodes_at(n)]
    return any(e in ("f1", "f2") and s.kind.amplifies for s, e in at)


def _ripple(circuit: Circuit) -> float | None:
    """Twice the mains frequency, in hertz."""
    frequency = si(circuit.mains.frequency, "hertz") if circuit.mains is not None else None
    return 2 * frequency if frequency else None


def _filter(case: Case, net: str) -> float | None:
    """Farads from a supply point to gnd, where that is a filter's."""
    level = warm_volts(case, net)
    if net in LANDMARKS or level is None or abs(level) < RAIL_V.value:
        return None
    found = [
        b for b in case.circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND
    ]
    total = sum(b.farads or 0.0 for b in found)
    return total if total >= FILTER_F.value else None


def _feed(case: Case, branch: Branch, value: float, reactance: float, ripple: float) -> Finding:
    ends = listed(net_text(case.circuit, n) for n in (branch.a, branch.b))
    return without_effect.finding(
        case,
        (branch.name,),
        f"{branch.name}: {ohms(value)} between {ends} filters nothing: the capacitor behind it has "
        f"{ohms(reactance)} at {engineering(ripple, 'Hz')}",
        f"Look at the original again: {ohms(1e3 * value)} would suit; write it with its k",
        state="warm",
        level=None if value < LITTLE.value * reactance else "advice",
        evidence={"resistance": figure(value, "ohm"), "ripple": figure(ripple, "Hz")},
        limit=figure(FACTOR.value * reactance, "ohm"),
        excess=FACTOR.value * reactance / value,
    )


# -- stoppers --------------------------------------------------------------------------------------


def _stoppers(case: Case) -> Iterator[Finding]:
    done: set[str] = set()
    for _, section in working(case.circuit):
        net = section.electrodes.get("grid")
        at = case.circuit.at(net) if net is not None and net not in LANDMARKS else ()
        if len(at) != 1 or at[0].kind is not PartKind.RESISTOR or at[0].name in done:
            continue
        if net is None or at[0].other(net) in LANDMARKS or _coil_at(case.circuit, at[0].other(net)):
            continue
        value = si(at[0].value, "ohm")
        if value is not None and value < LEAST_STOPPER_OHM.value:
            done.add(at[0].name)
            yield _stopper(case, at[0], value, section.name)


def _coil_at(circuit: Circuit, net: str) -> bool:
    """Whether a coil is behind a stopper: at radio frequency some 10 ohm stop a parasitic."""
    return any(b.traits.coil for b in circuit.at(net))


def _stopper(case: Case, branch: Branch, value: float, name: str) -> Finding:
    meant = 1e3 * value
    return without_effect.finding(
        case,
        (branch.name, name),
        f"{branch.name}: {ohms(value)} in the lead to the grid of {name} stops nothing",
        f"Look at the original again: {ohms(meant)} would suit; write it with its k"
        if meant >= 470
        else "Use 470 ohm to 10 kohm, or leave it out",
        evidence={"resistance": figure(value, "ohm")},
        limit=LEAST_STOPPER_OHM.figure,
        excess=LEAST_STOPPER_OHM.value / max(value, 1e-3),
    )


# -- heater lifts ----------------------------------------------------------------------------------


def _lifts(case: Case) -> Iterator[Finding]:
    for line in heater_lines(case.circuit):
        nets = dict.fromkeys(n for w in line.windings for n in w.nets)
        for net in nets if not _tied(case.circuit, nets) else ():
            level = warm_volts(case, net)
            below, above = _divider(case.circuit, net), _rail(case, net)
            if level is None or below is None or above is None or abs(level) >= LEAST_LIFT_V.value:
                continue
            yield _lift(case, line.name, below, above, level)


def _tied(circuit: Circuit, nets: Collection[str]) -> bool:
    """Whether a winding is at gnd by one of its leads, or by resistors from two."""
    down = [n for n in nets if _to_gnd(circuit, n) is not None]
    return GROUND in nets or len(down) > 1


def _divider(circuit: Circuit, net: str) -> Branch | None:
    """The resistor from a tap to gnd, where there is one."""
    found = [b for b in circuit.at(net) if b.kind is PartKind.RESISTOR and b.other(net) == GROUND]
    return found[0] if len(found) == 1 and found[0].value is not None else None


def _rail(case: Case, net: str) -> tuple[Branch, float] | None:
    """The resistor from a tap to a rail, and the rail's volts."""
    for branch in case.circuit.at(net):
        level = warm_volts(case, branch.other(net)) if branch.kind is PartKind.RESISTOR else None
        if level is not None and level > LIFT_RAIL_V.value and branch.value is not None:
            return branch, level
    return None


def _lift(
    case: Case, line: str, below: Branch, above: tuple[Branch, float], level: float
) -> Finding:
    value, upper = below.ohms or 0.0, si(above[0].value, "ohm") or 0.0
    meant = 1e3 * value
    lifted = above[1] * meant / (meant + upper)
    if not LIKELY_LIFT[0] <= lifted <= LIKELY_LIFT[1]:
        meant = preferred(upper * 40.0 / max(above[1] - 40.0, 40.0))
        lifted = above[1] * meant / (meant + upper)
    return without_effect.finding(
        case,
        (below.name, line),
        f"{below.name}: {ohms(value)} under {above[0].name} lifts {line} by no more than "
        f"{volts(level) if level >= 0.05 else engineering(level, 'V')}",
        f"Look at the original again: {ohms(meant)} would make {volts(lifted)}",
        state="warm",
        evidence={"lift": figure(level, "V"), "resistance": figure(value, "ohm")},
        limit=LEAST_LIFT_V.figure,
        excess=LEAST_LIFT_V.value / max(abs(level), 1e-3),
    )


RULES: tuple[Rule, ...] = (without_effect,)
