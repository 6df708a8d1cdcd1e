"""What one can touch, and the set's own common, joined to the mains by metal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.galvanic import (
    POLES,
    SERIES_OHM,
    jacks,
    mains_drawn,
    pole_of,
    touch_ohms,
    way_from_mains,
)
from coldcheck.anatomy.neighbourhood import is_own, net_text
from coldcheck.anatomy.roads import wired_to
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.limits import TOUCH_A
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome


NAMED = 4
"""So many names of a point are told."""


@rule(
    "mains.live-chassis",
    title="Something one can touch is on the mains",
    level="danger",
    states="the drawing alone; switches count as closed",
    needs="the mains side on the drawing",
    criterion=(
        "`chassis` or a jack is joined to `line` or `neutral` by metal (wires, switches, "
        "resistances, diodes, not transformer windings) so that more than 0.5 mA rms can flow."
    ),
    why=(
        "The neutral is only neutral while every plug and socket is wired right and no neutral "
        "has opened. Metal tied to it is at line voltage the day one of them is not."
    ),
    source=Citation("iec-60335-1", "cl. 8.1.4, touch current of 0.7 mA peak"),
    limits=(
        "Any galvanic path counts, whatever its resistance, and class Y capacitors apart. "
        "Insulation by the cabinet is not in the drawing and has to be stated in an accept."
    ),
    thresholds=(TOUCH_A,),
)
def live_chassis(case: Case) -> Iterator[Outcome]:
    """Look for chassis and jacks among what the mains reaches."""
    circuit = case.circuit
    if not mains_drawn(circuit):
        return
    limit = touch_limit(circuit)
    reached = touch_ohms(circuit, limit)
    for net, (names, least) in live_metal(circuit, reached).items():
        path = "straight" if least == 0 else f"through {ohms(least)}"
        yield live_chassis.finding(
            case,
            names,
            f"{listed(names)} {'is' if len(names) == 1 else 'are'} {path} on the mains: "
            f"{_way(circuit, net)}",
            _off_the_mains(circuit, net),
            evidence={"resistance": figure(least, "ohm")},
            limit=figure(limit, "ohm"),
            certainty="certain",
        )
    yield from _signals_on_mains(case, reached)


def _way(circuit: Circuit, net: str) -> str:
    """How the mains gets to a net: the parts on the way, and what the net is called."""
    pole, parts = way_from_mains(circuit, net)
    through = f" through {listed(parts)}" if parts else ""
    every = (n for n in circuit.names.get(net, ()) if n != pole)
    names = sorted(every, key=lambda n: "." in n)[:NAMED]
    return f"the {pole} leads{through} to {listed(names)}"


def _off_the_mains(circuit: Circuit, net: str) -> str:
    if circuit.transformers:
        own = (n for n in circuit.names.get(net, ()) if "." not in n and n not in POLES)
        names = list(own)[:NAMED]
        return (
            f"Find the wire or part that joins {listed(names) or 'it'} to the mains and take it "
            "away: in a set with a mains transformer nothing else leads across"
            + _earthed(circuit, net)
        )
    return (
        "Feed the set from an isolating transformer, or keep everything one can touch off the "
        "mains side"
    )


def _earthed(circuit: Circuit, net: str) -> str:
    """The chassis without an earth of its own: whatever comes loose next has to blow a fuse."""
    metal = circuit.points.get("chassis", GROUND)
    earth = circuit.points.get("earth")
    joined = earth is not None and metal in wired_to(circuit, earth)
    if joined or metal not in wired_to(circuit, net):
        return ""
    name = "chassis" if "chassis" in circuit.points else "gnd"
    return f". And join {name} to the protective earth in its place (`{name} -- earth`)"


def touch_limit(circuit: Circuit) -> float:
    """The resistance that lets the touch current limit through at the mains voltage, ohms."""
    mains = si(circuit.mains.voltage, "volt") if circuit.mains else None
    return (mains or 120.0) / TOUCH_A.value


def live_metal(
    circuit: Circuit, reached: dict[str, float]
) -> dict[str, tuple[tuple[str, ...], float]]:
    """Net -> the chassis and jacks on it that the mains reaches, and its least ohms to the mains.

    A jack is where its least ohms are.
    """
    exposed = {"chassis": (circuit.points["chassis"],)} if "chassis" in circuit.points else {}
    found: dict[str, tuple[tuple[str, ...], float]] = {}
    for name, nets in {**exposed, **jacks(circuit)}.items():
        live = [n for n in nets if n in reached]
        if live:
            net = min(live, key=reached.__getitem__)
            found[net] = ((*found.get(net, ((), 0.0))[0], name), reached[net])
    return found


def _kept_inside(circuit: Circuit, reached: dict[str, float]) -> bool:
    """Whether the metal that a hand reaches is drawn, and the mains reaches none of it."""
    speakers = (b for b in circuit.branches.values() if b.kind is PartKind.SPEAKER)
    outside = {n for b in speakers for n in (b.a, b.b)}
    drawn = "chassis" in circuit.points
    return drawn and not live_metal(circuit, reached) and outside.isdisjoint(reached)


def _signals_on_mains(case: Case, reached: dict[str, float]) -> Iterator[Outcome]:
    signals = [b for b in case.circuit.branches.values() if b.kind is PartKind.SIGNAL]
    for branch in signals:
        if branch.a in reached:
            text = f"{branch.name} is on the mains side; is it a terminal somebody can touch?"
            yield live_chassis.not_judged((branch.name,), text)


@rule(
    "mains.live-common",
    title="The set's common is on the mains",
    level="warning",
    states="the drawing alone; switches count as closed",
    needs="the mains side on the drawing",
    criterion=(
        "`gnd` is joined to `line` or `neutral` by metal (wires, switches, resistances, diodes, "
        "not transformer windings) so that more than 0.5 mA rms can flow. Where chassis or a "
        "jack is live as well it is reported with mains.live-chassis. Advice where a chassis is "
        "drawn that the mains does not reach, and no jack that it does: the common is kept inside."
    ),
    why=(
        "In a set without a mains transformer the common bus is one side of the mains. With a "
        "plug or a socket wired the other way round, with an open neutral, or with the switch "
        "in the wrong lead, the bus and every screw, shaft, jack and capacitor can on it are at "
        "full line voltage against earth, and so is the shell of the oscilloscope clipped to it. "
        "A person who touches it can be killed."
    ),
    source=(
        Citation("iec-60335-1", "cl. 8.1.4, touch current of 0.7 mA peak"),
        Citation("practice", "isolating transformer for service"),
    ),
    limits=(
        "The drawing does not show what a hand can reach: shafts, screws, jacks. Where a live "
        "bus is meant, an accept says how it is kept out of reach."
    ),
    thresholds=(TOUCH_A,),
)
def live_common(case: Case) -> Iterator[Outcome]:
    """Look for gnd among what the mains reaches."""
    circuit = case.circuit
    if not mains_drawn(circuit):
        return
    limit = touch_limit(circuit)
    reached = touch_ohms(circuit, limit)
    if GROUND not in reached:
        return
    least, pole = reached[GROUND], pole_of(circuit, GROUND, limit)
    how = "is" if least == 0 and circuit.points.get(pole) == GROUND else "is by metal on"
    through = f" through {ohms(least)}" if least else ""
    yield live_common.finding(
        case,
        (GROUND, pole),
        f"the set's common, gnd, {how} the {pole} of the mains{through}: at full line voltage "
        "when a plug or socket is the other way round",
        "Work on it, and put a meter or oscilloscope to it, only behind an isolating "
        "transformer; nothing on the bus within reach (no metal case, screw, shaft or jack); "
        "what joins it to metal is a class Y capacitor of 4.7 nF at most and 1 Mohm of a type made "
        "for this gap (or two in series). Or give the set a mains transformer",
        evidence={"resistance": figure(least, "ohm"), "joined_to": pole},
        level="advice" if _kept_inside(circuit, reached) else None,
        limit=figure(limit, "ohm"),
        certainty="certain",
    )


@rule(
    "mains.earth-on-live-common",
    title="Protective earth on the mains side",
    level="danger",
    blame=Blame.SLIP,
    states="the drawing alone; switches count as closed",
    needs="the mains side on the drawing, and `earth`",
    criterion=(
        "`earth` is joined by wire to a point of the set that fuses, switches and resistances of "
        f"up to {SERIES_OHM.value / 1e3:g} kohm in all join to `line` or `neutral`, and the "
        "chassis, where one is drawn, is not on that point."
    ),
    why=(
        "With gnd on the neutral the load's current runs in the protective conductor too; with the "
        "plug the other way round the line is shorted to earth through the set. With the earth "
        "wire broken ahead of it everything that hangs on it is live. And the metal that a hand "
        "reaches, for which the wire was there, has no earth."
    ),
    source=(
        Citation("iec-61010-1", "protective bonding of what can be touched"),
        Citation("arithmetic", "Kirchhoff's current law"),
    ),
    limits=(
        "The line joined to earth by nothing but wire is mains.shorted; a chassis on the mains is "
        "mains.live-chassis."
    ),
    thresholds=(SERIES_OHM,),
)
def earth_on_live_common(case: Case) -> Iterator[Outcome]:
    """Look for earth among what the mains reaches, where the metal is not there as well."""
    circuit = case.circuit
    earth, metal = circuit.points.get("earth"), circuit.points.get("chassis")
    if earth is None or not mains_drawn(circuit) or metal == earth:
        return
    if circuit.points.get("line") in wired_to(circuit, earth):
        return  # mains.shorted
    if earth in touch_ohms(circuit, SERIES_OHM.value):
        yield _on_live(case, earth, metal)


def _on_live(case: Case, earth: str, metal: str | None) -> Finding:
    circuit = case.circuit
    pole, parts = way_from_mains(circuit, earth)
    own = (n for n in circuit.names.get(earth, ()) if is_own(n) and n not in ("earth", *POLES))
    there = next(own, net_text(circuit, earth))
    through = f" through {listed(parts)}" if parts else ""
    bare = f", and {'the chassis' if metal else 'what a hand reaches'} has no earth"
    return earth_on_live_common.finding(
        case,
        ("earth", there, *(("chassis",) if metal else ())),
        f"the protective earth is on {there}, which is on the {pole} of the mains{through}: the "
        f"current of the set runs in it, turned round the plug shorts the line to it{bare}",
        f"Do not plug it in. Take the wire of `earth` off {there} and to the metal that a hand "
        f"reaches (`chassis -- earth`), and leave nothing but a class Y capacitor of 4.7 nF at "
        f"most between that and {there}",
        evidence={"joined_to": pole, "through": listed(parts) or "wire"},
        certainty="certain",
    )


RULES = (
    live_chassis,
    live_common,
    earth_on_live_common,
)
