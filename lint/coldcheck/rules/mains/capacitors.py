"""Capacitors on the mains leads: to the chassis, their class, and the pins of the plug."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import (
    mains_drawn,
    mains_leads,
    service,
    touch_ohms,
    transformerless,
)
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.touchable import TERMINAL, touchables
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred, preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_A, TOUCH_DC
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.mains.switch import switched_to_metal
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.touchable import Touchable
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

PLUG_S = Threshold(
    "time after which the pins of a plug may be touched",
    2.0,
    "s",
    Citation("iec-62368-1", "cl. 5.5.2.2"),
)
SMALL_F = Threshold(
    "capacitance across the mains that may stay charged",
    0.1e-6,
    "F",
    Citation("iec-60950-1", "cl. 2.1.1.7"),
)
EARTH_A = Threshold(
    "current in the protective earth, rms", 3.5e-3, "A", Citation("iec-60950-1", "cl. 5.1, class I")
)
LET_GO_A = Threshold(
    "current from which a hand may not let go, rms",
    5e-3,
    "A",
    Citation("practice", "earth-leakage protectors for persons trip at 4 to 6 mA in the US"),
)
STOCK_VAC = (275.0, 310.0, 440.0)


def _capacitors(circuit: Circuit) -> list[Branch]:
    return [b for b in circuit.branches.values() if b.kind is PartKind.CAPACITOR and b.a != b.b]


@rule(
    "mains.capacitor-to-chassis",
    title="Capacitor from the mains to something one can touch",
    level="danger",
    states="the drawing alone; switches count as closed",
    needs="the mains side on the drawing, and the capacitor's class",
    criterion=(
        "A capacitor joins a mains lead to `chassis`, `gnd` or `earth` and is not of class Y, or "
        "passes more than 0.5 mA at the mains voltage into metal that is not earthed. In a set "
        "without a mains transformer one that alone keeps a jack off the mains, and is not of "
        "class Y, is a warning."
    ),
    why=(
        "Old sets have a paper capacitor here against hum. When it shorts, and paper ones do, "
        "the chassis and the strings of the guitar are on the line. A class Y capacitor is built "
        "and tested to fail open."
    ),
    source=(
        Citation("iec-60384-14", "class Y"),
        Citation("iec-60335-1", "cl. 8.1.4, touch current"),
    ),
    limits=(
        "The current is that of the capacitance at nominal mains. Class is what is written: "
        "an old part marked with a voltage only counts as no class at all."
    ),
    thresholds=(TOUCH_A, galvanic.SERIES_OHM),
)
def capacitor_to_chassis(case: Case) -> Iterator[Outcome]:
    """Look at every capacitor between a mains lead and metal."""
    circuit = case.circuit
    marks = [m for m in (GROUND, "earth", "chassis") if m in circuit.points]
    metal = {circuit.points[m]: m for m in marks}
    if transformerless(circuit):
        metal.pop(GROUND, None)
    told = {b.name for _, parts in switched_to_metal(circuit) for b in parts}
    for lead in mains_leads(circuit).values():
        for branch in (b for b in _capacitors(circuit) if b.name not in told):
            ends = (branch.a, branch.b) if branch.a in lead else (branch.b, branch.a)
            if ends[0] in lead and ends[1] in metal and ends[1] not in lead:
                yield from _to_metal(case, branch, metal[ends[1]], ends[1])
    yield from _isolating(case, frozenset(metal))


def _isolating(case: Case, metal: frozenset[str]) -> Iterator[Outcome]:
    """In a set on the mains: the capacitors that alone keep it off a jack."""
    circuit = case.circuit
    if not transformerless(circuit) or not mains_drawn(circuit):
        return
    live = touch_ohms(circuit, service(circuit)[0] / TOUCH_A.value)
    for touched in touchables(circuit):
        if touched.net in live or touched.net in metal or touched.kind != TERMINAL:
            continue
        side = frozenset(reach(circuit, [touched.net])) - live.keys()
        for branch in _capacitors(circuit):
            ends = {branch.a, branch.b}
            if ends & side and ends & live.keys() and not _class(branch).startswith("Y"):
                yield _isolates(case, branch, touched)


def _isolates(case: Case, branch: Branch, touched: Touchable) -> Outcome:
    return capacitor_to_chassis.finding(
        case,
        (branch.name, touched.name),
        f"only {branch.name} keeps the mains off {touched.point}, and it is not of class Y",
        f"Use class Y2 (Y1 where the mains is above 150 V) for {branch.name}, 4.7 nF at most, and "
        "for every other part between this set and what is touched",
        level="warning",
        evidence={"class": _class(branch) or "none"},
        certainty="certain",
    )


def _to_metal(case: Case, branch: Branch, mark: str, net: str) -> Iterator[Outcome]:
    circuit = case.circuit
    kind = _class(branch)
    mains, hertz = service(circuit)
    amps = 2 * math.pi * hertz * (branch.farads or 0.0) * mains
    earthed = "earth" in circuit.points and circuit.points["earth"] == net
    if kind.startswith("Y") and (earthed or amps <= TOUCH_A.value):
        return
    what = "not of class Y" if not kind.startswith("Y") else "too large for metal without earth"
    yield capacitor_to_chassis.finding(
        case,
        (branch.name,),
        f"{branch.name} joins the mains to {mark} and is {what}; it passes "
        f"{engineering(amps, 'A')}, and the whole mains when it shorts",
        "Take it out; where it is needed against interference, class Y2 (Y1 in a set without a "
        "transformer), 4.7 nF at most, and the chassis on protective earth",
        evidence={"current_rms": figure(amps, "A"), "class": kind or "none"},
        limit=TOUCH_A.figure,
        certainty="certain",
        excess=max(amps / TOUCH_A.value, 1.0),
    )


@rule(
    "mains.capacitor-class",
    title="Capacitor across the mains that is not of class X",
    level="warning",
    states="the drawing alone; switches count as closed",
    needs="both mains leads on the drawing",
    criterion=(
        "A capacitor has its ends in the two mains leads and no class X1, X2, Y1 or Y2. Where it "
        "is written for at least the mains voltage in AC (250 Vac) it is a caution."
    ),
    why=(
        "Across the mains a capacitor sees every surge of the street, for years, also with the "
        "set switched off where it sits ahead of the switch. One made for DC breaks down and "
        "burns; class X parts are tested with surges of kilovolts and do not flame. An "
        "electrolytic on AC bursts."
    ),
    source=(
        Citation("iec-60384-14", "class X"),
        Citation("practice", "ratings for DC say nothing about the mains"),
    ),
    limits=(
        "Class is what is written. Two in series, and one behind a resistor of more than 1 kohm, "
        "are not looked at."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def capacitor_class(case: Case) -> Iterator[Outcome]:
    """Look at the class of every capacitor between the leads."""
    leads = mains_leads(case.circuit)
    if len(leads) < 2:
        return
    for branch in _capacitors(case.circuit):
        across = {branch.a, branch.b}
        if across & leads["line"] and across & leads["neutral"] and not _class(branch):
            yield _without_class(case, branch)


def _class(branch: Branch) -> str:
    return (branch.part.safety_class or "").upper() if branch.part else ""


def _without_class(case: Case, branch: Branch) -> Outcome:
    mains, _ = service(case.circuit)
    rated = si(branch.part.voltage, "volt") if branch.part else None
    for_ac = branch.part is not None and branch.part.voltage_is_ac
    fits = for_ac and rated is not None and rated >= mains
    what = "is polarised" if branch.plus else "has no class X"
    written = f", {engineering(rated, 'V')} {'AC' if for_ac else 'DC'}" if rated else ""
    return capacitor_class.finding(
        case,
        (branch.name,),
        f"{branch.name} is across the mains, {engineering(mains, 'V')}, and {what}{written}",
        f"Use a film capacitor of class X2 for {_stock_vac(mains):g} Vac in its place, behind the "
        "fuse, or take it out",
        level="caution" if fits and not branch.plus else "warning",
        evidence={"mains": figure(mains, "V"), "class": "none"},
        certainty="certain",
    )


def _stock_vac(mains: float) -> float:
    """The voltages class X parts come in, rms."""
    return next((v for v in STOCK_VAC if v >= 1.1 * mains), STOCK_VAC[-1])


@rule(
    "mains.capacitor-stays-charged",
    title="Plug pins that stay charged",
    level="warning",
    states="off: plug pulled, every switch open or closed, whichever is slower",
    needs="the mains side on the drawing and the capacitor's value",
    criterion=(
        "A capacitor of more than 0.1 uF between line and neutral, charged to the crest of the "
        "highest mains, takes more than 2 s to fall to 60 V through resistors across it."
    ),
    why=(
        "The plug is in somebody's hand a second after it left the socket, and its pins are the "
        "capacitor's terminals. The primary behind an open switch drains nothing."
    ),
    source=(
        Citation("iec-62368-1", "60 V"),
        Citation("report-form-62368", "cl. 5.5.2.2, measured 2 s after disconnection"),
        Citation("iec-60950-1", "cl. 2.1.1.7, 0.1 uF"),
    ),
    limits=(
        "Worst case is a plug pulled at the peak; the discharge counts only resistors drawn "
        "across it, not the filter's own leakage or a meter."
    ),
    thresholds=(PLUG_S, SMALL_F, TOUCH_DC, galvanic.SERIES_OHM),
)
def capacitor_stays_charged(case: Case) -> Iterator[Outcome]:
    """Time the discharge of every capacitor across the mains leads."""
    circuit = case.circuit
    leads = mains_leads(circuit)
    if len(leads) < 2:
        return
    for branch in _capacitors(circuit):
        farads = branch.farads
        across = {branch.a, branch.b}
        if farads is None or not (across & leads["line"] and across & leads["neutral"]):
            continue
        drain = _drain(circuit, branch)
        start = _crest(circuit)
        seconds = math.inf if drain is None else drain * farads * math.log(start / TOUCH_DC.value)
        if farads > SMALL_F.value * 1.001 and seconds > PLUG_S.value:
            yield _charged(case, branch, farads, start, seconds)


def _crest(circuit: Circuit) -> float:
    return math.sqrt(2) * service(circuit)[0] * (1 + circuit.mains_tolerance)


def _drain(circuit: Circuit, capacitor: Branch) -> float | None:
    """The least resistance across a capacitor through fuses and resistors; switches are open."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((capacitor.a, capacitor.b))
    switched = {b.name for b in circuit.branches.values() if b.traits.by_hand}
    primaries = {b.name for w in circuit.windings() if w.primary for b in w.branches}
    for branch in circuit.branches.values():
        if branch.name in switched:
            continue
        ohms = 0.0 if branch.name in primaries else _drain_ohms(branch)
        if ohms is not None:
            graph.add_edge(branch.a, branch.b, weight=ohms)
    if not nx.has_path(graph, capacitor.a, capacitor.b):
        return None
    return float(nx.dijkstra_path_length(graph, capacitor.a, capacitor.b))


def _drain_ohms(branch: Branch) -> float | None:
    kind = branch.kind
    match kind:
        case PartKind.FUSE | PartKind.INDUCTOR:
            return 0.0
        case (
            PartKind.RESISTOR
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.RELAY
            | PartKind.METER
        ):
            return branch.ohms
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.SWITCH | PartKind.LAMP | PartKind.SPEAKER | PartKind.JACK
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING | PartKind.POT
            | PartKind.CONTACT | PartKind.JACK_CONTACT | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def _charged(case: Case, branch: Branch, farads: float, start: float, seconds: float) -> Outcome:
    resistor = preferred(0.8 * PLUG_S.value / 2 / (farads * math.log(start / TOUCH_DC.value)))
    never = math.isinf(seconds)
    how = "nothing drains it" if never else f"it takes {seconds:.1f} s to fall to 60 V"
    return capacitor_stays_charged.finding(
        case,
        (branch.name,),
        f"{branch.name} may hold {volts(start)} when the plug is pulled, and {how}",
        f"Put a resistor of {ohms(resistor)} or less right across {branch.name} (it falls to "
        "60 V in a second), made for the mains voltage",
        state="off",
        evidence={
            "voltage": figure(start, "V"),
            "time": "never" if never else figure(seconds, "s"),
            "resistor": figure(resistor, "ohm"),
        },
        limit=PLUG_S.figure,
        certainty="certain",
        excess=1e3 if never else seconds / PLUG_S.value,
    )


@rule(
    "mains.earth-current",
    title="Class Y capacitors that pass too much into the protective earth",
    level="danger",
    states="the drawing alone; switches count as closed",
    needs="the mains side on the drawing, and the capacitors' values",
    criterion=(
        "The class Y capacitors from one mains lead to earthed metal pass more than "
        f"{1e3 * EARTH_A.value:g} mA together at the mains voltage: a warning, from "
        f"{1e3 * LET_GO_A.value:g} mA a danger."
    ),
    why=(
        "All that these capacitors pass flows off through one wire, the protective earth. When it "
        "breaks, or an outlet has none, the current waits on the chassis for a hand."
    ),
    source=(
        Citation("iec-60950-1", "cl. 5.1, 3.5 mA for class I equipment"),
        Citation("arithmetic", "2 pi f C V"),
    ),
    limits=(
        "Either lead may be the live one, so the worse of the two counts, at nominal mains. What "
        "the transformer's own capacitance and the rest of the house add is not known. Appliances "
        "of some standards, hand-held ones above all, are allowed less (0.25 to 0.75 mA)."
    ),
    thresholds=(EARTH_A, LET_GO_A, galvanic.SERIES_OHM),
)
def earth_current(case: Case) -> Iterator[Outcome]:
    """Add up the class Y capacitors of each mains lead."""
    circuit = case.circuit
    earth = circuit.points.get("earth")
    if earth is None:
        return
    mains, hertz = service(circuit)
    groups = (_to_earth(circuit, lead, earth) for lead in mains_leads(circuit).values())
    parts = max(groups, key=_farads, default=[])
    amps = 2 * math.pi * hertz * _farads(parts) * mains
    if amps > EARTH_A.value:
        highest = mains * (1 + circuit.mains_tolerance)
        yield _leaking(case, parts, amps, EARTH_A.value / (2 * math.pi * hertz * highest))


def _to_earth(circuit: Circuit, lead: frozenset[str], earth: str) -> list[Branch]:
    ends = [(b, {b.a, b.b}) for b in _capacitors(circuit) if _class(b).startswith("Y")]
    return [b for b, nets in ends if nets & lead and earth in nets and earth not in lead]


def _farads(parts: list[Branch]) -> float:
    return sum(b.farads or 0.0 for b in parts)


def _leaking(case: Case, parts: list[Branch], amps: float, most: float) -> Outcome:
    names = listed(b.name for b in parts)
    verb = "passes" if len(parts) == 1 else "pass"
    return earth_current.finding(
        case,
        tuple(b.name for b in parts),
        f"{names} {verb} {engineering(amps, 'A')} into the protective earth: should that wire "
        "break, it flows through whoever touches the chassis",
        f"Use {engineering(preferred_below(most), 'F')} or less in all from a mains lead to the "
        "chassis (2.2 nF is usual), class Y2",
        level="danger" if amps >= LET_GO_A.value else "warning",
        evidence={"current_rms": figure(amps, "A")},
        limit=EARTH_A.figure,
        certainty="certain",
        excess=amps / EARTH_A.value,
    )


RULES = (
    capacitor_to_chassis,
    earth_current,
    capacitor_class,
    capacitor_stays_charged,
)
