"""The steps that need no power, and the one after switch-off."""

from __future__ import annotations

from math import ceil, inf
from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import shown_name
from coldcheck.bench.plan.cold import cold_checks
from coldcheck.bench.plan.model import DC, Caution, Check, Step
from coldcheck.bench.plan.off import discharge_resistor
from coldcheck.bench.plan.places import (
    known,
    tube_faults,
    tube_places,
    wiring_faults,
    wiring_places,
)
from coldcheck.circuit.paths import NO_CHANGE, Change
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.solve.cycle.network import plain
from coldcheck.solve.off.discharge import TOUCH_V

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.bench.plan.model import Charge
    from coldcheck.circuit.model import Branch, Circuit

EMPTY_V = 1.0
"""Volts up to which a capacitor counts as empty: an ohmmeter reads wrong above, and may be hurt."""

LARGE_F = 1e-6


def empty_step(circuit: Circuit, charges: Sequence[Charge], *, mains: bool) -> Step:
    """Unplugged: every capacitor that may hold a charge is measured, and drained if it does."""
    pull = (
        "Pull the plug and lay it where you can see it: the power switch alone is not enough."
        if mains
        else "Switch off every bench supply and take its leads off the circuit."
    )
    fitted = (
        "Take every tube out and mark which socket it belongs to." if circuit.tubes else "",
        "Connect the speaker, or a resistor in its place." if circuit.outputs else "",
    )
    return Step(
        "empty",
        "Unplugged: make sure that nothing is charged",
        False,
        do=tuple(s for s in (pull, *_drained(circuit, charges), *fitted) if s),
        checks=tuple(_empty(circuit, b) for b in _large(circuit)),
    )


def _large(circuit: Circuit) -> list[Branch]:
    """Capacitors of a microfarad or more, or of unknown value."""
    return [
        b
        for b in circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and b.a != b.b and plain(b.value, "farad", 1.0) >= LARGE_F
        and plain(b.part.voltage if b.part else None, "volt", TOUCH_V) >= TOUCH_V
    ]  # fmt: skip


def _empty(circuit: Circuit, branch: Branch) -> Check:
    plus = branch.plus or branch.a
    return Check(
        shown_name(circuit, plus), shown_name(circuit, branch.other(plus)), DC, 0.0, -EMPTY_V,
        EMPTY_V, -EMPTY_V, EMPTY_V, "it still holds a charge: drain it and measure again",
        note=branch.name,
    )  # fmt: skip


def _drained(circuit: Circuit, charges: Sequence[Charge]) -> tuple[str, ...]:
    resistor = discharge_resistor(circuit, charges)
    if resistor is None:
        return ("Measure across every capacitor, drawn or not, before you touch anything.",)
    ohms, seconds = resistor
    return (
        "Check the meter on a voltage you know, then measure each capacitor below. One that holds "
        f"a charge is drained through {engineering(ohms, 'ohm')}, 10 W, on insulated leads held "
        f"across it for {max(seconds, 1.0):.0f} s, not with a screwdriver; then measure again.",
    )


def cold_step(circuit: Circuit) -> Step:
    """All tubes out: the wiring."""
    change = Change(pulled=frozenset(circuit.tubes))
    checks, unseen = cold_checks(
        circuit, change, known(circuit, wiring_places(circuit)), wiring_faults(circuit)
    )
    out = ", all tubes out" if circuit.tubes else ""
    return Step(
        "cold",
        f"Unplugged: resistances by the ohmmeter{out}",
        False,
        do=(
            *_without_power(circuit),
            "Outside its range: no power before you know why. Below: a short or a wrong part; "
            "above: an open joint or a wrong part. Each line says which faults it would show, and "
            "what it would then read.",
        ),
        checks=checks,
        missing=(
            "What does not show here: capacitors and insulation that leak or break down only under "
            "voltage, shorted turns inside a winding, a reading that is right by accident.",
        ),
        unseen=unseen,
    )


def _without_power(circuit: Circuit) -> tuple[str, ...]:
    """That an ohmmeter and power never meet: ``line`` in a table is a pin in the hand."""
    if "line" not in circuit.points and "neutral" not in circuit.points:
        return ("Nothing is powered in this step; set the switches as they stand in operation.",)
    return (
        "The plug stays out of the outlet, lying where you see it: line and neutral below are the "
        "pins of that plug, never the outlet's. Set the switches as they stand in operation, the "
        "power switch closed: without the plug nothing comes on.",
    )


def tubes_step(circuit: Circuit) -> Step | None:
    """The tubes in for the first time, still unplugged: electrodes that touch."""
    places = known(circuit, tube_places(circuit))
    checks, unseen = cold_checks(circuit, NO_CHANGE, places, tube_faults(circuit))
    if not checks:
        return None
    return Step(
        "cold-tubes-in",
        "Unplugged: resistances with every tube in its socket",
        False,
        do=(
            "Nothing is powered yet: the plug, or the supplies' leads, lie where you see them.",
            "Put every tube in for these readings, heaters cold, then take them all out again.",
        ),
        checks=checks,
        unseen=unseen,
        missing=(
            "A short that shows only when a tube is hot, or under voltage, does not show here.",
        ),
    )


def off_step(charges: Sequence[Charge], unknown: Sequence[str], *, mains: bool) -> Step:
    """After switch-off: what stays, how long, where to verify."""
    end = "Switch off and pull the plug." if mains else "Switch off every bench supply."
    never = [c.capacitor for c in charges if c.seconds == inf]
    cautions = []
    if never:
        cautions.append(
            Caution(
                "warning", f"Nothing is sure to drain {', '.join(never)}: drain by hand, measure."
            )
        )
    wait = max((c.high for c in charges if c.high != inf), default=0.0)
    do = [end]
    if wait:
        do.append(
            f"Wait {ceil(wait)} s or more, then measure: the times are from the worst of all "
            "states and switch positions looked at, tubes cold or out (they then drain nothing)."
        )
    if charges:
        do.append(
            "Measure across each capacitor of the list, not only from its point to gnd, and again "
            "a minute later: an electrolytic creeps up again after a quick discharge."
        )
    elif not unknown:
        none = f"No capacitor was found to hold more than {TOUCH_V:.0f} V; measure all the same."
        do.append(none)
    if unknown:
        do.append(
            f"What {', '.join(unknown)} may hold could not be worked out: take every one as "
            "charged, drain it through the resistor and measure."
        )
    return Step(
        "off", "Switched off: what stays charged, and how long", False, tuple(cautions), tuple(do),
    )  # fmt: skip
