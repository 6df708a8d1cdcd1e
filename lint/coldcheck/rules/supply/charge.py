"""The charge left in a supply after switch-off, and the bleeder that would drain it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import (
    in_series,
    net_text,
    reading,
    resistors_across,
    resistors_at,
)
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred_below
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity, si
from coldcheck.drawing.wording import listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.supply.unsettled import UNWRITTEN_V, charging_states, unsettled
from coldcheck.solve.off.discharge import parted_by, slowest
from coldcheck.solve.solution import COLD
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.off.discharge import Decay

GRAVE_J = Threshold("energy above which a charge can injure, not only startle", 0.35, "J", PRACTICE)
STARTLES_J = Threshold("energy below which a charge is felt at most", 0.05, "J", PRACTICE)
SMALL_J = Threshold("energy that hot tubes may be left to drain", 1.0, "J", PRACTICE)
SMALL_V = Threshold("volts that hot tubes may be left to drain", 200.0, "V", PRACTICE)
"""Sets on the mains without a transformer have this and no bleeder (common practice)."""

HOT_S = 5.0
"""Cathodes give current for ten seconds and more after switch-off."""

LIMIT_S = Threshold("time a capacitor stays charged", 60.0, "s", PRACTICE)
GOAL_S = 30.0
MOST_BLEEDERS = 20


@rule(
    "supply.no-bleeder",
    title="Charge left in the supply after switch-off",
    level="danger",
    states=(
        "off: charged in any solved state, before the tubes draw and in standby with the mains at "
        "the top of its tolerance (with a tube pulled only where the warm voltage is not known); "
        "tubes cold, every switch in either position"
    ),
    needs="a solved state, and the values of the capacitors and of what drains them",
    criterion=(
        "A capacitor of more than 0.1 uF at more than 60 V, above 450 V one that holds more than "
        "45 microcoulomb, takes more than 60 s to fall to 60 V through resistances, or never "
        "does; a caution where it only startles, advice where it is hardly felt. Where no state "
        "tells its voltage, that is said, unless it falls in time even from its working voltage. "
        "Advice too where only a tube has charged it, and the tube below that one empties it; and "
        f"where it holds no more than {SMALL_J.value:g} J at no more than {SMALL_V.value:g} V and "
        f"the tubes it feeds empty it within {HOT_S:g} s while they are hot."
    ),
    why=(
        "A filter capacitor without a drain stays charged for hours with the set unplugged. "
        "Whoever reaches in gets the full voltage. Tubes drain it only while they are hot and "
        "in their sockets, so they do not count."
    ),
    source=(
        Citation("iec-62368-1", "table 4, 60 V DC"),
        Citation("iec-61010-1", "cl. 6.3.1"),
        Citation("iec-60335-1", "cl. 8.1.4, 0.1 uF up to 450 V, 45 microcoulomb above"),
        Citation("practice", "the minute"),
    ),
    limits=(
        "Capacitors drain through what the drawing shows; leakage is not counted on, nor "
        "dielectric absorption, which can bring volts back after a discharge. A part that has "
        "failed open is not assumed here. The meter decides, not this figure."
    ),
    thresholds=(GRAVE_J, LIMIT_S, SMALL_J, SMALL_V, STARTLES_J, TOUCH_DC, UNWRITTEN_V),
)
def no_bleeder(case: Case) -> Iterator[Outcome]:
    """Time every charged capacitor's way down to 60 V."""
    reason = unsolved(case)
    if reason is not None:
        names = tuple(
            b.name for b in case.circuit.branches.values() if b.kind is PartKind.CAPACITOR
        )
        if names:
            yield no_bleeder.not_judged(names, reason)
        return
    yield from _undrained_groups(case)
    yield from unsettled(no_bleeder, case, LIMIT_S.value)


def _undrained_groups(case: Case) -> Iterator[Outcome]:
    """One finding a missing bleeder: each is imagined fitted before the next one is looked for."""
    circuit, charging = case.circuit, charging_states(case)
    for turn in range(MOST_BLEEDERS):
        groups = _together([d for d in slowest(circuit, charging) if d.seconds > LIMIT_S.value])
        if turn == 0:
            yield from (_perhaps(g) for g in groups if _undrawn(g))
        sure = [g for g in groups if not _undrawn(g)]
        if not sure:
            return
        yield _undrained(case, sure[0])
        main = sure[0][0].capacitor
        for can in (main, *in_series(circuit, main)):
            circuit = _with_bleeder(circuit, can, _bleeder(sure[0])[0])


def _with_bleeder(circuit: Circuit, capacitor: Branch, resistance: float) -> Circuit:
    """The circuit with a resistor across a capacitor."""
    name = f"bleeder across {capacitor.name}"
    value = quantity(resistance, "ohm")
    added = replace(capacitor, name=name, kind=PartKind.RESISTOR, value=value, plus=None)
    return replace(circuit, branches={**circuit.branches, name: added})


def _undrawn(group: list[Decay]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(n for d in group for n in d.undrawn))


def _perhaps(group: list[Decay]) -> Outcome:
    names = tuple(d.capacitor.name for d in group)
    return no_bleeder.not_judged(names, f"whether {listed(_undrawn(group))} drains it is not known")


def _together(slow: list[Decay]) -> list[list[Decay]]:
    """Decays of capacitors that a resistance joins, the one with the most energy first."""
    groups: list[list[Decay]] = []
    for decay in sorted(slow, key=lambda d: -d.joules):
        for group in groups:
            if decay.thrown == group[0].thrown and decay.capacitor.name in group[0].group:
                group.append(decay)
                break
        else:
            groups.append([decay])
    return groups


def _level(joules: float) -> str | None:
    """The rule's own where it can injure, a caution where it startles, advice below."""
    if joules >= GRAVE_J.value:
        return None
    return "caution" if joules >= STARTLES_J.value else "advice"


def _drained_hot(case: Case, capacitor: Branch) -> str | None:
    """The tube that empties a capacitor which only tubes have filled.

    Cold tubes leave it empty, and one that conducts hangs with its plate right on it: the output
    capacitor of a follower over a tube.
    """
    cold = [s.between(capacitor.a, capacitor.b) for s in case.solved(COLD)]
    if not cold or any(w is None or abs(w.high) > TOUCH_DC.value for w in cold):
        return None
    at = [p for n in (capacitor.a, capacitor.b) for p in case.circuit.electrodes_at(n)]
    cathodes = {s.name for s, e in at if e == "cathode"}
    for section, electrode in at if cathodes else ():
        found = reading(case.warm, section) if case.warm.converged else None
        if electrode == "plate" and found is not None and found.conducts:
            return section.name
    return None


def _drained_by_all(case: Case, group: list[Decay]) -> str | None:
    """The tubes that empty a small supply while hot, so that only a short run leaves it charged."""
    main = group[0]
    if main.thrown or main.joules > SMALL_J.value or abs(main.volts) > SMALL_V.value:
        return None
    ends = {main.capacitor.a, main.capacitor.b} - set(LANDMARKS)
    nets = set(reach(case.circuit, ends, LANDMARKS))
    fed = [s for _, s in working(case.circuit) if {s.net("plate"), s.net("screen")} & nets]
    found = [r for s in fed if (r := case.warm.readings.get(s.name)) is not None]
    amps = sum(r.plate_ma + r.screen_ma for r in found) / 1e3 if case.warm.converged else 0.0
    farads = sum(d.capacitor.farads or 0.0 for d in group)
    quick = amps * HOT_S > farads * (abs(main.volts) - TOUCH_DC.value)
    return listed(dict.fromkeys(s.tube for s in fed)) if quick else None


def _undrained(case: Case, group: list[Decay]) -> Finding:
    main = group[0]
    hot_tube = _drained_hot(case, main.capacitor) or _drained_by_all(case, group)
    branch = main.capacitor
    hot = branch.a if branch.a != "gnd" else branch.b
    state = "off" if not main.thrown else f"off, {thrown_text(main.thrown)}"
    never = math.isinf(main.seconds)
    slow = None if never else _across(case.circuit, branch)
    how = "nothing drains it" if never else f"it takes {main.seconds:.0f} s to fall to 60 V"
    if slow is not None:
        how += f" through {slow.name}, {ohms(si(slow.value, 'ohm') or 0.0)}"
    bleeder, power = _bleeder(group)
    parted = _parted(case, main)
    drains, contact = parted if parted is not None else ((), ())
    cans = tuple(d.capacitor.name for d in group)
    own = (slow.name,) if slow is not None else ()
    shared = _shared(case, group, bleeder)
    beside, fit = shared if shared is not None else ((), "")
    fit = fit or (
        f"Make {slow.name} {ohms(bleeder)}: about"
        if slow is not None
        else f"Put {ohms(bleeder)} from {net_text(case.circuit, hot)} to the other end of "
        f"{branch.name}: about"
    ) + (
        f" {GOAL_S:.0f} s to 60 V, {watts(power)} burnt, so a resistor of "
        f"{_body(power, abs(main.volts))}; no switch between them"
    )
    return no_bleeder.finding(
        case,
        tuple(dict.fromkeys((*drains, *contact, *cans, *own, *beside))),
        f"{branch.name} is left with {volts(abs(main.volts))} "
        f"({main.joules:.2g} J) at switch-off and {how}"
        + (f" but {hot_tube} while hot and in the socket" if hot_tube else "")
        + (_behind(case.circuit, drains, contact) if parted else ""),
        f"Put {drains[0]} right across {branch.name}, ahead of {contact[-1]}. Or: {fit}"
        if drains
        else fit,
        state=state,
        level="advice" if hot_tube else _level(main.joules),
        evidence={
            "voltage": figure(abs(main.volts), "V"),
            "energy": figure(main.joules, "J"),
            "time": "never" if never else figure(main.seconds, "s"),
            "charged_in": main.charged_in,
            "bleeder": figure(bleeder, "ohm"),
            "bleeder_power": figure(power, "W"),
        },
        limit=LIMIT_S.figure,
        certainty="certain",
        excess=1e3 if never else main.seconds / LIMIT_S.value,
    )


def _parted(case: Case, main: Decay) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """The resistors that would drain a capacitor, the largest first; what opens between, its lead.

    Each would do it alone; a load has fewer ohms than a bleeder, and drains it so much sooner that
    the bleeder behind the contact is not among what drains most.
    """
    found = parted_by(case.circuit, main, charging_states(case), LIMIT_S.value)
    if found is None:
        return None
    contact, then = found
    farads, start = main.capacitor.farads or 0.0, abs(main.volts)
    ends = {contact.a, contact.b} - set(LANDMARKS)
    beside = (b.name for n in sorted(ends) for b in resistors_at(case.circuit, n)
              if b.other(n) in LANDMARKS)  # fmt: skip
    named = [case.circuit.branches.get(n) for n in dict.fromkeys((*then.drained_by, *beside))]
    known = [(b, b.ohms or 0.0) for b in named if b and b.kind is PartKind.RESISTOR]
    most = LIMIT_S.value / (farads * math.log(start / TOUCH_DC.value))
    alone = sorted((x for x in known if x[1] <= most), key=lambda x: -x[1])
    lead = contact.name if contact.name != contact.owner else None
    return tuple(b.name for b, _ in alone), (contact.owner, *((lead,) if lead else ()))


def _shared(case: Case, group: list[Decay], bleeder: float) -> tuple[tuple[str, ...], str] | None:
    """For one of two in series: what leaves their shares alike.

    A bleeder across one of them alone would put nearly all the voltage on the other. With it the
    resistor across the other, where its like is all that is missing.
    """
    circuit, branch = case.circuit, group[0].capacitor
    other = next(iter(in_series(circuit, branch)), None)
    if other is None:
        return None
    there = [b for b in resistors_across(circuit, other) if b.value]
    names = tuple(b.name for b in there)
    if len(there) == 1 and not resistors_across(circuit, branch):
        value = si(there[0].value, "ohm") or 0.0
        found = slowest(_with_bleeder(circuit, branch, value), charging_states(case))
        slow = {d.capacitor.name: d.seconds for d in found}
        seconds = max(slow.get(d.capacitor.name, 0.0) for d in group)
        if seconds <= LIMIT_S.value:
            return names, (
                f"Put {ohms(value)} across {branch.name} as {names[0]} is across {other.name}: "
                f"they share the voltage then, and it falls to 60 V in {seconds:.0f} s"
            )
    old = [b.name for b in (*resistors_across(circuit, branch), *there)]
    return (), (
        f"Put {ohms(bleeder)} across {branch.name} and the same across {other.name}"
        + (f" in place of {listed(old)}" if old else "")
        + f" ({watts(group[0].volts ** 2 / bleeder)} in each at most): across one alone it would "
        "put the other's voltage up; no switch between them"
    )


def _behind(circuit: Circuit, drains: tuple[str, ...], contact: tuple[str, ...]) -> str:
    """Why what is drawn to drain it does not."""
    relay = contact[0] in circuit.relays
    what = f"{listed(drains)} would drain it" if drains else "what would drain it is drawn"
    opens = "opens at switch-off" if relay else "is open"
    return f": {what}, but {contact[-1]} between them {opens}"


def _across(circuit: Circuit, capacitor: Branch) -> Branch | None:
    """The bleeder there is: the least resistor of known value right across a capacitor."""
    found = [b for b in resistors_across(circuit, capacitor) if b.value]
    return min(found, key=lambda b: b.ohms or 0.0, default=None)


def _bleeder(group: list[Decay]) -> tuple[float, float]:
    farads = sum(d.capacitor.farads or 0.0 for d in group)
    return bleeder_for(farads, abs(group[0].volts))


def bleeder_for(farads: float, start: float) -> tuple[float, float]:
    """The E12 resistance that brings ``farads`` from ``start`` to 60 V within 30 s; its watts.

    t = R C ln(V0 / 60).
    """
    exact = GOAL_S / (farads * math.log(start / TOUCH_DC.value))
    chosen = preferred_below(exact)
    return chosen, start**2 / chosen


def _body(power: float, across: float) -> str:
    """A body that runs at no more than half its power and stands the voltage."""
    sizes = (
        (0.5, 350.0), (1.0, 500.0), (2.0, 500.0), (3.0, 500.0), (5.0, 750.0), (10.0, 1000.0),
    )  # fmt: skip
    for watt, volt in sizes:
        if watt >= 2 * power and volt >= across:
            return f"{watt:g} W or more"
    return "several in series, each within its voltage"


RULES = (no_bleeder,)
