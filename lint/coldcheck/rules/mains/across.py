"""What is put across the mains though it is not made for it: loads, and the wrong winding."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import mains_leads, service
from coldcheck.anatomy.roads import wired_to
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, volts, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transformer, Winding
    from coldcheck.judge.finding import Outcome

NEVER = (PartKind.SPEAKER, PartKind.SOURCE)
"""Kinds that are on the mains by mistake alone."""

LEAST_SHARE = Threshold("rated voltage of a part on the mains, at least", 85.0, "%", PRACTICE)
"""Of the mains: a 110 V lamp or heater on 120 V is within it, a 100 V one is not."""


@rule(
    "mains.unfit-part",
    title="Part across the mains that is not made for it",
    level="danger",
    states="the drawing alone; switches count as closed",
    needs="both mains leads on the drawing",
    criterion=(
        "A speaker, a battery or an output transformer's winding has its ends in the two mains "
        "leads, or in the line's and on earth, also behind a resistor of up to 1 kohm. Or a lamp "
        "or heater of less than 85 % of the mains voltage, a light-emitting or zener diode, a "
        "thermistor, or a choke that would carry more than its current, is across them with "
        "nothing in series (caution)."
    ),
    why=(
        "The mains does not care what is drawn: 120 V across 8 ohm is 1.8 kW. The part burns or "
        "bursts, and a speaker's terminals, frame and leads are within reach."
    ),
    source=(Citation("arithmetic", "Ohm's law"), Citation("drawing", "ratings written"), PRACTICE),
    limits=(
        "Resistors are judged by resistor.over-power and capacitors by mains.capacitor-class; a "
        "lamp or choke without its figures is not judged. Series heater strings are not looked at."
    ),
    thresholds=(
        galvanic.SERIES_OHM,
        LEAST_SHARE,
    ),
)
def unfit_part(case: Case) -> Iterator[Outcome]:
    """Look at every part with one end in each lead."""
    circuit = case.circuit
    leads = mains_leads(circuit)
    if len(leads) < 2:
        return
    _with_earth(circuit, leads)
    outputs = {b.name: o.name for o in circuit.outputs.values() for _, b in o.branches}
    near = {pole: wired_to(circuit, circuit.points[pole]) for pole in leads}
    _with_earth(circuit, near)
    for branch in circuit.branches.values():
        if (branch.kind in NEVER or branch.name in outputs) and _across(branch, leads):
            yield _never(case, branch, outputs.get(branch.name, branch.name))
        elif _across(branch, near) and (said := _unrated(circuit, branch)):
            yield (
                _overloaded(case, branch, said)
                if said[0]
                else unfit_part.not_judged(
                    (branch.owner,), "it is across the mains, and its ratings are not written"
                )
            )


def _with_earth(circuit: Circuit, leads: dict[str, frozenset[str]]) -> None:
    """Count earth as neutral: the house joins them."""
    if "earth" in circuit.points:
        leads["neutral"] |= {circuit.points["earth"]}


def _across(branch: Branch, leads: dict[str, frozenset[str]]) -> bool:
    line, neutral = leads["line"], leads["neutral"]
    return any(
        {a} <= line and {b} <= neutral and a != b
        for a, b in ((branch.a, branch.b), (branch.b, branch.a))
    )


def _never(case: Case, branch: Branch, name: str) -> Outcome:
    mains, _ = service(case.circuit)
    ohm = branch.ohms if branch.kind is PartKind.SPEAKER else None
    rated = si(branch.part.power, "watt") if branch.part else None
    burnt = f": {watts(mains**2 / ohm)}" if ohm else ""
    evidence: dict[str, Figure | str] = {"voltage": figure(mains, "V")}
    if ohm:
        evidence["power"] = figure(mains**2 / ohm, "W")
    return unfit_part.finding(
        case,
        (name,),
        f"{name} is across the mains, {volts(mains)}{burnt}"
        + (f", rated {watts(rated)}" if rated and ohm else "")
        + ", and what hangs on it is live",
        f"Take {name} off the mains"
        + (
            ""
            if branch.kind is PartKind.SOURCE
            else ": a speaker is driven by an output transformer's secondary, one end of it on gnd"
        ),
        evidence=evidence,
        limit=figure(rated, "W") if rated and ohm else None,
        certainty="certain",
    )


def _unrated(circuit: Circuit, branch: Branch) -> tuple[str, Figure | None, Figure | None] | None:
    """What is wrong with it (empty: its ratings are not written), what it gets, what it stands."""
    mains, hertz = service(circuit)
    match branch.kind:
        case PartKind.LAMP | PartKind.HEATER:
            rated = _rated_volts(circuit, branch)
            if rated is not None and rated >= LEAST_SHARE.value / 100 * mains:
                return None
            said = f"is made for {volts(rated)}" if rated else ""
            return said, figure(mains, "V"), figure(rated, "V") if rated else None
        case PartKind.LED | PartKind.ZENER:
            return "has nothing in series that limits its current", figure(mains, "V"), None
        case PartKind.THERMISTOR:
            return "is a series part, and nothing is in series", figure(mains, "V"), None
        case PartKind.INDUCTOR:
            return _choke(branch, mains, hertz)
        case _:
            return None


def _rated_volts(circuit: Circuit, branch: Branch) -> float | None:
    tube = circuit.tubes.get(branch.owner)
    if branch.kind is PartKind.HEATER and tube is not None and tube.heater is not None:
        return si(tube.heater.volts, "volt")
    return si(branch.part.voltage, "volt") if branch.part else None


def _choke(
    branch: Branch, mains: float, hertz: float
) -> tuple[str, Figure | None, Figure | None] | None:
    henries, rated = branch.henries, None
    if branch.part is not None:
        rated = si(branch.part.current, "ampere")
    if henries is None or rated is None:
        return "", None, None
    amps = mains / math.hypot(si(branch.resistance, "ohm") or 0.0, 2 * math.pi * hertz * henries)
    if amps <= rated:
        return None
    return f"would carry {amperes(amps)}", figure(amps, "A"), figure(rated, "A")


def _overloaded(
    case: Case, branch: Branch, said: tuple[str, Figure | None, Figure | None]
) -> Outcome:
    text, value, limit = said
    mains, _ = service(case.circuit)
    over = value.value / limit.value if value is not None and limit is not None else 1.0
    return unfit_part.finding(
        case,
        (branch.owner,),
        f"{branch.owner} is straight across the mains, {volts(mains)}, and {text}",
        f"Take {branch.owner} off the mains leads and feed it from the winding it is made for",
        level="caution",
        evidence={"across": value} if value is not None else {},
        limit=limit,
        certainty="certain",
        excess=over,
    )


@rule(
    "mains.on-secondary",
    title="Mains on a winding that is no primary",
    level="danger",
    states="the drawing alone; switches count as closed",
    needs="both mains leads on the drawing, and the windings' voltages",
    criterion=(
        "The two ends of a secondary winding, or of a part of it, are in the two mains leads, or "
        "one in the line's and one on earth."
    ),
    why=(
        "A transformer works both ways. On its 6.3 V winding the mains is a short; on its high-"
        "voltage winding it turns the primary's leads, which nobody insulates against, into a "
        "second mains, and every other winding is off by the same factor."
    ),
    source=Citation("arithmetic", "turns ratio: V1 / V2 = n1 / n2"),
    limits=(
        "A winding in series with the primary (to buck or boost the mains) is not across the "
        "leads and is left alone. Losses and saturation, which come first, are not reckoned."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def on_secondary(case: Case) -> Iterator[Outcome]:
    """Look for windings with one end in each lead."""
    circuit = case.circuit
    leads = mains_leads(circuit)
    if len(leads) < 2:
        return
    _with_earth(circuit, leads)
    for transformer in circuit.transformers.values():
        for winding in transformer.secondaries:
            rated = _span(winding, leads)
            if rated:
                yield _fed_backwards(case, transformer, winding, rated)


def _span(winding: Winding, leads: dict[str, frozenset[str]]) -> float | None:
    """The rated volts of the part of a winding that is across the mains."""
    nets = winding.nets
    for i in range(len(nets)):
        for j in range(i + 1, len(nets)):
            for a, b in ((nets[i], nets[j]), (nets[j], nets[i])):
                if a in leads["line"] and b in leads["neutral"] and a != b:
                    return sum(si(x.value, "volt") or 0.0 for x in winding.branches[i:j])
    return None


def _fed_backwards(case: Case, transformer: Transformer, winding: Winding, rated: float) -> Outcome:
    mains, _ = service(case.circuit)
    others = [w for w in transformer.windings if w is not winding]
    worst = max(others, key=lambda w: si(w.volts, "volt") or 0.0, default=None)
    there = (si(worst.volts, "volt") or 0.0) * mains / rated if worst is not None else 0.0
    then = f": {worst.name} would be at {volts(there)}" if worst is not None else ""
    first = transformer.primaries[0].name if transformer.primaries else "the primary"
    return on_secondary.finding(
        case,
        (winding.name, transformer.name),
        f"the mains, {volts(mains)}, is on {winding.name}, made to give {volts(rated)}{then}",
        f"Put the mains on {first} and nothing but its load on {winding.name}",
        evidence={"mains": figure(mains, "V"), "other_winding": figure(there, "V")},
        limit=figure(rated, "V"),
        certainty="certain",
        excess=max(mains / rated, 1.0),
    )


RULES: tuple[Rule, ...] = (
    unfit_part,
    on_secondary,
)
