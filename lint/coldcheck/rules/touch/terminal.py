"""Dangerous voltage on what a person can touch, in any state, by whatever way it gets there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.misfed import fed_past_capacitor
from coldcheck.anatomy.neighbourhood import metal_ohms, net_text, past_a_resistor
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.roads import passes_freely, road, wired_to
from coldcheck.anatomy.supplies import held_up
from coldcheck.anatomy.touchable import METAL, SPEAKER, TERMINAL, hung_on, touchables
from coldcheck.circuit.kinds import Contact
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Unjudged
from coldcheck.judge.limits import TOUCH_DC, TOUCH_PEAK
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.rules.signal.paths import is_supply
from coldcheck.rules.touch.shock import (
    FELT,
    HURTS_DC,
    HURTS_DC_V,
    HURTS_PEAK,
    HURTS_PEAK_V,
    MAY_DC,
    MAY_PEAK,
    PERSON,
    SMALL_C,
    SMALL_Q,
    SMALL_Q_V,
    STRONG,
    Shock,
    between,
    floating_pairs,
    rank,
    stores,
    worst_shock,
)
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.misfed import Misfed
    from coldcheck.anatomy.touchable import Touchable
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

RANKS = ("notice", "caution", "warning", "danger")

SHROUDED = (
    "Use a terminal that no finger gets into (IEC 61010-1), mark its voltage beside it, and switch "
    "the supply off before a lead is put on or taken off"
)

HARDLY_OHM, NEAREST = 100.0, 3
"""What stands in the way of a short no more than that is named, the parts next to the place."""

MOST_PLACES = 20
"""Live places that are told of one drawing: each costs a solution or two."""


@rule(
    "touch.live-terminal",
    title="Dangerous voltage on something one can touch",
    level="danger",
    states="every solved state, with the plugs' cables open at the far end",
    needs="a solved state",
    criterion=(
        "Chassis, a lead of a jack, a point with a signal, a speaker's lead or an output "
        "transformer's secondary is at more than 60 V DC or 42.4 V peak AC against earth (else "
        "the chassis, the neutral, gnd) with nothing plugged in, and drives more than 2 mA DC or "
        "0.7 mA peak through 2 kohm, or holds more than 0.1 uF (above 450 V: 45 microcoulomb). "
        "Danger above 25 mA DC or 7.07 mA peak from more than 120 V DC or 70.7 V peak, a "
        "warning above such a current alone, and above such a voltage "
        f"from {STRONG.value:g} times such a current, else a caution. Less current than 2 mA, but "
        "more than 0.1 mA, from a jack or an input is a notice. What the pass tube of a regulated "
        "supply hands on is advice, at the tip of a jack in a drawing that is nothing else."
    ),
    why=(
        "A hand on a plug does not know what the drawing calls the point. High voltage from a "
        "supply gets to a terminal by a wire, a resistor, a load that is pulled, a tube that is "
        "cold or out of its socket; with a hand on the chassis it goes through the chest."
    ),
    source=(
        Citation("iec-62368-1", "table 4: 60 V DC, 120 V, 70.7 V peak, 25 mA, 7.07 mA peak"),
        Citation(
            "iec-60335-1",
            "cl. 8.1.4: 42.4 V peak, 2 mA DC, 0.7 mA peak, 0.1 uF, "
            "45 microcoulomb; 2 kohm from memory",
        ),
    ),
    limits=(
        "Voltages are those of the supply and the mains, not of the signal. A person is 2 kohm "
        "from one place to earth; wet hands are less. Insulating knobs, caps and cabinets are "
        "not in a drawing. What floats has no voltage to earth: only both leads of one jack are "
        "looked at then."
    ),
    thresholds=(
        *(TOUCH_DC, TOUCH_PEAK, MAY_DC, MAY_PEAK, HURTS_DC_V, HURTS_PEAK_V, HURTS_DC, HURTS_PEAK),
        *(PERSON, STRONG, FELT, SMALL_C, SMALL_Q_V, SMALL_Q),
    ),
)
def live_terminal(case: Case) -> Iterator[Outcome]:
    """Look at every place within reach; solve again with a person where there is a voltage."""
    places, told = touchables(case.circuit), 0
    reason = unsolved(case)
    if reason is not None:
        if places:
            names = tuple(dict.fromkeys(t.name for t in places))
            yield live_terminal.not_judged(names, reason, Unjudged.STATE_NOT_SOLVED)
        return
    for touched in places:
        if told >= MOST_PLACES:
            yield live_terminal.not_judged((touched.name,), "as many places are live already")
            continue
        found = worst_shock(case, touched)
        told += found is not None
        if isinstance(found, Shock):
            yield _live(case, touched, found)
        elif found is not None:
            yield live_terminal.not_judged((touched.name,), found, Unjudged.STATE_NOT_SOLVED)
    for one, other in floating_pairs(case):
        shock = between(case.circuit, one, other, case.warm.state)
        if shock is not None and rank(shock, one) >= 0:
            yield _live(case, one, shock)


def _live(case: Case, touched: Touchable, shock: Shock) -> Finding:
    circuit = case.circuit
    there = ("DC", shock.volts.dc) if shock.volts.dc >= shock.volts.peak else ("peak AC", 0.0)
    most = shock.volts.worse
    flows = shock.amps.over(MAY_DC, MAY_PEAK) > 1
    stored = stores(shock) and not flows
    then = (
        f"drives {amperes(shock.amps.worse)} through a person"
        if not stored
        else f"has {shock.farads * 1e6:.3g} uF charged to it"
    )
    state = shock.solution.state
    evidence: dict[str, Figure | str] = {
        "dc": figure(shock.volts.dc, "V"),
        "ac_peak": figure(shock.volts.peak, "V"),
        "current_dc": figure(shock.amps.dc, "A"),
        "current_peak": figure(shock.amps.peak, "A"),
        "against": (circuit.names.get(shock.other) or (shock.other,))[0],
    }
    made_to = gives_its_supply(circuit, touched)
    way = _way(circuit, touched)
    by = f" by {listed(way)}" if way else ""
    return live_terminal.finding(
        case,
        (touched.name, *way),
        f"{touched.point} is at {volts(most)} {there[0]}{by} and {then}"
        + (", as the terminal of a supply is" if made_to else ""),
        SHROUDED if made_to else _remedy(circuit, touched, way),
        state=state.name,
        level="advice" if made_to else RANKS[rank(shock, touched)],
        evidence=evidence,
        limit=(TOUCH_DC if there[0] == "DC" else TOUCH_PEAK).figure,
        excess=shock.volts.over(TOUCH_DC, TOUCH_PEAK),
    )


def _way(circuit: Circuit, touched: Touchable) -> tuple[str, ...]:
    """What brings a supply to a place: a feed past its capacitor, or the coils on the way there."""
    if touched.kind != TERMINAL:
        return ()  # both leads of a speaker are one place, and a chassis has many ways
    misfed = next(iter(_misfed_beside(circuit, touched)), None)
    if misfed is not None:
        return misfed.feed.owner, misfed.capacitor.owner
    graph = _short_ways(circuit)
    rails = [n for n in graph if n in stiff_nets(circuit) or held_up(circuit, n)]
    ways = [tuple(dict.fromkeys(road(graph, touched.net, n) or ())) for n in rails]
    return min((w[:NEAREST] for w in ways if w), key=len, default=())


def _short_ways(circuit: Circuit) -> nx.Graph[str]:
    """The nets that coils, contacts or next to nothing join, the landmarks left out."""
    graph: nx.Graph[str] = nx.Graph()
    for branch in circuit.branches.values():
        little = (metal_ohms(branch) or HARDLY_OHM) < HARDLY_OHM
        short = branch.traits.coil or passes_freely(branch) or little
        if short and not {branch.a, branch.b} & set(LANDMARKS):
            graph.add_edge(branch.a, branch.b, through=branch.owner)
    return graph


def gives_its_supply(circuit: Circuit, touched: Touchable) -> bool:
    """Whether a terminal is what the drawing is for.

    That is the tip of a jack on what a pass tube hands on, in a set on the mains that makes no
    sound: no signal, speaker or output transformer, no jack that leads to a grid.
    """
    tip = touched.kind == TERMINAL and touched.point.endswith(".tip")
    if not tip or circuit.mains is None or _sounds(circuit):
        return False
    nets = wired_to(circuit, touched.net) - set(LANDMARKS)
    cathodes = (s for n in nets for s, _ in _near(circuit, n, "cathode"))
    return any(is_supply(circuit, s) for s in cathodes)


def _near(circuit: Circuit, net: str, electrode: str) -> Iterator[tuple[Section, str]]:
    """The sections with an electrode on a net, or behind a resistor that shares the current."""
    nets = {net, *(n for n in past_a_resistor(circuit, net) if n not in LANDMARKS)}
    return (p for n in nets for p in circuit.electrodes_at(n) if p[1] == electrode)


def _sounds(circuit: Circuit) -> bool:
    """Whether anything in a drawing is for a signal."""
    kinds = (PartKind.SIGNAL, PartKind.SPEAKER)
    still = still_nets(circuit)
    nets = coupled(circuit, [j.tip for j in jacks(circuit)], still)
    hears = any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))
    return bool(circuit.outputs) or hears or any(b.kind in kinds for b in circuit.branches.values())


def _plugged(branch: Branch) -> bool:
    """Whether it is what one plugs in, or the jack it goes into."""
    plug = branch.traits.contact is Contact.PLUG
    return plug or branch.kind in (PartKind.SPEAKER, PartKind.JACK)


def _remedy(circuit: Circuit, touched: Touchable, way: tuple[str, ...]) -> str:
    misfed = next(iter(_misfed_beside(circuit, touched)), None)
    if misfed is not None:
        plate, past = net_text(circuit, misfed.near), misfed.capacitor.owner
        return f"Join {misfed.feed.owner} to {plate}, the plate's side of {past}, not to this one"
    beside = [b.owner for b in circuit.at(touched.net) if not _plugged(b)]
    away = [n for n in dict.fromkeys(beside) if n not in hung_on(circuit)][:3]
    which = f" ({listed(away)})" if away else ""
    if touched.kind == METAL:
        return f"Take what is on the chassis{which} off it; `chassis -- earth`, and gnd on it"
    if touched.kind == SPEAKER:
        return (
            f"Take the supply off the speaker's side{which}: an output transformer keeps it apart, "
            "one end of the secondary on gnd"
        )
    if way:
        which = f" ({listed(way)} leads there)"
    return (
        f"Take the supply off {touched.point}{which}: a signal comes out through a capacitor made "
        f"for the whole supply, with 220 kohm from the terminal to {GROUND}"
    )


def _misfed_beside(circuit: Circuit, touched: Touchable) -> Iterator[Misfed]:
    """The plates whose feed stands on this side of their capacitor instead of theirs."""
    if touched.kind != METAL:
        near = wired_to(circuit, touched.net) | set(reach(circuit, [touched.net], LANDMARKS))
        yield from (m for m in fed_past_capacitor(circuit) if m.far in near)


RULES = (live_terminal,)
