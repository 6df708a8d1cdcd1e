"""What feeds the heaters: the winding's current and the voltage each one gets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy import heater_loops
from coldcheck.anatomy.case import Case, unsolved_reason
from coldcheck.anatomy.heater_lines import HeaterLine, dragged, heater_lines, strangers, tube_amps
from coldcheck.anatomy.heater_loops import shorted_loop
from coldcheck.anatomy.neighbourhood import metal
from coldcheck.anatomy.reach import feeding, reach
from coldcheck.circuit.leads import heater_ends
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.heater import dropper as heater_dropper
from coldcheck.rules.heater.regulated import holds, set_to, setting_of
from coldcheck.rules.heater.string import UNEQUAL, unequal
from coldcheck.sources.register import PRACTICE, Citation, Cited

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Tube, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.rules.heater.regulated import Setting

FULL = Threshold("share of a winding's rating that leaves a reserve", 0.9, "", PRACTICE)
"""From this share of the rating on there is no reserve (common practice)."""

SURELY = Threshold("times the tolerance from which it is certain", 2.0, "", PRACTICE)
BAND = Threshold(
    "tolerance of a heater's voltage, as a share",
    0.10,
    "",
    Citation("rca-rc", "found for one type: ET-T1113"),
)
"""Heater tolerance of the receiving-tube manuals, as a fraction (found for one type: ET-T1113;
memory: RC-30). A type with a tighter one has it on file."""


def chains(line: HeaterLine, ends: frozenset[str]) -> list[tuple[Tube, ...]]:
    """The tubes of a line by strings: heaters that meet on a net which is not one of ``ends``."""
    joins: nx.Graph[str] = nx.Graph()
    for tube in line.tubes:
        inner = [n for n in (tube.heater.nets if tube.heater else ()) if n not in ends]
        joins.add_node(tube.name)
        joins.add_edges_from((tube.name, f"net {n}") for n in inner)
    groups = list(nx.connected_components(joins))
    return [tuple(t for t in line.tubes if t.name in g) for g in groups]


FAR_OVER = 1.3
"""Beyond, no resistor in series is proposed: the winding rises when it has less to give."""


@rule(
    "heater.winding-overload",
    title="Heater winding overloaded",
    level="notice",
    states="the drawing alone",
    needs="the winding's current rating and the heater currents of the types",
    criterion="Rated heater currents together above the winding's rating; advice above 90 % of it "
    "where several tubes share the winding.",
    why="An overloaded heater winding runs hot, its voltage sags, and its insulation ages in the "
    "same iron that carries the high voltage.",
    source=(Citation("drawing", "the winding's rating"), Citation("type-sheet", "heater currents")),
    limits="Rated currents are added; the heating of the transformer by its other windings is not "
    "seen. Windings that feed heaters through rectifiers are judged by their solved current.",
    thresholds=(FULL,),
)
def winding_overload(case: Case) -> Iterator[Outcome]:
    """Sum of heater currents against the rating."""
    yield from _not_counted(case)
    for line in heater_lines(case.circuit):
        for winding in line.windings:
            load = winding_load(line, winding)
            rating = si(winding.current, "ampere")
            if not load or _dragged_over(line, winding, load):
                continue
            if rating is None:
                taken = amperes(sum(load.values()))
                reason = f"no current rating is written for it; its heaters take {taken}"
                yield winding_overload.not_judged((winding.name,), reason)
            elif sum(load.values()) > rating * (FULL.value if len(load) > 1 else 1.0) + 1e-9:
                yield _overloaded(case, winding, load, rating)
        if not line.windings:
            yield from _rectified(case, line)


def _not_counted(case: Case) -> Iterator[Outcome]:
    """Windings with a tube on them of which not even the heater is known."""
    circuit = case.circuit
    for winding in (w for w in circuit.windings() if not w.primary):
        nets = set(winding.nets) - set(LANDMARKS)
        unknown = [
            t.name for t in circuit.tubes.values()
            if t.type.stranger and nets & {circuit.points[f"{t.name}.{e}"] for e in _ends(t)}
        ]  # fmt: skip
        if unknown:
            reason = f"what the heater of {listed(unknown)} takes is not known and not counted"
            yield winding_overload.not_judged((winding.name, *unknown), reason)


def _ends(tube: Tube) -> tuple[str, ...]:
    return heater_ends(tube.type)[:2]


def _dragged_over(line: HeaterLine, winding: Winding, load: Mapping[str, float]) -> bool:
    """Whether the excess is that of heaters on a rectifier's filament, which has its own rule."""
    rectifier, others = strangers(line)
    own = {n: a for n, a in load.items() if n not in {t.name for t in others}}
    rating = si(winding.current, "ampere")
    return bool(rectifier and others and rating) and sum(own.values()) <= (rating or 0.0) + 1e-9


def _rectified(case: Case, line: HeaterLine) -> Iterator[Outcome]:
    """A winding that feeds heaters through diodes: its solved rms current, or nothing said."""
    nets = frozenset(reach(feeding(case.circuit), line.nets, LANDMARKS, (PartKind.DIODE,)))
    solved = unsolved_reason(case) is None
    for winding in case.circuit.windings():
        rating = si(winding.current, "ampere")
        if winding.primary or not nets & frozenset(winding.nets) - frozenset(LANDMARKS):
            continue
        found = [case.warm.current(b.name) for b in winding.branches] if solved else []
        amps = max((w.rms for w in found if w is not None), default=None)
        if amps is None or rating is None:
            reason = "it feeds heaters through rectifiers, and its current or rating is not known"
            yield winding_overload.not_judged((winding.name,), reason)
        elif amps > rating:
            yield _overloaded(case, winding, {"through the rectifier": amps}, rating)


def winding_load(line: HeaterLine, winding: Winding) -> dict[str, float]:
    """Rated amperes of a winding's heaters by tube; a series string counts once, by its largest.

    Of a tapped winding the more heavily loaded half counts.
    """
    ends = frozenset((*winding.nets, *LANDMARKS))
    halves: list[dict[str, float]] = [{} for _ in winding.branches]
    for string in chains(line, ends):
        touched = {n for t in string if t.heater for n in t.heater.nets} & ends
        lead = max(string, key=tube_amps)
        for half, branch in zip(halves, winding.branches, strict=True):
            if _across(touched, winding, branch):
                half[lead.name] = tube_amps(lead)
    return max(halves, key=lambda h: sum(h.values()), default={})


def _across(touched: set[str], winding: Winding, half: Branch) -> bool:
    """Whether what sits on the nets ``touched`` draws its current through a half."""
    order = [i for i, net in enumerate(winding.nets) if net in touched]
    if len(order) < 2:
        return False
    index = winding.branches.index(half)
    return min(order) <= index < max(order)


def _overloaded(case: Case, winding: Winding, load: Mapping[str, float], rating: float) -> Finding:
    total = sum(load.values())
    parts = " + ".join(f"{name} {amperes(a)}" for name, a in load.items())
    over = total > rating + 1e-9
    message = (
        f"{winding.name}: its heaters take {amperes(total)} ({parts}), "
        f"{'more than' if over else 'nearly all of'} the {amperes(rating)} it is rated for"
    )
    spare = _lightest(load, total - rating * FULL.value)
    wanted = amperes(total / FULL.value)
    remedy = f"Use a winding rated for at least {wanted}, or move {spare} to another"
    return winding_overload.finding(
        case,
        (winding.name,),
        message,
        remedy,
        level="notice" if over else "advice",
        evidence={"heater": figure(total, "A")},
        limit=figure(rating, "A"),
        certainty="certain",
        excess=total / rating,
    )


def _lightest(load: Mapping[str, float], over: float) -> str:
    """The smallest single tube that takes the excess away, else several."""
    enough = {n: a for n, a in load.items() if a >= over - 1e-9}
    return min(enough, key=lambda n: enough[n]) if enough else "some tubes"


@rule(
    "heater.wrong-voltage",
    title="Heater gets the wrong voltage",
    level="notice",
    states="nominal mains",
    needs="the heater, its winding or string, and the rated heater voltage of the type",
    criterion="Rms across the heater more than 10 % off its rating with nominal mains, or more "
    "than the tolerance on file for the type (5 % for special-quality tubes).",
    why="Too little leaves the cathode cold and strips or starves it, too much burns the heater; "
    "half or twice the voltage is the mark of a series heater wired as parallel or the reverse.",
    source=Citation("rca-rc", "heater voltage within 10 % of rated"),
    limits="High and low line are not judged: the tolerance is for them. Heaters have their hot "
    "resistance, so a string that shares its voltage badly while it warms up is not seen.",
    thresholds=(BAND, SURELY, heater_loops.LOOP_OHMS, UNEQUAL),
)
def wrong_voltage(case: Case) -> Iterator[Outcome]:
    """One finding for the tubes of a line that are off alike."""
    reason, elsewhere = unsolved_reason(case), dragged(case.circuit)
    for line in heater_lines(case.circuit):
        tubes = [t for t in line.tubes if t.name not in elsewhere]
        found = {t.name: _across_heater(case, t, reason is None) for t in tubes}
        told = list(_off(case, line, {t: v for t, v in found.items() if v is not None}))
        unknown = tuple(name for name, v in found.items() if v is None)
        if unknown:
            told.append(wrong_voltage.not_judged(unknown, reason or "no voltage across the heater"))
        if told and not _explained(case.circuit, line):
            yield from told


def _explained(circuit: Circuit, line: HeaterLine) -> bool:
    """Whether another rule already says why the voltages of a line are wrong."""
    graph = metal(circuit)
    return any(shorted_loop(graph, w) for w in line.windings) or bool(unequal(circuit, line))


def _across_heater(case: Case, tube: Tube, solved: bool) -> tuple[float, float] | None:
    """(rms, rated) volts across the whole heater as wired; from the winding when not solved."""
    heater = tube.heater
    rated = heater and si(heater.volts, "volt")
    if heater is None or not rated:
        return None
    halves = [case.warm.between(b.a, b.b) for b in heater.branches] if solved else []
    known = [h.rms for h in halves if h is not None]
    if known:
        in_series = heater.mode != "parallel" and len(known) > 1
        return (sum(known) if in_series else max(known)), rated
    winding = next((w for w in case.circuit.windings() if w.name == heater.winding), None)
    nominal = winding and si(winding.volts, "volt")
    return (nominal, rated) if nominal else None


def band(tube: Tube) -> float:
    """How far off the rated heater voltage a type stands, as a fraction."""
    own = tube.type.rating("heater-voltage-tolerance")
    return BAND.value if own is None else own.value / 100


def _off(
    case: Case, line: HeaterLine, found: Mapping[str, tuple[float, float]]
) -> Iterator[Outcome]:
    groups: dict[tuple[float, bool], list[str]] = {}
    for name, (rms, rated) in found.items():
        if abs(rms / rated - 1) > band(case.circuit.tubes[name]):
            groups.setdefault((round(rms / rated, 1), rms > rated), []).append(name)
    for names in groups.values():
        worst = max(names, key=lambda t: _share(case, t, *found[t]))
        yield _off_voltage(case, line, case.circuit.tubes[worst], names, *found[worst])


def _share(case: Case, name: str, rms: float, rated: float) -> float:
    """How far off the rated voltage, in bands of the type."""
    return abs(rms / rated - 1) / band(case.circuit.tubes[name])


def _off_voltage(
    case: Case, line: HeaterLine, worst: Tube, names: list[str], rms: float, rated: float
) -> Finding:
    others = [n for n in names if n != worst.name]
    also = f" (also {listed(others)})" if others else ""
    message = (
        f"{worst.name} {worst.type.name}: {volts(rms)} rms across a heater rated {volts(rated)}, "
        f"{100 * (rms / rated - 1):+.0f} %{also}"
    )
    off, setting = abs(rms / rated - 1), setting_of(case.circuit, line)
    if setting is not None and rms < rated and not holds(case, setting):
        setting = None  # what gives less than it is set to is not told by what sets it
    if setting is not None and not _alike(case, line, high=rms > rated):
        setting = None  # one too much and one too little: what shares it is wrong, not what sets it
    first: tuple[str, ...] = (*setting.parts, setting.regulator.name) if setting else ()
    beside = () if setting else _in_the_way(case.circuit, line)
    series = None if setting or not _alike(case, line, high=rms > rated) else _series(case, line)
    if series is not None:
        first, message = (series.name,), f"{message}: {series.said}"
    elif not setting:
        beside = (*beside, *(w.name for w in line.windings if _wound_for_another(w, worst)))
    return wrong_voltage.finding(
        case,
        tuple(dict.fromkeys((*first, worst.name, *others, *beside))),
        _set_wrong(setting, high=rms > rated) + message if setting else message,
        _joined(worst)
        or (setting and set_to(case, setting, rated / rms))
        or heater_dropper.dropper_remedy(case.circuit, line)
        or (series and series.remedy)
        or _other_way(worst, rms, rated),
        state="warm",
        evidence={"heater_rms": figure(rms, "V"), "rated": figure(rated, "V")},
        limit=figure(100 * band(worst), "%"),
        certainty="certain" if off > SURELY.value * band(worst) else "likely",
        source=_rated_source(worst) or wrong_voltage.source,
        excess=off / band(worst),
    )


def _series(case: Case, line: HeaterLine) -> heater_dropper.Series | None:
    """The one resistor that a whole line has its current through, and what it should be."""
    if unsolved_reason(case) is not None or not line.tubes:
        return None
    found = [_across_heater(case, t, solved=True) for t in line.tubes]
    known = [x for x in found if x is not None]
    dropper = heater_dropper.dropper_of(case.circuit, line)
    if dropper and (dropper.part(PartKind.DIODE) or dropper.part(PartKind.CAPACITOR)):
        return None  # what these do has to be said with the value
    feed = heater_dropper.sole_feed(case.circuit, line)
    wave = None if feed is None else case.warm.between(feed.a, feed.b)
    if feed is None or wave is None or len(known) < len(found):
        return None
    return heater_dropper.series_of(line, feed, wave.rms, known)


def _wound_for_another(winding: Winding, tube: Tube) -> bool:
    """Whether a winding has volts that suit a tube's heater in no way of wiring it."""
    nominal = si(winding.volts, "volt") or 0.0
    rated = [way.volts.value for way in tube.type.heaters]
    return all(abs(nominal / own - 1) > band(tube) for own in rated)


def _alike(case: Case, line: HeaterLine, *, high: bool) -> bool:
    """Whether no heater of a line is off the other way."""
    found = [_across_heater(case, t, solved=True) for t in line.tubes]
    shares = [rms / rated for x in found if x is not None for rms, rated in (x,)]
    return all(s > 1 for s in shares) if high else all(s < 1 for s in shares)


def _set_wrong(setting: Setting, *, high: bool) -> str:
    way = "high" if high else "low"
    return f"{listed(setting.parts)} set {setting.regulator.name} too {way}: "


def _in_the_way(circuit: Circuit, line: HeaterLine) -> tuple[str, ...]:
    """What else than heaters sets the shares of a string: its dropper, resistors at its joints."""
    dropper = heater_dropper.dropper_of(circuit, line)
    joints = (n for n in line.nets if _is_joint(circuit, n))
    beside = (b.name for n in joints for b in circuit.at(n) if b.kind is PartKind.RESISTOR)
    way = dropper.parts if dropper else ()  # a fuse or a switch takes no volts
    drops = (p.name for p in way if p.traits.unit in ("ohm", "farad") or p.traits.one_way)
    return tuple(dict.fromkeys((*drops, *beside)))


def _is_joint(circuit: Circuit, net: str) -> bool:
    """Whether heaters meet at a net that nothing feeds."""
    at = circuit.at(net)
    fed = any(b.traits.supplies or b.traits.coil or b.traits.steered for b in at)
    return not fed and sum(b.kind is PartKind.HEATER for b in at) > 1


def _rated_source(tube: Tube) -> Cited | None:
    ways = [w for w in tube.type.heaters if tube.heater and w.mode == tube.heater.mode]
    own = tube.type.rating("heater-voltage-tolerance")
    said = "band 10 % (memory)" if own is None else f"band {own.value:g} %: {own.cited}"
    if not ways:
        return None
    cites = (*ways[0].volts.cited.cites, *(() if own is None else own.cited.cites))
    return Cited(f"rated voltage: {ways[0].volts.cited}; {said}", cites)


def _joined(tube: Tube) -> str | None:
    """For a heater whose two ends are one point: which wire does it."""
    heater = tube.heater
    if heater is None or any(b.a != b.b for b in heater.branches):
        return None
    ends = listed(f"{tube.name}.{e}" for e in ("h1", "h2"))
    return f"{ends} are joined, so that nothing heats it: look at the pins of {tube.type.name}"


def _other_way(tube: Tube, rms: float, rated: float) -> str:
    """The other way to wire the heater if that suits, else a dropper or the right winding."""
    for way in tube.type.heaters:
        if abs(rms / way.volts.value - 1) <= band(tube):
            needs = f"{volts(way.volts.value)} at {amperes(way.amps.value)}"
            return f"Wire its heater in {way.mode}: {needs}"
    if rms > FAR_OVER * rated:
        return (
            f"Feed it {volts(rated)} from a winding of its own, or fit the type of this tube that "
            f"is made for what the winding gives ({volts(rms)} with this load)"
        )
    if rms > rated:
        amps = tube_amps(tube)
        drop = (rms - rated) / amps if amps else 0.0
        return (
            f"Feed it {volts(rated)}; for this tube alone {ohms(preferred(drop))} in series "
            f"({watts((rms - rated) * amps)}) would drop the rest"
        )
    return f"Feed it {volts(rated)}: another winding, or less resistance on the way"


RULES: tuple[Rule, ...] = (winding_overload, wrong_voltage)
