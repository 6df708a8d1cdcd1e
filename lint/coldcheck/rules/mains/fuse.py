"""The mains fuse: its size against the transformer, and its place in the lead."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.galvanic import mains_drawn, mains_lamps, transformerless, upstream
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.supply import inrush
from coldcheck.rules.supply.inrush import least_amps
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transformer, Winding
    from coldcheck.drawing.model import Part
    from coldcheck.judge.finding import Finding, Outcome

RATED_FACTOR = Threshold(
    "fuse over the primary's current", 2.0, "", Citation("web-fuses", "1.5 to 2 times, slow")
)
CARRIED_FACTOR = Threshold(
    "fuse over what it carries when warm",
    3.0,
    "",
    Citation("practice", "leaves room for the magnetising current"),
)
FAR_FACTOR = Threshold(
    "times the fitting fuse up to which a larger one is advice", 2.0, "", PRACTICE
)
"""Up to twice what is fitting is advice: it still opens for a shorted winding (common practice)."""

NEVER_FACTOR = Threshold(
    "times the fitting fuse from which it is as good as none", 8.0, "", PRACTICE
)
OPENS_FACTOR = Threshold(
    "times its rating at which a fuse opens within seconds",
    2.75,
    "",
    Citation("iec-60127", "slow fuses: within 10 s"),
)

FITTING_FACTOR = 1.5
SMALLEST_A = Threshold("fuse that is left alone", 0.5, "A", PRACTICE)
HALVES_V = Threshold("winding voltage above which halves work in turn", 30.0, "V", PRACTICE)
"""A tapped winding above this gives its current half by half, below it end to end."""

FUSES_A = (
    *(0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8),
    *(1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0),
)
"""IEC 60127 (memory)."""


def fuses_in(circuit: Circuit, pole: str) -> list[Branch]:
    """Fuses in one mains lead ahead of the set; none where that lead is gnd."""
    if pole not in circuit.points or circuit.points[pole] == GROUND:
        return []
    before = upstream(circuit, circuit.points[pole], through_fuses=False)
    fuses = [b for b in circuit.branches.values() if b.kind is PartKind.FUSE and b.a != b.b]
    return [b for b in fuses if {b.a, b.b} & before]


def fitting_fuse(amps: float, factor: float = FITTING_FACTOR) -> float:
    """The smallest standard fuse of at least ``factor`` times a current, amperes."""
    return next((f for f in FUSES_A if f >= factor * amps * 0.9999), FUSES_A[-1])


def advised(case: Case, amps: float) -> float:
    """The slow fuse for a current in the mains lead that also stands the reservoirs' stroke."""
    return max(fitting_fuse(amps), fitting_fuse(least_amps(case), 1.0))


def rated_amps(circuit: Circuit) -> float | None:
    """What all mains transformers and lamps for the mains take at their ratings, amperes rms.

    The volt-amperes of the secondaries over the primary's volts. ``None`` where a winding has no
    current written, or the set hangs on the mains beside its transformers.
    """
    if not circuit.transformers or transformerless(circuit):
        return None
    every = [_primary_amps(t) for t in circuit.transformers.values() if t.wired and t.primaries]
    known = [a for a in every if a is not None]
    return sum(known) + _lamp_amps(circuit) if known and len(known) == len(every) else None


def _lamp_amps(circuit: Circuit) -> float:
    """What lamps made for the mains take, lit at once or not, amperes."""
    return sum(_lamp(b.part) for b in mains_lamps(circuit) if b.part is not None)


def _lamp(part: Part) -> float:
    """Its written current, or what its power takes at its voltage; amperes."""
    amps, power, volts = (si(part.current, "ampere"), si(part.power, "watt"),
                          si(part.voltage, "volt"))  # fmt: skip
    return amps or (power or 0.0) / (volts or 1.0)


def _primary_amps(transformer: Transformer) -> float | None:
    volts = sum(si(b.value, "volt") or 0.0 for b in transformer.fed)
    loads = [_volt_amperes(w) for w in transformer.secondaries]
    if not volts or any(va is None for va in loads):
        return None
    return sum(va for va in loads if va is not None) / volts


def _volt_amperes(winding: Winding) -> float | None:
    """Volts times amperes; of a tapped high-voltage winding one half works at a time."""
    volts, amps = si(winding.volts, "volt"), si(winding.current, "ampere")
    if volts is None or amps is None:
        return None
    halves = 2 if winding.centred and volts > HALVES_V.value else 1
    return volts * amps / halves


@rule(
    "mains.fuse-too-large",
    title="Mains fuse far too large",
    level="caution",
    states="the drawing; where a winding's rating is missing, warm",
    needs="the fuse's value, the mains side on the drawing, winding currents or a solved state",
    criterion=(
        f"The fuse is more than {RATED_FACTOR.value:g} times the primary current (the next "
        "standard size "
        "up is allowed): the volt-amperes of all secondaries over the primary's voltage, or what "
        "it carries when warm if that is more. Where a winding has no current written: more than "
        f"{CARRIED_FACTOR.value:g} times what it carries when warm, and not judged while a tube's "
        "heater "
        f"is not drawn. A warning from {NEVER_FACTOR.value:g} times that, advice up to twice that "
        "and where any winding, shorted, drives "
        f"{OPENS_FACTOR.value:g} times the fuse by the resistances written. Fuses up to "
        f"{SMALLEST_A.value:g} A are left alone."
    ),
    why=(
        "A fuse sized for the wire and not for the set sits through a shorted winding or a "
        "failed rectifier until the transformer smokes."
    ),
    source=(
        Citation("web-fuses", "1.5 to 2 times the normal primary current, slow"),
        Citation(
            "practice",
            "3 times where only the load is known leaves room for the magnetising current",
        ),
    ),
    limits=(
        "Volt-amperes are volts times rated current, one half of a tapped high-voltage winding; "
        "the extra heating by rectifier peaks and losses is not reckoned; a larger fuse is right "
        "where the reservoirs charge at once (I2t of two seconds times its rating squared). "
        "What the cord or plug allows is not known."
    ),
    thresholds=(
        inrush.SLOW_MAY,
        CARRIED_FACTOR,
        FAR_FACTOR,
        NEVER_FACTOR,
        HALVES_V,
        OPENS_FACTOR,
        RATED_FACTOR,
        SMALLEST_A,
        galvanic.SERIES_OHM,
    ),
)
def fuse_too_large(case: Case) -> Iterator[Outcome]:
    """Compare each line fuse with the primary's current."""
    circuit = case.circuit
    fuses = fuses_in(circuit, "line") if mains_drawn(circuit) else []
    rated = rated_amps(circuit)
    for fuse in fuses:
        amps = si(fuse.value, "ampere")
        if amps is None:
            yield fuse_too_large.not_judged((fuse.name,), "its rating is not known")
        elif amps <= SMALLEST_A.value:
            continue
        elif rated is not None:
            carried = _carried(case, fuse) or 0.0
            yield from _against_rating(case, fuse, amps, rated, carried)
        else:
            yield from _against_load(case, fuse, amps)


def _carried(case: Case, fuse: Branch) -> float | None:
    """What it carries when warm, amperes rms; ``None`` where that is not known."""
    wave = None if unsolved_reason(case) else case.warm.current(fuse.name)
    return None if wave is None else wave.rms


def _against_rating(
    case: Case, fuse: Branch, amps: float, rated: float, carried: float
) -> Iterator[Outcome]:
    normal = max(rated, carried)
    limit = max(fitting_fuse(normal, RATED_FACTOR.value), fitting_fuse(least_amps(case), 1.0))
    if amps <= limit * 1.001:
        return
    why = "the transformer is rated for" if rated >= carried else "it carries"
    known = {"primary": figure(rated, "A"), "fuse": figure(amps, "A")}
    yield _too_large(
        case,
        fuse,
        f"{fuse.name} is rated {engineering(amps, 'A')}, {amps / normal:.1f} times the "
        f"{engineering(normal, 'A')} of primary current {why}",
        normal,
        known | ({"current_rms": figure(carried, "A")} if carried else {}),
        figure(limit, "A"),
    )


def _against_load(case: Case, fuse: Branch, amps: float) -> Iterator[Outcome]:
    carried = _carried(case, fuse)
    if carried is None:
        reason = unsolved_reason(case) or "its current is not known"
        yield fuse_too_large.not_judged((fuse.name,), reason)
        return
    if amps <= max(CARRIED_FACTOR.value * carried, fitting_fuse(least_amps(case), 1.0)):
        return
    cold = [t.name for t in case.circuit.tubes.values() if t.heater is None and t.type.heaters]
    if cold:
        text = f"the heaters of {listed(cold)} are not drawn, so its current is not known"
        yield fuse_too_large.not_judged((fuse.name,), text)
        return
    yield _too_large(
        case,
        fuse,
        f"{fuse.name} is rated {engineering(amps, 'A')} and carries {engineering(carried, 'A')}",
        carried,
        {"current_rms": figure(carried, "A"), "fuse": figure(amps, "A")},
        figure(CARRIED_FACTOR.value * carried, "A"),
        state="warm",
    )


def _too_large(
    case: Case,
    fuse: Branch,
    message: str,
    normal: float,
    evidence: dict[str, Figure],
    limit: Figure,
    state: str = "drawing",
) -> Finding:
    excess = evidence["fuse"].value / limit.value
    return fuse_too_large.finding(
        case,
        (fuse.name,),
        message,
        f"Use {advised(case, normal):g} A slow (1.5 to 2 times the current"
        + (
            "; the transformer's own magnetising current is not counted)"
            if state == "warm"
            else ")"
        ),
        state=state,
        level=_level(case, evidence["fuse"], excess),
        evidence=evidence,
        limit=limit,
        excess=excess,
    )


def _level(case: Case, fuse: Figure, excess: float) -> str | None:
    """A fuse that never opens leaves the winding to burn; one that a short opens is advice."""
    if excess <= FAR_FACTOR.value or _opens(case, fuse):
        return "advice"
    return "warning" if excess > NEVER_FACTOR.value else None


def _opens(case: Case, fuse: Figure) -> bool:
    """Whether a short on any winding makes enough primary current to open the fuse at once."""
    found = [_shorted_amps(t) for t in case.circuit.transformers.values()]
    known = [amps for amps in found if amps is not None]
    return len(known) == len(found) > 0 and min(known) > OPENS_FACTOR.value * fuse.value


def _shorted_amps(transformer: Transformer) -> float | None:
    """The primary's current with its most resistive winding shorted; ``None``: not known.

    A winding whose resistance is not written is taken to have as much, seen from the primary, as
    the primary itself (common practice: copper is shared half and half).
    """
    written = [si(b.resistance, "ohm") for b in transformer.fed]
    if len(transformer.primaries) != 1 or None in written:
        return None
    own = sum(ohms for ohms in written if ohms is not None)
    volts = sum(si(b.value, "volt") or 0.0 for b in transformer.fed)
    others = [_seen_ohms(w, volts, own) for w in transformer.windings if not w.primary]
    return volts / (own + max(others, default=own))


def _seen_ohms(winding: Winding, volts: float, own: float) -> float:
    written, turned = si(winding.resistance, "ohm"), si(winding.volts, "volt")
    return own if written is None or not turned else written * (volts / turned) ** 2


@rule(
    "mains.switch-ahead-of-fuse",
    title="Mains switch ahead of the fuse",
    level="advice",
    states="the drawing alone",
    needs="the mains side on the drawing",
    criterion="Between `line` and the first fuse in its lead there is a switch.",
    why=(
        "The order is line, fuse, switch, transformer. What stands ahead of the fuse is protected "
        "by nothing but the house: a switch that breaks down to its metal bushing, or its wiring "
        "pulled against the chassis, then draws whatever the wall gives."
    ),
    source=Citation("web-fuses", "order line, fuse, switch"),
    limits=(
        "The other order has its friends, since the fuse holder is then dead with the switch off: "
        "hence advice and no more. How the holder is built is not seen."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def switch_ahead_of_fuse(case: Case) -> Iterator[Outcome]:
    """Look for a switch between the line and its fuse."""
    circuit = case.circuit
    if not mains_drawn(circuit) or "line" not in circuit.points:
        return
    line = circuit.points["line"]
    before = upstream(circuit, line, through_fuses=False)
    for fuse in fuses_in(circuit, "line"):
        near = fuse.a if fuse.a in before else fuse.b
        switches = _switches_between(circuit, before, line, near)
        if switches:
            yield switch_ahead_of_fuse.finding(
                case,
                (*switches, fuse.name),
                f"{listed(switches)} comes before {fuse.name}: nothing protects the wiring of the "
                "switch",
                f"Put {fuse.name} first in the line lead, then {listed(switches)}",
                evidence={"order": f"line, {', '.join(switches)}, {fuse.name}"},
                certainty="certain",
            )


def _in_line(kind: PartKind) -> bool:
    """What the lead's current goes through between its beginning and the fuse."""
    match kind:
        case (
            PartKind.RESISTOR | PartKind.INDUCTOR | PartKind.DIODE | PartKind.LED
            | PartKind.ZENER | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.PHOTOCELL | PartKind.LAMP
            | PartKind.SPEAKER | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER
            | PartKind.POT | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.RELAY | PartKind.METER | PartKind.THYRISTOR
        ):  # fmt: skip
            return True
        case (
            PartKind.CAPACITOR
            | PartKind.ARRESTER | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.FUSE
            | PartKind.WINDING
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _switches_between(
    circuit: Circuit, nets: frozenset[str], start: str, end: str
) -> tuple[str, ...]:
    """The switches on the way between two nets of the mains lead; none where a way avoids them."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((start, end))
    for branch in circuit.branches.values():
        if {branch.a, branch.b} <= nets and _in_line(branch.kind):
            switch = branch.owner if branch.traits.by_hand else ""
            if not switch or not graph.has_edge(branch.a, branch.b):
                graph.add_edge(branch.a, branch.b, switch=switch, weight=1 if switch else 0)
    if not nx.has_path(graph, start, end):
        return ()
    path = nx.dijkstra_path(graph, start, end)
    found = [graph.edges[a, b]["switch"] for a, b in pairwise(path)]
    return tuple(dict.fromkeys(s for s in found if s))


RULES = (
    fuse_too_large,
    switch_ahead_of_fuse,
)
