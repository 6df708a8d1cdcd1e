"""Heater and filament rules: what a heater line is referred to, and what it must not share."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy import heater_loops
from coldcheck.anatomy.case import Case, warm_volts
from coldcheck.anatomy.heater_lines import HeaterLine, heater_lines, wants_reference
from coldcheck.anatomy.heater_loops import LOOP_OHMS, Loop, doubled_anchor, shorted_loop
from coldcheck.anatomy.lift_window import rooms_of
from coldcheck.anatomy.neighbourhood import metal, net_text, ohms_between, reading, sources_shorted
from coldcheck.circuit.paths import Change, has_reference, references
from coldcheck.circuit.throws import switch_of, thrown_text, throws_by_hand
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.ranges import BARELY
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.heater_loops import Doubled
    from coldcheck.circuit.model import Branch, Circuit, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution

HELD = ("gnd", "chassis", "earth")

LIFTED_V = Threshold("heater bus that is lifted", 5.0, "V", PRACTICE)
HALF = Threshold("share of a lift that has to stay", 0.5, "", PRACTICE)
PAIR_OVER = Threshold(
    "times its share from which a resistor of a pair has more on it", 1.5, "", PRACTICE
)
"""A resistor pair that dissipates this much more than its share has something else on it."""

LOOSE_OHMS = Threshold(
    "resistance above which a heater bus is held by nothing", 1e6, "ohm", PRACTICE
)
"""A path of more than this does not hold a heater line against leakage (common practice)."""


@rule(
    "heater.no-reference",
    title="Heater bus tied to nothing",
    level="notice",
    states="the drawing alone",
    needs="the heaters and what feeds them; no values",
    criterion="No DC path from the heater bus to gnd, or only paths of more than 1 Mohm.",
    why="A heater bus that is tied to nothing sits wherever leakage takes it. It picks up hum, "
    "and it can drift towards the B+ until the insulation between heater and cathode gives way.",
    source=(PRACTICE, Citation("handbooks", "heater supplies")),
    limits="Heater buses that hold a directly heated tube or a filament rectifier are left to "
    "other rules. A path through a diode is not counted as one.",
    thresholds=(LOOSE_OHMS,),
)
def no_reference(case: Case) -> Iterator[Outcome]:
    """Every heater line needs one DC reference."""
    for line in heater_lines(case.circuit):
        if not wants_reference(line):
            continue
        if has_reference(case.circuit, line.net, targets=HELD):
            yield from _loose(case, line)
        elif _fed(case.circuit, line):
            yield _untied(case, line, None)
        else:
            reason = "the drawing does not show what feeds this heater"
            yield no_reference.not_judged(line.at[:1], reason)


def _loose(case: Case, line: HeaterLine) -> Iterator[Outcome]:
    found = ohms_between(sources_shorted(case.circuit), line.net)
    if found is not None and LOOSE_OHMS.value < found < inf:
        yield _untied(case, line, found)


def _fed(circuit: Circuit, line: HeaterLine) -> bool:
    """Whether a winding, a source or the mains feeds the line."""
    if line.windings:
        return True
    feeders = {b.owner for n in line.nets for b in circuit.at(n) if b.traits.supplies}
    return bool(feeders) or has_reference(circuit, line.net, targets=frozenset({"line"}))


def _untied(case: Case, line: HeaterLine, found: float | None) -> Finding:
    hold = "is tied to nothing" if found is None else f"is held only through {ohms(found)}"
    whose = listed(t.name for t in line.tubes)
    message = f"{line.name}: the heater bus of {whose} {hold}: it has no defined voltage"
    return no_reference.finding(
        case,
        line.at,
        message,
        f"{_tie(line)}, or to a divider from the B+ (a lift) if a cathode on it stands high",
        evidence={}
        if found is None
        else {"reference": figure(found, "ohm"), "limit": LOOSE_OHMS.figure},
        certainty="certain",
    )


def _tie(line: HeaterLine) -> str:
    leads = [lead for w in line.windings for lead, _ in w.leads]
    tap = next((lead for lead in leads if lead.rpartition(".")[2] == "ct"), None)
    if tap is not None:
        return f"Tie the tap of {line.name} to gnd"
    if line.windings:
        return f"Tie one lead of {line.name} to gnd, or the middle of 2 x 100 ohm across it"
    return "Tie one end of the heater bus to gnd"


@rule(
    "heater.two-references",
    title="Heater winding tied to gnd twice",
    level="notice",
    states="the drawing alone; the current from the winding's voltage and resistance",
    needs="the winding's leads; its voltage and resistance for the current",
    criterion=f"Two leads of one winding joined by less than {LOOP_OHMS.value:g} ohm outside it; "
    "or a "
    "tap that is tied while an end is tied as well, by a wire or through a resistor: advice, "
    "notice where the tap is lifted or a resistor dissipates more than half again its share "
    "(0.1 W of 100 ohm on 6.3 V).",
    why="Two leads of one winding on gnd short the turns between them through the chassis: the "
    "transformer burns although every heater may still glow. A tied tap with a resistor pair "
    "across the winding as well is milder: the pair only pulls against the tap.",
    source=(PRACTICE, Citation("arithmetic", "of the shorted part")),
    limits="Chassis and gnd are one only where the drawing joins them. A short away from the "
    "winding is found only where the drawing joins two of its leads.",
    thresholds=(LOOP_OHMS, PAIR_OVER, heater_loops.PAIR_OHMS),
)
def two_references(case: Case) -> Iterator[Outcome]:
    """Each winding may have one reference."""
    graph = metal(case.circuit)
    for line in heater_lines(case.circuit):
        for winding in line.windings:
            loop = shorted_loop(graph, winding)
            if loop is not None:
                yield _short(case, winding, loop)
            else:
                yield from _doubled(case, winding)


def _short(case: Case, winding: Winding, loop: Loop) -> Finding:
    amps = loop.amperes
    rated = "" if loop.rating is None else f" (rated {amperes(loop.rating)})"
    burn = "" if amps is None else f": about {amperes(amps)}{rated}"
    message = (
        f"{winding.name}: {listed(loop.leads)} are joined outside the winding "
        f"{_through(loop.path_ohms)}, which shorts {volts(loop.emf)} of it{burn}"
    )
    known = {"loop": figure(loop.emf, "V"), "path": figure(loop.path_ohms, "ohm")}
    known |= {} if amps is None else {"short": figure(amps, "A")}
    known |= {} if loop.rating is None else {"limit": figure(loop.rating, "A")}
    remedy = f"Keep the reference at one lead only, best the tap, and free {loop.spare}"
    excess = amps / loop.rating if amps and loop.rating else 10.0
    return two_references.finding(
        case, (winding.name,), message, remedy, evidence=known, certainty="certain", excess=excess
    )


def _through(path_ohms: float) -> str:
    return "by plain wire" if path_ohms == 0 else f"through {ohms(path_ohms)}"


def _pair_watts(case: Case, winding: Winding) -> float | None:
    """The most that a resistor on an end of the winding dissipates when warm."""
    ends = {winding.nets[0], winding.nets[-1]}
    found = []
    for branch in case.circuit.branches.values():
        if branch.kind is PartKind.RESISTOR and {branch.a, branch.b} & ends:
            value, wave = branch.ohms, case.warm.current(branch.name)
            found += [wave.rms**2 * value] if value and wave is not None else []
    return max(found, default=None)


def _own_watts(winding: Winding, pair_ohms: float) -> float | None:
    """What each of a pair dissipates by its half of the winding alone (derived)."""
    half = (si(winding.volts, "volt") or 0.0) / 2
    return half**2 / pair_ohms if half and pair_ohms > 0 else None


def _doubled(case: Case, winding: Winding) -> Iterator[Outcome]:
    found = doubled_anchor(case.circuit, winding)
    if found is None:
        return
    leads = listed(f"{winding.name}.{lead}" for lead in found.leads)
    how = "to gnd by plain wire" if found.ohms == 0 else f"to gnd through {ohms(found.ohms)}"
    message = (
        f"{winding.name}: the tap is already tied to {net_text(case.circuit, found.tap_net)}, and "
        f"{leads} {found.verb} tied as well, {how}"
    )
    remedy = _undouble(case.circuit, winding, found)
    burnt = _pair_watts(case, winding)
    share = _own_watts(winding, found.ohms)
    hot = burnt is not None and share is not None and burnt > PAIR_OVER.value * share
    level = "notice" if found.lifted or hot else "advice"
    evidence = {"pair_resistance": figure(found.ohms, "ohm")} | (
        {} if burnt is None else {"pair_power": figure(burnt, "W")}
    )
    if burnt is not None and hot:
        message += f"; it takes {watts(burnt)} instead of {watts(share or 0.0)}"
    yield two_references.finding(
        case, (winding.name,), message, remedy, level=level, evidence=evidence
    )


def _undouble(circuit: Circuit, winding: Winding, found: Doubled) -> str:
    """A wire goes, a lamp belongs across the winding, of a pair of resistors one may choose."""
    leads = [f"{winding.name}.{lead}" for lead in found.leads]
    if found.ohms == 0:
        return f"Take the wire from {listed(leads)} to gnd away: the tap is the reference"
    nets = {circuit.points[lead] for lead in leads}
    lamps = [b.name for n in nets for b in circuit.at(n) if _lamp_out(b, winding)]
    if lamps:
        first, *_, last = (lead for lead, _ in winding.leads)
        return (
            f"Take {listed(lamps)} across the winding, from {winding.name}.{first} to "
            f"{winding.name}.{last}"
        )
    if len(leads) == 1:
        return f"Take the resistor from {leads[0]} to gnd out: the tap is the reference"
    return "Keep the tap and take the resistors out, or free the tap and keep the resistors"


def _lamp_out(branch: Branch, winding: Winding) -> bool:
    """Whether a lamp leads from an end of a winding to anything but its other end."""
    across = {branch.a, branch.b} == {winding.nets[0], winding.nets[-1]}
    return branch.kind is PartKind.LAMP and not across


@rule(
    "heater.reference-switched",
    title="Heater reference behind a switch",
    level="notice",
    states="each switch thrown",
    needs="the heater bus and the switches; no values",
    criterion="Throwing one switch leaves the powered heater bus without a DC path to gnd; or it "
    "takes the lift (more than 5 V) away while a cathode on the line stays up: advice, notice "
    "where a heater-cathode limit is then exceeded.",
    why="The reference of a heater bus must not come and go with a standby switch: in standby "
    "the heaters are hot, and a line that loses its tie drifts, or a lifted line drops to gnd "
    "just when a cathode may still stand high.",
    source=PRACTICE,
    limits="One switch is thrown at a time. A power switch, which takes the heaters' supply away "
    "as well, is not counted.",
    thresholds=(HALF, LIFTED_V),
)
def reference_switched(case: Case) -> Iterator[Outcome]:
    """The reference must hold with every switch thrown."""
    for line in heater_lines(case.circuit):
        net = line.net
        if not wants_reference(line) or not has_reference(case.circuit, net):
            continue
        for throw in throws_by_hand(case.circuit):
            change = Change(thrown=frozenset({throw}))
            if not _powered(case.circuit, line, change):
                continue
            if not has_reference(case.circuit, net, change):
                yield _lost(case, line, throw)
            else:
                yield from _dropped(case, line, throw)


def _powered(circuit: Circuit, line: HeaterLine, change: Change) -> bool:
    """Whether the line still has its power: a mains switch takes that away, and the danger."""
    if not line.windings:
        on_mains = has_reference(circuit, line.net, targets=frozenset({"line"}))
        return not on_mains or has_reference(circuit, line.net, change, targets=frozenset({"line"}))
    owner = line.windings[0].name.partition(".")[0]
    transformer = circuit.transformers[owner]
    if not transformer.wired:
        return True
    leads = [n for w in transformer.primaries for n in w.nets]
    mains = (frozenset({"line"}), frozenset({"neutral"}))
    return all(any(has_reference(circuit, n, change, targets=m) for n in leads) for m in mains)


def _strained(case: Case, line: HeaterLine, state: str, level: float) -> bool:
    """Whether a heater-cathode limit is exceeded with the line at a voltage in a state."""
    rooms = rooms_of(case, line, line.tubes, share=BARELY) if line.windings else {}
    return state in rooms and not rooms[state].holds(level)


def _cathode_up(solution: Solution, line: HeaterLine, volts_dc: float) -> bool:
    """Whether a cathode on the line still stands high, so that the lift is missed."""
    found = (reading(solution, s) for t in line.tubes for s in t.sections)
    return any(r is not None and (r.cathode_v or 0.0) > volts_dc for r in found)


def _lost(case: Case, line: HeaterLine, throw: str) -> Finding:
    switch = switch_of(throw)
    message = f"{line.name}: with {thrown_text((throw,))} the heater bus is tied to nothing"
    remedy = f"Take the reference from a point that {switch} does not switch"
    path = references(case.circuit, line.net)[:1]
    return reference_switched.finding(
        case,
        (line.name, switch),
        message,
        remedy,
        state=f"standby {throw}",
        certainty="certain",
        path=tuple(p.text for p in path),
    )


def _dropped(case: Case, line: HeaterLine, throw: str) -> Iterator[Outcome]:
    warm, switch = warm_volts(case, line.net), switch_of(throw)
    standby = case.solutions.get(f"standby {throw}")
    if warm is None or warm < LIFTED_V.value or standby is None or not standby.converged:
        return
    wave = standby.waves.get(line.net)
    if (
        wave is None
        or wave.dc > HALF.value * warm
        or not _cathode_up(standby, line, HALF.value * warm)
    ):
        return
    strained = _strained(case, line, standby.state.name, wave.dc)
    yield reference_switched.finding(
        case,
        (line.name, switch),
        f"{line.name}: lifted to {volts(warm)}, but only {volts(wave.dc)} with "
        + thrown_text((throw,)),
        f"Feed the lift divider from a point ahead of {switch}",
        state=standby.state.name,
        level="notice" if strained else "advice",
        evidence={"warm_dc": figure(warm, "V"), "standby_dc": figure(wave.dc, "V")},
    )


RULES: tuple[Rule, ...] = (
    no_reference,
    two_references,
    reference_switched,
)
