"""Jacks and controls: an empty input, a loop without a plug, a sleeve or wipers miswired."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.galvanic import touch_ohms
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.loose import wired_points
from coldcheck.anatomy.neighbourhood import (
    AMPLIFYING,
    is_own,
    metal,
    metal_ohms,
    net_text,
    own_text,
    resistors_at,
)
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import PotLine
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.jacks import Jack
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome

QUIET_OHM = Threshold("resistance of an unplugged input", 10e3, "ohm", PRACTICE)
"""Below this an unplugged input picks up little (common practice, from memory)."""

AT_REST = frozenset(LANDMARKS) - {"line", "neutral"}

STOPPER_OHM = 100e3
"""No stopper between a wiper and a grid is larger (common practice)."""

LIVE_OHM = 100e3
"""A common that the mains reaches through less is taken for live when a remedy is worded."""


@rule(
    "signal.jack-open",
    title="Input left open when its plug is pulled",
    level="advice",
    states="the plug pulled; switches as drawn",
    needs="a jack whose tip leads to a grid, and known resistances",
    criterion="With the plug out and the jack's switch contact resting on the tip, more than "
    "10 kohm is left from the tip to gnd.",
    why="The open end of a grid's wire picks up hum and everything else. A jack with a switch "
    "contact to gnd silences the input by itself when the plug is pulled.",
    source=PRACTICE,
    limits="Only the jack's own contact and plain resistances count; a mute switch further on is "
    "not looked for. A grid without any path to gnd is reported by grid.no-return.",
    thresholds=(QUIET_OHM,),
)
def jack_open(case: Case) -> Iterator[Outcome]:
    """What each input jack leaves its grid with when it is empty."""
    circuit = case.circuit
    graph = _unplugged(circuit)
    for jack in jacks(circuit):
        grid = _grid(circuit, jack)
        if grid is None:
            continue
        left = _to_ground(graph, jack.tip)
        if QUIET_OHM.value < left < inf:
            unwired = jack.switch is not None and len(circuit.names.get(jack.switch, ())) < 2
            contact = f"; the switch contact of {jack.name} is not wired" if unwired else ""
            yield jack_open.finding(
                case,
                (jack.name,),
                f"with the plug out of {jack.name} the tip, which leads to {grid}, has only "
                f"{ohms(left)} to gnd{contact}",
                f"{_wire(jack)}, so that the empty jack shorts the input",
                state="unplugged",
                evidence={"to_gnd": figure(left, "ohm")},
                limit=QUIET_OHM.figure,
                certainty="certain",
                excess=left / QUIET_OHM.value,
            )


def _wire(jack: Jack) -> str:
    if jack.switch is None:
        return f"Use a jack with a switch contact, declared `jack {jack.name}`, and wire it to gnd"
    return f"Wire `{jack.name}.switch -- gnd`"


def _unplugged(circuit: Circuit) -> nx.Graph[str]:
    """Metal with the contacts of all jacks closed; signal generators are gone with the plugs."""
    graph = metal(circuit).copy()
    for branch in circuit.branches.values():
        if branch.kind is PartKind.JACK_CONTACT:
            graph.add_edge(branch.a, branch.b, weight=0.0)
    return graph


def _to_ground(graph: nx.Graph[str], net: str) -> float:
    if net == GROUND:
        return 0.0
    if net not in graph or GROUND not in graph or not nx.has_path(graph, net, GROUND):
        return inf
    return float(nx.dijkstra_path_length(graph, net, GROUND))


def _grid(circuit: Circuit, jack: Jack) -> str | None:
    """The grid that a jack's tip leads to through resistors, a pot or a coupling capacitor."""
    graph: nx.Graph[str] = nx.Graph([(jack.tip, jack.tip)])
    for branch in circuit.branches.values():
        passes = branch.kind is PartKind.CAPACITOR or metal_ohms(branch) is not None
        if passes and GROUND not in (branch.a, branch.b):
            graph.add_edge(branch.a, branch.b)
    near = nx.node_connected_component(graph, jack.tip)
    found = [(s, e) for n in near for s, e in circuit.electrodes_at(n) if s.kind in AMPLIFYING]
    # Behind a plate or cathode it is an output, not an input.
    if any(e in ("plate", "cathode", "screen") for _, e in found):
        return None
    return min((f"{s.name}.{e}" for s, e in found if e in SIGNAL_GRIDS), default=None)


@rule(
    "signal.return-muted",
    title="Return jack of a loop that mutes the set when it is empty",
    level="notice",
    states="the drawing alone, no plug in",
    needs="a `signal`, and the wiring of the jacks",
    criterion="The signal drawn gets to one jack, a send, and to nothing after it; another jack, "
    "whose switch contact is on gnd, leads to the rest of the set and has no signal of its own.",
    why="An effects loop has to pass when nothing is plugged in: the switch contact of the return "
    "brings the send. On gnd, as at an input, it shorts the way on, and the set is silent.",
    source=PRACTICE,
    limits="Two sets on one drawing, the second without its own `signal` line, look the same: "
    "draw its signal.",
)
def return_muted(case: Case) -> Iterator[Outcome]:
    """Follow the signals to where they end."""
    circuit = case.circuit
    every = list(jacks(circuit))
    signals = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
    if not signals or len(every) < 2:
        return
    reached = _carried(circuit, {n for b in signals for n in (b.a, b.b)})
    sends = [j for j in every if j.tip in reached and _given(circuit, j)]
    muted = [
        j for j in every
        if j.switch == GROUND and j.tip not in reached and _grid(circuit, j) is not None
    ]  # fmt: skip
    if len(sends) == 1 and len(muted) == 1 and not _comes_out(circuit, reached):
        yield _muted(case, sends[0], muted[0])


def _carried(circuit: Circuit, start: set[str]) -> frozenset[str]:
    """Every net a signal gets to, from grid to plate and cathode as well."""
    still = still_nets(circuit)
    reached = coupled(circuit, start, still)
    while True:
        through = {
            n for s in circuit.sections() if s.kind in AMPLIFYING and s.net("grid") in reached
            for e, n in s.electrodes.items() if e in ("plate", "cathode")
        } - still  # fmt: skip
        more = reached | coupled(circuit, through, still)
        if more == reached:
            return reached
        reached = more


def _given(circuit: Circuit, jack: Jack) -> bool:
    """Whether a plate or a cathode brings the signal of a jack's tip."""
    nets = coupled(circuit, [jack.tip], still_nets(circuit))
    return any(e in ("plate", "cathode") for n in nets for _, e in circuit.electrodes_at(n))


def _comes_out(circuit: Circuit, reached: Collection[str]) -> bool:
    """Whether what a signal gets to has an output: a speaker, a transformer, a point named so."""
    kinds = {b.kind for n in reached for b in circuit.at(n)}
    named = any(named_out(p) for n in reached for p in circuit.names.get(n, ()))
    return named or bool(kinds & {PartKind.SPEAKER, PartKind.WINDING})


def _muted(case: Case, send: Jack, back: Jack) -> Outcome:
    return return_muted.finding(
        case,
        (back.name, send.name),
        f"with no plug in, {back.name}.switch holds the tip of {back.name} at gnd: the signal ends "
        f"at {send.name}, and nothing gets past it",
        f"Wire {back.name}.switch to the tip of {send.name} in place of gnd",
        state="unplugged",
        certainty="likely",
    )


@rule(
    "signal.sleeve-open",
    title="Jack whose sleeve leads nowhere",
    level="notice",
    states="the drawing alone",
    needs="a declared jack with something on its tip",
    criterion="Something is wired to the tip of a jack, and nothing to its sleeve.",
    why="A signal takes two wires. With the sleeve in the air what is plugged in has no common "
    "with the set: hum, and no signal to speak of.",
    source=PRACTICE,
    limits="A jack whose metal bushing is meant to ground it by the panel looks the same: draw "
    "that, `J1.sleeve -- chassis`.",
)
def sleeve_open(case: Case) -> Iterator[Outcome]:
    """Look at both contacts of every declared jack."""
    circuit = case.circuit
    for jack in (j for j in jacks(circuit) if j.switch is not None):
        if _is_aerial(circuit, jack.tip):
            continue
        if _wired(circuit, jack.tip) and not _wired(circuit, jack.sleeve):
            yield sleeve_open.finding(
                case,
                (jack.name, f"{jack.name}.sleeve"),
                f"{jack.name}: its tip is wired and its sleeve leads nowhere",
                _to_wire(circuit, jack.name),
                certainty="certain",
            )


def _is_aerial(circuit: Circuit, tip: str) -> bool:
    """Whether a tip leads to a coil for radio frequencies alone, straight or by a capacitor.

    An aerial is one wire, and its socket has no other.
    """
    coils = {b.name for s in circuit.coil_sets.values() if not s.iron for _, b in s.branches}
    at = [b for b in circuit.at(tip) if b.kind is not PartKind.JACK_CONTACT]
    far = [b for c in at if c.kind is PartKind.CAPACITOR for b in circuit.at(c.other(tip))]
    return bool(at) and any(b.name in coils for b in (*at, *far))


def _to_wire(circuit: Circuit, name: str) -> str:
    """Where the sleeve belongs; never onto a common that is on the mains."""
    if GROUND in touch_ohms(circuit, LIVE_OHM):
        return (
            f"Not to gnd, which is on the mains: {name}.sleeve goes through a capacitor of class "
            "Y1, 1 nF at most, with as good a one in the lead of the tip"
        )
    return f"Wire {name}.sleeve to gnd, or to the common of what its tip leads to"


def _wired(circuit: Circuit, net: str) -> bool:
    """Whether something but the jack's own contact is on a net, or the net has another name."""
    parts = [b for b in circuit.at(net) if b.kind is not PartKind.JACK_CONTACT]
    return bool(parts or circuit.electrodes_at(net)) or len(circuit.names.get(net, ())) > 1


@rule(
    "signal.tip-open",
    title="Jack without a wire at its tip",
    level="notice",
    states="the drawing alone",
    needs="a declared jack of which a lead is wired",
    criterion="Another lead of the jack is wired, and nothing is at its tip, nor at its ring.",
    why="What is plugged in there is joined to nothing: no signal comes in, or none goes out.",
    source=PRACTICE,
    limits="A jack of which only the ring is used is left alone.",
)
def tip_open(case: Case) -> Iterator[Outcome]:
    """Look at the leads of every jack."""
    circuit = case.circuit
    for jack in jacks(circuit):
        tips = [t for t in (jack.tip, jack.ring) if t is not None]
        if _wired(circuit, jack.sleeve) and not any(_wired(circuit, t) for t in tips):
            ends = _dangling(circuit)
            where = f" to {ends[0]}" if len(ends) == 1 else " to what it is for"
            yield tip_open.finding(
                case,
                (jack.name, f"{jack.name}.tip"),
                f"nothing is at the tip of {jack.name}",
                f"Wire {jack.name}.tip{where}",
                certainty="certain",
            )


def _dangling(circuit: Circuit) -> list[str]:
    """The points of the drawing at which a signal comes in or goes out, as their names say."""
    names = [n for n in wired_points(circuit).values() if named_out(n)]
    signals = [b.a for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
    taken = {j.tip for j in jacks(circuit)}
    names += [net_text(circuit, n) for n in signals]
    return [n for n in dict.fromkeys(names) if circuit.points.get(n) not in taken]


@rule(
    "signal.jack-reversed",
    title="Jack with tip and sleeve exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a declared jack with both leads wired",
    criterion="The tip of a jack is on gnd, the chassis or the earth, and its sleeve on a point "
    "that is not at rest: a grid gets its signal there, or a tube, a transformer or a `signal` "
    "gives one.",
    why="The sleeve is the bushing and the screen of the cable. In a metal panel it shorts the "
    "signal to the chassis, and so does the set at the other end of the cable; where neither does, "
    "the screen carries the signal and picks up hum.",
    source=PRACTICE,
    limits="Both leads off gnd, as at a bridged output, are left alone.",
)
def jack_reversed(case: Case) -> Iterator[Outcome]:
    """Look for signals on sleeves."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for jack in jacks(circuit):
        if jack.tip in AT_REST and jack.sleeve not in still and _live(circuit, jack.sleeve):
            name, rest = jack.name, net_text(circuit, jack.tip)
            yield jack_reversed.finding(
                case,
                (name, f"{name}.tip", f"{name}.sleeve"),
                f"{name}: its tip is on {rest}, and the signal on its sleeve, which the panel and "
                "the cable's screen join to the chassis",
                _exchange(circuit, name),
                certainty="certain",
            )


def _exchange(circuit: Circuit, name: str) -> str:
    """Both leads exchanged, unless that would put the bushing on the mains."""
    if GROUND in touch_ohms(circuit, LIVE_OHM):
        return f"Take the signal to {name}.tip. {_to_wire(circuit, name)}"
    return f"Exchange {name}.tip and {name}.sleeve"


def _live(circuit: Circuit, net: str) -> bool:
    """Whether a grid, or what gives a signal, is coupled to a net."""
    nets = coupled(circuit, [net], still_nets(circuit))
    grids = any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))
    return grids or any(e != "tip" for _, e in givers(circuit, nets))


@rule(
    "signal.wipers-joined",
    title="Signals mixed right at a wiper",
    level="notice",
    states="the drawing alone",
    needs="the wiring of a pot's wiper",
    criterion="The wipers of two pots are one point, each with a signal at its top and its other "
    "end at rest; or a wiper is right on a grid, or on its stopper, and a resistor or capacitor "
    "brings another signal there.",
    why="Turned down, a control shorts what is on its wiper to gnd: either of them silences both. "
    "A resistor of some 100 to 470 kohm from each wiper to the point keeps them apart.",
    source=PRACTICE,
    limits="Controls in one signal's way, one after the other, have no common wiper.",
)
def wipers_joined(case: Case) -> Iterator[Outcome]:
    """Look for pots that share the net of their wipers."""
    circuit, still = case.circuit, still_nets(case.circuit)
    lines = [s for s in circuit.drawing.statements if isinstance(s, PotLine)]
    at = {p.name: [circuit.points[f"{p.name}.{e}"] for e in LEADS] for p in lines}
    live = {n: e for n, e in at.items() if e[1] not in still and len({*e}) == 3}
    rests = {n: e for n, e in live.items() if e[2] in still and e[0] not in still}
    for wiper in dict.fromkeys(e[1] for e in rests.values()):
        joined = {n: e[0] for n, e in rests.items() if e[1] == wiper}
        if len(set(joined.values())) > 1:
            yield _joined_wipers(case, tuple(joined))
    for name, ends in live.items():
        mixed = _mixed_in(circuit, still, name, ends) if ends[2] in still else ""
        if mixed and ends[0] not in still:
            yield wipers_joined.finding(
                case,
                (name, mixed),
                f"{name}.wiper goes to the grid without a resistor, where {mixed} brings another "
                f"signal: turned down, {name} shorts that one too",
                f"Put a resistor{_as_large(circuit, mixed)} between {name}.wiper and the point "
                f"where {mixed} comes in",
                certainty="certain",
            )


def _as_large(circuit: Circuit, mixed: str) -> str:
    """What a mixing resistor should have: the ohms of the other one, where that is one."""
    branch = circuit.branches.get(mixed)
    value = branch.ohms if branch and branch.kind is PartKind.RESISTOR else None
    return f" of {ohms(value)}, as {mixed} is," if value else " of 220 kohm or so"


def _joined_wipers(case: Case, names: tuple[str, ...]) -> Finding:
    first, *others = names
    either = "either shorts both" if len(names) == 2 else "any shorts all"
    point = own_text(case.circuit, case.circuit.points[f"{first}.wiper"])
    named = (point,) if is_own(point) else ()
    one = f"one point, {point}" if named else "one point"
    return wipers_joined.finding(
        case,
        (*names, *named),
        f"the wipers of {listed(names)} are {one}: turned down, {either}",
        f"Put a resistor of 220 kohm or so between {first}.wiper and the point where they "
        f"meet, and one at {listed(f'{n}.wiper' for n in others)}",
        certainty="certain",
    )


def _mixed_in(circuit: Circuit, still: frozenset[str], name: str, ends: list[str]) -> str:
    """The part that brings another signal to a wiper with a grid right on it; empty without one."""
    top, wiper, _ = ends
    own = _grids_at(circuit, wiper)
    held = {*still, wiper}
    before = givers(circuit, coupled(circuit, [top], held, without=(name,)))
    for branch in circuit.at(wiper) if own else ():
        far = branch.other(wiper)
        passes = branch.kind in (PartKind.RESISTOR, PartKind.CAPACITOR)
        if not passes or branch.owner == name or far in (top, *held):
            continue
        found = givers(circuit, coupled(circuit, [far], held, without=(name,))) - before
        if any(giver not in own for giver, _ in found):
            return branch.owner
    return ""


def _grids_at(circuit: Circuit, net: str) -> set[str]:
    """The sections whose grids are on a net, straight or behind stoppers of their own."""
    near = [net]
    for branch in resistors_at(circuit, net):
        far = branch.other(net)
        if circuit.at(far) == [branch] and (branch.ohms or inf) <= STOPPER_OHM:
            near.append(far)
    return {s.name for n in near for s, e in circuit.electrodes_at(n) if e in SIGNAL_GRIDS}


LEADS = ("top", "wiper", "bottom")

RULES: tuple[Rule, ...] = (
    jack_open,
    return_muted,
    sleeve_open,
    tip_open,
    jack_reversed,
    wipers_joined,
)
