"""Rectifier wiring that shorts its winding, a switch where it hurts, and zeners too hot."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy import rectifiers
from coldcheck.anatomy.rectifiers import feeds, rectifier_tubes
from coldcheck.anatomy.roads import road, roads, switch_positions
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.limits import SUPPLY_WINDING_V
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.capacitor.over_voltage import line_factor
from coldcheck.rules.supply.gas import gas_rectifiers
from coldcheck.rules.supply.regulator import ballast
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    import networkx as nx

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution

USUAL_SHARE = Threshold("share of its rated power a zener is used to", 0.5, "", PRACTICE)
SHORTS_V = Threshold("winding voltage from which a diode across it is a short", 3.0, "V", PRACTICE)
LASTING = ("cold", "warm", "high line", "low line", "standby")


@rule(
    "supply.winding-shorted",
    title="Winding shorted by wire or through its own diodes",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone; every switch as drawn and thrown",
    needs="nothing",
    criterion=(
        "From one lead of a winding current gets to the other through plain wire, closed contacts "
        "or fuses, or through semiconductor diodes in their direction of conduction, and through "
        f"nothing that limits it. Diodes count from {SHORTS_V.value:g} V up."
    ),
    why=(
        "A bridge needs a winding whose middle is free. With the tap on gnd as well as the "
        "bridge's minus, each half of the winding is shorted through one diode, half of the "
        "time: the diode dies, then the transformer. A wire across any winding, also the "
        "smallest, is a short across them all."
    ),
    source=PRACTICE,
    limits=(
        "Only shorts through wires and small resistances are found; turns shorted inside a "
        "winding are not in a drawing."
    ),
    thresholds=(SHORTS_V,),
)
def winding_shorted(case: Case) -> Iterator[Outcome]:
    """Look for a road from one end of a winding to the other, in every position."""
    circuit, told = case.circuit, set[str]()
    for thrown in switch_positions(circuit):
        every, bare = roads(circuit, thrown), roads(circuit, thrown, diodes=False)
        for winding in (w for w in circuit.windings() if w.name not in told):
            found = [
                (v, path)
                for a, b, v in _spans(winding)
                for path in _both_ways(
                    every if v >= SHORTS_V.value and not winding.primary else bare, a, b
                )
            ]
            if found:
                told.add(winding.name)
                yield _shorted(case, winding, found, thrown)


def _spans(winding: Winding) -> Iterator[tuple[str, str, float]]:
    """Every two leads of a winding and the rms volts between them."""
    for i, j in combinations(range(len(winding.nets)), 2):
        parts = winding.branches[i:j]
        rms = sum(si(b.value, "volt") or 0.0 for b in parts)
        if rms > 0:
            yield winding.nets[i], winding.nets[j], rms


def _both_ways(graph: nx.DiGraph[str], a: str, b: str) -> Iterator[tuple[str, ...]]:
    for start, end in dict.fromkeys(((a, b), (b, a)) if a != b else ((a, b),)):
        path = road(graph, start, end)
        if path is not None:
            yield path


def _shorted(
    case: Case,
    winding: Winding,
    found: list[tuple[float, tuple[str, ...]]],
    thrown: frozenset[str],
) -> Finding:
    """One finding a winding; a short across a part is what the one across the whole comes from."""
    least = min(rms for rms, _ in found)
    paths = [path for rms, path in found if rms == least]
    parts = tuple(dict.fromkeys(p for path in paths for p in path))
    whole = least >= sum(si(b.value, "volt") or 0.0 for b in winding.branches)
    lead = _lead_on_gnd(case.circuit, winding, parts)
    return winding_shorted.finding(
        case,
        (winding.name, *([] if lead is None else [lead]), *parts),
        f"{volts(least)} of {winding.name} is shorted through {listed(parts) or 'plain wire'}"
        + ("" if lead is None else f", since {lead} is on gnd")
        + (f" with {thrown_text(thrown)}" if thrown else ""),
        _way_out(case, winding, parts, whole)
        if lead is None or len(winding.nets) > 2
        else _off_gnd(case, lead),
        blame=Blame.WIRING if lead is None else Blame.SLIP,
        state=thrown_text(thrown) if thrown else "drawing",
        evidence={"winding_rms": figure(least, "V"), "through": listed(parts) or "plain wire"},
        certainty="certain",
        path=paths[0],
    )


def _lead_on_gnd(circuit: Circuit, winding: Winding, parts: tuple[str, ...]) -> str | None:
    """The lead of a winding on gnd, where diodes from gnd to its ends short it.

    The diodes have their places there in a bridge and in a doubler: the lead has not.
    """
    diodes = [b for p in parts if (b := circuit.branches[p]).kind is PartKind.DIODE]
    if not diodes or any(GROUND not in (b.a, b.b) for b in diodes):
        return None
    ends = {b.other(GROUND) for b in diodes}
    charge = all(any(_leads_on(b, diodes) for b in circuit.at(end)) for end in ends)
    leads = [n for n, net in circuit.points.items() if net == GROUND and _is_of(winding, n)]
    return leads[0] if len(leads) == 1 and charge else None


def _leads_on(branch: Branch, diodes: list[Branch]) -> bool:
    return branch.kind is PartKind.DIODE and branch not in diodes


def _is_of(winding: Winding, point: str) -> bool:
    return point.rpartition(".")[0] == winding.name


def _off_gnd(case: Case, lead: str) -> str:
    """What to do with a lead on gnd: a bridge leaves it free, a doubler takes it to its middle."""
    diodes = (b for b in case.circuit.branches.values() if b.kind is PartKind.DIODE)
    bridge = any(b.a == b.b == GROUND for b in diodes)
    middle = _middle(case.circuit)
    if bridge:
        return f"Take {lead} off gnd: a bridge has its return through its own diodes"
    where = "the middle of its two capacitors" if middle is None else f"{middle}, its middle,"
    return f"Take {lead} off gnd: in a doubler it goes to {where} and nowhere else"


def _middle(circuit: Circuit) -> str | None:
    """A point between two polarised capacitors in series that nothing feeds."""
    for net in circuit.names:
        at = circuit.at(net)
        stacked = [b for b in at if b.kind is PartKind.CAPACITOR and b.plus is not None]
        rest = [b for b in at if b not in stacked and b.kind is not PartKind.RESISTOR]
        if len(stacked) == 2 and not rest and {b.plus == net for b in stacked} == {True, False}:
            return net
    return None


def _way_out(case: Case, winding: Winding, parts: tuple[str, ...], whole: bool) -> str:
    tapped = len(winding.nets) > 2
    if not any(case.circuit.branches[p].kind is PartKind.DIODE for p in parts):
        return f"Take away what joins the leads of {winding.name}: {listed(parts) or 'the wire'}"
    if tapped and not whole:
        return (
            "Take the tap off gnd: the bridge has its return; or use two diodes with the tap as "
            "the return, for half the voltage"
        )
    if tapped:
        return (
            f"Turn one of {listed(parts)} round: both diodes of a tapped winding point the same way"
        )
    return (
        f"Look at the direction of {listed(parts)}: at each end of the winding one diode of a "
        "bridge points in and one out"
    )


@rule(
    "supply.switch-ahead-of-rectifier",
    title="Switch between the winding and a hot rectifier tube",
    level="advice",
    states="the drawing alone",
    needs="nothing",
    criterion=(
        "A switch stands between a high-voltage winding (its ends or its tap) and the plates of "
        "a rectifier tube, or the return of its current."
    ),
    why=(
        "Thrown with the rectifier hot and the first capacitor empty, it makes the tube charge "
        "the capacitor in one stroke, which is what its hot-switching rating is about. Between "
        "the first capacitor and the load the same switch does no harm."
    ),
    source=Citation("web-standby"),
    limits=(
        "Hot-switching ratings are not on file, so the inrush (crest over supply resistance, the "
        "tube's own drop left out) is shown and not judged. Mercury-vapour tubes, which want such "
        "a switch, are left out."
    ),
    thresholds=(SUPPLY_WINDING_V, rectifiers.SERIES_OHM),
)
def switch_ahead_of_rectifier(case: Case) -> Iterator[Outcome]:
    """Look for switches next to a rectifier's winding."""
    circuit = case.circuit
    ends = {n for w in circuit.windings() if _is_high(w) for n in w.nets}
    delayed = {s.name for _, s in gas_rectifiers(circuit)}
    sections = [s for _, s in rectifier_tubes(circuit) if s.name not in delayed]
    plates = {s.electrodes[p] for s in sections for p in s.plates}
    inrush = _inrush(circuit, sections)
    for branch in circuit.branches.values():
        if not branch.traits.by_hand or not plates:
            continue
        nets = {branch.a, branch.b}
        if nets & (ends - {GROUND}) and nets & (plates | {GROUND}):
            yield switch_ahead_of_rectifier.finding(
                case,
                (branch.owner,),
                f"{branch.owner} switches the winding of a rectifier tube that may be hot"
                + (f": up to {amperes(inrush)} at the first crest" if inrush else ""),
                "Put the standby switch behind the first capacitor",
                evidence={"between": f"{branch.a} and {branch.b}"}
                | ({"inrush": figure(inrush, "A")} if inrush else {}),
                certainty="certain",
            )


def _inrush(circuit: Circuit, sections: list[Section]) -> float | None:
    """Crest of the winding over the supply resistance of a plate, amperes: an upper bound.

    ``None`` where a winding's resistance is not written. The tube's own drop is left out.
    """
    every = [f for s in sections for f in feeds(circuit, s) if not f.unknown and f.ohms > 0]
    return max((math.sqrt(2) * f.volts / f.ohms for f in every), default=None)


def _is_high(winding: Winding) -> bool:
    return not winding.primary and (si(winding.volts, "volt") or 0.0) > SUPPLY_WINDING_V.value


@rule(
    "supply.zener-overload",
    title="Zener diode too hot",
    level="notice",
    states="cold, warm, high line, low line and standby",
    needs="the power written on the drawing, and a solved state",
    criterion=(
        "The mean power in the zener is more than its rating; above half of it there is an "
        "advice. The worst state is the one in which its load draws nothing."
    ),
    why=(
        "A zener carries what its load leaves over. With cold tubes behind it that is "
        "everything, and a zener that gives up is a short."
    ),
    source=(Citation("drawing", "the power written"), Citation("practice", "half of it")),
    limits=(
        "Before the tubes draw the mains is taken at its highest where a single resistor feeds the "
        "zener from above; a heat sink and the ambient temperature are not known."
    ),
    thresholds=(USUAL_SHARE, UNKNOWN),
)
def zener_overload(case: Case) -> Iterator[Outcome]:
    """Compare each zener's heat with its rating."""
    zeners = [b for b in case.circuit.branches.values() if b.kind is PartKind.ZENER]
    reason = unsolved(case)
    for branch in zeners:
        rated = si(branch.part.power, "watt") if branch.part is not None else None
        if rated is None or reason is not None:
            yield zener_overload.not_judged((branch.name,), reason or "no power is written")
            continue
        for solution in case.solved(*LASTING):
            power = heat(case, solution, branch)
            if power is not None and power > USUAL_SHARE.value * rated:
                yield _too_hot(case, solution, branch, power, rated)


def heat(case: Case, solution: Solution, branch: Branch) -> float | None:
    """Mean power, watts; before the tubes draw also what the mains at its highest would add.

    Where one resistor feeds the zener, its supply follows the mains and the zener takes the rest.
    """
    across, through = solution.between(branch.a, branch.b), solution.current(branch.name)
    if across is None or through is None:
        return None
    heat = float((across.samples * through.samples).mean())
    rise, feeding = line_factor(case, solution) - 1, ballast(case.circuit, branch.b)
    if rise and heat > 0 and feeding is not None:
        supply, resistance = solution.wave(feeding.other(branch.b)), feeding.ohms
        if supply is not None and resistance:
            heat += abs(across.dc) * rise * abs(supply.dc) / resistance
    return heat


def _too_hot(case: Case, solution: Solution, branch: Branch, power: float, rated: float) -> Finding:
    over = power > rated
    limit = rated if over else USUAL_SHARE.value * rated
    return zener_overload.finding(
        case,
        (branch.name,),
        f"{branch.name} turns {watts(power)} into heat, rated {watts(rated)}",
        f"Raise the series resistor, or use a zener for {watts(power / USUAL_SHARE.value)} or more",
        state=solution.state.name,
        level="notice" if over else "advice",
        evidence={"power": figure(power, "W"), "rated": figure(rated, "W")},
        limit=figure(limit, "W"),
        certainty=certainty(power / limit),
        excess=power / limit,
    )


RULES = (
    winding_shorted,
    switch_ahead_of_rectifier,
    zener_overload,
)
