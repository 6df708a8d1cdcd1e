"""The second grid of a long-tailed pair: it has to hold still for the signal."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, givers, still_nets, takers
from coldcheck.anatomy.feedback_points import comes_back, feet
from coldcheck.anatomy.neighbourhood import (
    capacitors_to_rest,
    net_text,
    own_text,
    resistors_at,
)
from coldcheck.anatomy.switching import switches
from coldcheck.anatomy.twins import type_of
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.feedback_points import Fed
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

HOLDS_OHM = Threshold(
    "resistance through which a second grid still holds still", 47e3, "ohm", PRACTICE
)
UNEQUAL = Threshold(
    "times the other's plate resistor that the driven half's is", 1.1, "",
    Citation("practice", "82 and 100 kohm, 91 and 100 kohm; the other half has the larger one"),
)  # fmt: skip
SLIGHTLY = 2.0
"""Beyond this the two are no such pair, but one has another value altogether."""


@rule(
    "signal.second-grid-loose",
    title="Second grid of a long-tailed pair not held still",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the pair",
    criterion=(
        "Two sections on one cathode point, each with a plate of its own: the grid of one hangs on "
        f"resistors of {HOLDS_OHM.value / 1e3:g} kohm or more only, with no capacitor and no "
        "electrode on it that would hold it for the signal; a capacitor to the pair's own tail "
        "does not."
    ),
    why=(
        "The second tube works from the cathode, against a grid at signal zero. Without its "
        "capacitor that grid follows the tail, the second plate gives next to nothing, and one "
        "output tube is hardly driven. All voltages at rest are right."
    ),
    source=PRACTICE,
    limits="A signal led to both grids, pairs whose tail is bypassed, and triggers are left alone.",
    thresholds=(HOLDS_OHM,),
)
def second_grid_loose(case: Case) -> Iterator[Outcome]:
    """Look at both grids of every pair."""
    still = still_nets(case.circuit)
    for pair in _pairs(case.circuit, still):
        loose = [s for s in pair if _loose(case.circuit, s, still)]
        if len(loose) == 1 and not switches(case.circuit, loose[0]):
            yield _told(case, loose[0])


def _pairs(circuit: Circuit, still: frozenset[str]) -> Iterator[tuple[Section, Section]]:
    """Sections that share a cathode point which holds still for no signal."""
    by_tail: dict[str, list[Section]] = {}
    for _, section in working(circuit):
        tail = section.cathode_nets[0]
        if "grid" in section.electrodes and tail not in still:
            by_tail.setdefault(tail, []).append(section)
    for pair in by_tail.values():
        if len(pair) == 2 and len({s.net("plate") for s in pair} - {None}) == 2:
            yield pair[0], pair[1]


def _loose(circuit: Circuit, section: Section, still: frozenset[str]) -> bool:
    """Whether only large resistors, or a tie to the tail, hang on a grid, and nothing at rest."""
    grid = section.electrodes["grid"]
    at, tail = circuit.at(grid), _tail(circuit, section, still)
    alone = grid not in LANDMARKS and len(circuit.electrodes_at(grid)) == 1
    ties = [b for b in at if b.kind is PartKind.CAPACITOR and b.other(grid) in tail]
    rest = [b for b in at if b not in ties]
    return alone and bool(at) and all(_large(b) for b in rest) and (
        bool(ties) or all(_idle(circuit, b.other(grid), still) for b in rest)
    )  # fmt: skip


def _large(branch: Branch) -> bool:
    value = branch.ohms if branch.kind is PartKind.RESISTOR else None
    return value is not None and value >= HOLDS_OHM.value


def _idle(circuit: Circuit, net: str, still: frozenset[str]) -> bool:
    """Whether a point neither brings a signal, as an electrode would, nor holds still."""
    return not circuit.electrodes_at(net) and net not in still


def _tail(circuit: Circuit, section: Section, still: frozenset[str]) -> frozenset[str]:
    """What moves with the pair: its cathodes, and the points a resistor away from them."""
    cathode = section.cathode_nets[0]
    near = (b.other(cathode) for b in resistors_at(circuit, cathode))
    return frozenset({cathode, *near}) - still


def _told(case: Case, section: Section) -> Outcome:
    grid = section.electrodes["grid"]
    at = case.circuit.at(grid)
    held = next((b for b in at if b.kind is PartKind.CAPACITOR), None)
    leak = next((b for b in at if b.kind is PartKind.RESISTOR), at[0])
    value = leak.ohms or 0.0
    only = f"only {leak.name} ({ohms(value)}) is on its grid, nothing holds it for the signal"
    if held is not None:
        to = net_text(case.circuit, held.other(grid))
        only = f"{held.name} ties its grid to {to}, the pair's own tail, which moves"
    return second_grid_loose.finding(
        case,
        (section.name, (held or leak).name),
        f"{section.name}: {only}: it follows the common cathode, and this half hardly works",
        f"Take {held.name} to gnd instead (to the feedback point where feedback comes in there)"
        if held is not None
        else f"Put 100 nF from {net_text(case.circuit, grid)} to gnd (to the feedback point where "
        "feedback comes in there)",
        evidence={"grid leak": figure(value, "ohm")},
        limit=HOLDS_OHM.figure,
        certainty="likely",
    )


@rule(
    "signal.second-grid-off-feedback",
    title="Second grid of a long-tailed pair held at gnd, feedback below its tail",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the pair",
    criterion=(
        "Two sections on one cathode point, each with a plate of its own: to the foot of their "
        "tail, a point with a resistor to gnd, a resistor or capacitor brings what a later stage "
        "or an output transformer gives; and a capacitor holds the grid of one, on resistors of "
        f"{HOLDS_OHM.value / 1e3:g} kohm or more besides, at gnd."
    ),
    why=(
        "A pair amplifies what is between its two grids. What is fed back below the tail gets to "
        "the pair only where the second grid goes with it. Held at gnd instead, it moves both "
        "cathodes alike, by next to nothing: the amplifier works as without feedback."
    ),
    source=(PRACTICE, Citation("arithmetic", "the tail over the foot's resistor")),
    limits="Feedback to the cathodes themselves is not looked at.",
    thresholds=(HOLDS_OHM,),
)
def second_grid_off_feedback(case: Case) -> Iterator[Outcome]:
    """Look at the foot of every pair's tail."""
    circuit = case.circuit
    for pair in _pairs(circuit, still_nets(circuit)):
        held = [(s, c) for s in pair if (c := _held_at_gnd(circuit, s)) is not None]
        fed = _fed_below(circuit, pair) if len(held) == 1 else None
        if fed is not None:
            yield _off_feedback(case, *held[0], fed)


def _held_at_gnd(circuit: Circuit, section: Section) -> Branch | None:
    """The capacitor to gnd that is all there is on a grid beside large resistors."""
    grid = section.electrodes["grid"]
    at = circuit.at(grid) if grid not in LANDMARKS else []
    held = capacitors_to_rest(circuit, grid) if at else []
    alone = len(circuit.electrodes_at(grid)) == 1 and all(_large(b) for b in at if b not in held)
    return held[0] if len(held) == 1 and alone else None


def _fed_below(circuit: Circuit, pair: tuple[Section, Section]) -> Fed | None:
    """What comes back to a foot of a pair's tail, one or two resistors down."""
    tail = pair[0].cathode_nets[0]
    below = [b.other(tail) for b in resistors_at(circuit, tail)]
    points = dict.fromkeys(
        n for t in (tail, *below) if t not in LANDMARKS for n in feet(circuit, t)
    )
    but = {tail, *below}
    found = (comes_back(circuit, s, n, but - {n}) for n in points for s in pair)
    return next((f for f in found if f is not None), None)


def _off_feedback(case: Case, section: Section, held: Branch, fed: Fed) -> Finding:
    name, point = section.name, own_text(case.circuit, fed.point)
    return second_grid_off_feedback.finding(
        case,
        (held.name, name, fed.part.name),
        f"{held.name} holds the grid of {name} at gnd, and {fed.part.name} brings feedback from "
        f"{fed.giver} to {point}, below the pair's tail: it moves both cathodes alike, and hardly",
        f"Take {held.name} from gnd to {point}",
        evidence={"feedback": point},
        certainty="likely",
    )


@rule(
    "signal.inverter-loads-exchanged",
    title="Unequal plate resistors of a long-tailed inverter exchanged",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of both plate resistors",
    criterion=(
        "Two sections on one cathode point, each with a plate resistor and a grid behind its "
        "plate: a stage or a source drives the grid of one and not of the other, and the plate "
        f"resistor of the driven one is {UNEQUAL.value:g} to {SLIGHTLY:g} times that of the other."
    ),
    why=(
        "The second half works from the tail and gets a little less of the signal than the first. "
        "Its plate resistor is made a tenth to a quarter larger for that. The other way round the "
        "difference is doubled: one output tube is driven far harder than its fellow."
    ),
    source=(PRACTICE, Citation("arithmetic", "each plate's swing is its current times its load")),
    limits="Pairs of which only one plate is used are left alone.",
    thresholds=(UNEQUAL,),
)
def inverter_loads_exchanged(case: Case) -> Iterator[Outcome]:
    """Hold the two plate resistors of each pair against each other."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for pair in _pairs(circuit, still):
        driven = [s for s in pair if _from_before(circuit, s, pair, still)]
        loads = {s.name: _load(circuit, s, still) for s in pair}
        if len(driven) != 1 or not all(loads.values()):
            continue
        other = pair[0] if driven[0] is pair[1] else pair[1]
        first, second = loads[driven[0].name], loads[other.name]
        if first is not None and second is not None:
            ratio = first[1] / second[1]
            if UNEQUAL.value <= ratio <= SLIGHTLY and _both_used(circuit, pair, still):
                yield _exchanged(case, driven[0], (first, second), ratio)


def _from_before(
    circuit: Circuit, section: Section, pair: tuple[Section, Section], still: frozenset[str]
) -> bool:
    """Whether an earlier stage, a source or a jack drives a grid, its own tail left out."""
    fellows = {n for s in pair for n in (s.electrodes["grid"], *s.cathode_nets)}
    grid = section.electrodes["grid"]
    nets = coupled(circuit, [grid], (still | fellows | _tail(circuit, section, still)) - {grid})
    after = {s.name for s in pair}
    stages = {s.name: s for s in circuit.sections()}
    for name, electrode in givers(circuit, nets):
        if name in stages and not after & behind(circuit, stages[name]):
            return True
        branch = circuit.branches.get(name)
        if electrode == "tip" or (branch is not None and branch.kind is PartKind.SIGNAL):
            return True
    return False


def _load(circuit: Circuit, section: Section, still: frozenset[str]) -> tuple[Branch, float] | None:
    """The one resistor from a plate to a supply point, with its ohms."""
    plate = section.net("plate") or ""
    found = [b for b in resistors_at(circuit, plate) if b.other(plate) in still - {GROUND}]
    value = si(found[0].value, "ohm") if len(found) == 1 else None
    return (found[0], value) if value else None


def _both_used(circuit: Circuit, pair: tuple[Section, Section], still: frozenset[str]) -> bool:
    """Whether a grid of another section is behind each plate."""
    own = {s.name for s in pair}
    behind_each = (coupled(circuit, [s.electrodes["plate"]], still) for s in pair)
    return all(
        any(e == "grid" and s.name not in own for n in nets for s, e in circuit.electrodes_at(n))
        for nets in behind_each
    )


def _exchanged(
    case: Case, driven: Section, loads: tuple[tuple[Branch, float], tuple[Branch, float]],
    ratio: float,
) -> Finding:  # fmt: skip
    (first, its), (second, others) = loads
    return inverter_loads_exchanged.finding(
        case,
        (first.name, second.name, driven.name),
        f"{first.name} ({ohms(its)}) loads {driven.name}, the half that is driven, and "
        f"{second.name} ({ohms(others)}) the other, which gets less: the larger belongs there",
        f"Exchange {first.name} and {second.name}",
        evidence={"ratio": figure(ratio, "")},
        limit=UNEQUAL.figure,
        certainty="likely",
        excess=ratio / UNEQUAL.value,
    )


@rule(
    "signal.bridge-driven-alike",
    title="Bridge of two tubes with both grids on one signal",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the bridge",
    criterion=(
        "Two sections of one type, with nothing on their cathodes (or on their plates) that uses a "
        "signal but what joins the two, a meter or resistors; and resistors bring both grids one "
        "signal."
    ),
    why=(
        "The meter of such a bridge shows the difference of its two halves. One grid gets what is "
        "to be measured, the other holds still. With both on it the two halves move alike and the "
        "meter stays where it is."
    ),
    source=PRACTICE,
    limits="Two followers in parallel have an output where they are joined, and are left alone.",
)
def bridge_driven_alike(case: Case) -> Iterator[Outcome]:
    """Look at pairs that only something between them listens to."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for (_, one), (_, other) in combinations(working(circuit), 2):
        if type_of(circuit, one) != type_of(circuit, other) or one.kind is not SectionKind.TRIODE:
            continue
        if _bridged(circuit, one, other, still) and (met := _met(circuit, one, other, still)):
            yield _alike(case, one, other, met)


def _bridged(circuit: Circuit, one: Section, other: Section, still: frozenset[str]) -> bool:
    """Whether something joins the cathodes of two, or their plates, and nothing else is there."""
    for electrode, quiet in (("cathode", "plate"), ("plate", "cathode")):
        here, there = one.net(electrode), other.net(electrode)
        silent = [s.net(quiet) in still for s in (one, other)]
        if here is None or there is None or here == there or not all(silent):
            continue
        nets = coupled(circuit, [here, there], still)
        joined = there in coupled(circuit, [here], still)
        if joined and takers(circuit, nets) == {one.name, other.name}:
            return True
    return False


def _met(circuit: Circuit, one: Section, other: Section, still: frozenset[str]) -> str:
    """The point from which resistors lead to both grids, and something drives; or nothing."""
    grids = [s.net("grid") or "" for s in (one, other)]
    if set(grids) & still or "" in grids:
        return ""
    near = [[g, *(b.other(g) for b in resistors_at(circuit, g))] for g in grids]
    met = [n for n in near[0] if n in near[1] and n not in still]
    driven = met and givers(circuit, coupled(circuit, met[:1], still))
    return met[0] if driven else ""


def _alike(case: Case, one: Section, other: Section, met: str) -> Finding:
    circuit, point = case.circuit, own_text(case.circuit, met)
    parts = [b.name for s in (one, other) for b in circuit.at(s.electrodes["grid"])
             if b.other(s.electrodes["grid"]) == met and b.kind is PartKind.RESISTOR]  # fmt: skip
    return bridge_driven_alike.finding(
        case,
        (*dict.fromkeys(reversed(parts)), one.name, other.name),
        f"the grids of {one.name} and {other.name} both get what is at {point}: the two halves of "
        "the bridge move alike, and what is between them shows nothing",
        f"Take one of the two grids, with its resistor, from {point} to gnd",
        evidence={"driven from": point},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (
    second_grid_loose,
    second_grid_off_feedback,
    inverter_loads_exchanged,
    bridge_driven_alike,
)
