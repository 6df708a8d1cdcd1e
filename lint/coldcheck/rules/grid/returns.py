"""Grid rules: a return for every grid, and not too high."""

from __future__ import annotations

from itertools import pairwise
from math import inf
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy import grid_kinds, supplies
from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.grid_kinds import around, bias_kind, grid_ohms, is_power_tube
from coldcheck.anatomy.loose import free_end
from coldcheck.anatomy.neighbourhood import (
    metal,
    metal_ohms,
    nearest,
    ohms_between,
    resistors_at,
    wired,
)
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Finding, Outcome


STOPPER = Threshold(
    "grid stoppers allowed on top of the largest leak, times it", 1.05, "", PRACTICE
)
"""Grid stoppers in series do not count against a leak of exactly the rated value."""

DOUBTFUL = Threshold(
    "times the largest leak up to which it is advice",
    2.0,
    "",
    Citation("practice", "limits on file from memory, and sheets that differ"),
)
"""Up to twice it is advice: many limits on file are from memory, and sheets differ."""

A_PART = 0.2
"""Share of a grid's way to gnd from which a resistor on it is named."""

LEAK_OHM = 10e3
"""A resistor of less than that on a grid's other side is no leak that was meant for it."""

TAIL_OHMS = Threshold(
    "cathode resistor that holds a small tube's current by itself",
    5e3,
    "ohm",
    Citation("arithmetic", "at 2 mS it takes nine tenths of a shift of the grid back"),
)
"""The foot of a follower, a long tail, a meter bridge: a grid's shift hardly moves its current."""


@rule(
    "grid.no-return",
    title="Grid without a DC return",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the grid; no values",
    criterion="No DC path from a control grid (or the third grid of a converter) to gnd or to its "
    "own cathode.",
    why="A grid that only capacitors reach has no fixed voltage. Leakage and gas current pull it "
    "where they like; in an output stage the plates glow red.",
    source=(PRACTICE, Citation("handbooks")),
    limits=(
        "Leakage through dirt, sockets and the tube itself is what would set the grid then; "
        "it is not computed. A return through a coil counts, whatever its resistance."
    ),
    thresholds=(
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def no_return(case: Case) -> Iterator[Outcome]:
    """Every grid has a leak."""
    ways = Ways.of(case.circuit)
    for tube, section in working(case.circuit):
        for electrode in SIGNAL_GRIDS:
            net = section.net(electrode)
            if net is None:
                continue
            if not ways.held(section, net):
                yield _adrift(case, tube, section, electrode)


def _adrift(case: Case, tube: Tube, section: Section, electrode: str) -> Finding:
    net = section.electrodes[electrode]
    bare = not wired(case.circuit, net)
    reached = "nothing is wired to it" if bare else _only(case.circuit, net)
    tap = None if bare else free_end(case.circuit, net)
    leak = _usual_leak(case.circuit, tube, section)
    beyond = None if bare or tap else _leak_beyond(case, net)
    places = (
        (section.name,) if electrode == "grid" else (section.name, f"{section.name}.{electrode}")
    )
    return no_return.finding(
        case,
        (
            *places,
            *(() if tap is None else (tap,)),
            *_ways(case.circuit, net, bare=bare),
            *(beyond or ()),
        ),
        f"{section.name}: no DC path from its {electrode} to gnd or its cathode: {reached}"
        + ("" if tap is None else f", and nothing is wired to {tap}"),
        f"Fit a grid leak from {section.name}.{electrode} to gnd{leak}"
        + (f", or move {beyond[0]} there: it is on the other side of {beyond[1]}" if beyond else "")
        if tap is None
        else f"Wire {tap} to gnd, or to the bias that the grids are to have",
        certainty="certain",
    )


def _ways(circuit: Circuit, net: str, *, bare: bool) -> tuple[str, ...]:
    """The resistors that lead from a grid to nowhere but capacitors."""
    nets = frozenset() if bare else frozenset(reach(circuit, [net]))
    near = (b for n in sorted(nets) for b in circuit.at(n) if b.kind is PartKind.RESISTOR)
    return tuple(dict.fromkeys(b.owner for b in near if {b.a, b.b} <= nets))


def _leak_beyond(case: Case, net: str) -> tuple[str, str] | None:
    """The one resistor of a leak's size, and the part that keeps a grid from it, by name."""
    circuit = case.circuit
    nets = frozenset(reach(circuit, [net]))
    found = {}
    for part in (b for n in sorted(nets) for b in circuit.at(n)):
        far = part.b if part.a in nets else part.a
        blocks = part.kind in (PartKind.CAPACITOR, PartKind.CRYSTAL)
        held = {e for _, e in circuit.electrodes_at(far)} - {"plate"}
        for branch in resistors_at(circuit, far) if blocks and far not in LANDMARKS else ():
            end = branch.other(far)
            low = end in LANDMARKS or (warm_volts(case, end) or 0.0) < 0
            if low and not held and (branch.ohms or 0.0) >= LEAK_OHM:
                found[branch.name] = part.name
    return next(iter(found.items())) if len(found) == 1 else None


def _only(circuit: Circuit, net: str) -> str:
    """What there is at the ends of all that conducts to a grid."""
    nets = frozenset(reach(circuit, [net]))
    near = [b for n in sorted(nets) for b in circuit.at(n)]
    held = listed(sorted({b.name for b in near if b.kind is PartKind.CAPACITOR}))
    on_the_way = listed(sorted({b.owner for b in near if b.a in nets and b.b in nets}))
    through = f" (through {on_the_way})" if on_the_way else ""
    if held:
        return f"only {held} {'reaches' if ' and ' not in held else 'reach'} it{through}"
    leads = "lead" if " and " in on_the_way else "leads"
    return f"{on_the_way} {leads} nowhere else" if on_the_way else "what is on it leads nowhere"


def _usual_leak(circuit: Circuit, tube: Tube, section: Section) -> str:
    limit = _limit(tube, section, bias_kind(circuit, section))
    return f" of at most {ohms(limit.value)}" if limit else ", for instance 470 kohm"


def _limit(tube: Tube, section: Section, kind: str) -> Sourced | None:
    name = "grid-leak-cathode-bias" if kind == "cathode" else "grid-leak-fixed-bias"
    return tube.type.rating(name, section.type.name)


@rule(
    "grid.leak-too-high",
    title="Grid leak above the data sheet's limit",
    level="notice",
    states="the drawing alone",
    needs="the grid's resistances and the limit of the type for the kind of bias",
    criterion="DC resistance from the grid to gnd above twice the limit for fixed or for "
    "cathode bias (advice from 5 % above). Where several grids share a leak the current of each "
    "flows through it, so two grids halve what is allowed. Grid-leak bias of small tubes is "
    "exempt. What small tubes exceed only together is advice, and so is the leak of a small tube "
    "whose own cathode resistor holds its current (a follower, a long tail, a meter bridge).",
    why="Every tube has a little gas, and its current flows out through the grid leak. The higher "
    "the leak, the more it moves the bias, and a hot output tube runs away.",
    source=Citation("type-sheet"),
    limits=(
        "The limit is the data sheet's for the way the tube is biased; where the sheet has "
        "none the rule is silent. Gas current grows with age and heat, which no limit on "
        "paper covers."
    ),
    thresholds=(
        grid_kinds.POWER_WATTS,
        DOUBTFUL,
        STOPPER,
        TAIL_OHMS,
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
    ),
)
def leak_too_high(case: Case) -> Iterator[Outcome]:
    """Each grid against the limit for its kind of bias."""
    silent: dict[str, str] = {}
    for tube, section in working(case.circuit):
        if "grid" not in section.electrodes or section.net("grid") in section.cathode_nets:
            continue
        kind = bias_kind(case.circuit, section)
        leak, limit = grid_ohms(case.circuit, section), _limit(tube, section, kind)
        if kind == "grid-leak" or leak == inf:
            continue
        if leak is None:
            silent[section.name] = "the resistance of its grid circuit is not known"
        elif limit is None:
            silent.setdefault(tube.name, _no_limit(tube, kind))
        elif leak > STOPPER.value * limit.value:
            yield _too_high(case, section, kind, leak, limit)
    yield from (leak_too_high.not_judged((at,), why) for at, why in silent.items())


def _no_limit(tube: Tube, kind: str) -> str:
    return f"no limit on file for the grid leak with {kind} bias ({tube.type.name})"


def _counts(case: Case, section: Section, leak: float, own: float, limit: Sourced) -> bool:
    """Whether it is more than a doubt; small tubes that only together exceed it hardly run away."""
    small = not is_power_tube(case.circuit.tubes[section.tube], section)
    if small and _holds_itself(case.circuit, section):
        return False
    return (own if small else leak) > DOUBTFUL.value * limit.value


def _holds_itself(circuit: Circuit, section: Section) -> bool:
    """Whether the cathode has a long tail."""
    net = section.cathode_nets[0]
    below = ohms_between(around(circuit, net), net)
    return below is not None and below >= TAIL_OHMS.value


def _too_high(case: Case, section: Section, kind: str, leak: float, limit: Sourced) -> Finding:
    net = section.electrodes["grid"]
    own = ohms_between(around(case.circuit, net), net) or leak
    shares = f" (counted for every grid that shares it; {ohms(own)} as wired)"
    doubled = shares if leak > 1.01 * own else ""
    return leak_too_high.finding(
        case,
        (section.name, *_leaks(case.circuit, net, own)),
        f"{section.name}: {ohms(leak)} from its grid to gnd{doubled}, "
        f"limit {ohms(limit.value)} with {kind} bias",
        f"Use a grid leak of {ohms(own * limit.value / leak)} or less; a larger coupling capacitor "
        "keeps the bass",
        evidence={"grid": figure(leak, "ohm"), "bias": kind},
        limit=figure(limit.value, "ohm"),
        certainty="certain",
        source=limit.cited,
        level=None if _counts(case, section, leak, own, limit) else "advice",
        excess=leak / limit.value,
    )


def _leaks(circuit: Circuit, net: str, own: float) -> tuple[str, ...]:
    """The resistors that make the most of what is from a grid to gnd."""
    graph = metal(around(circuit, net))
    way = nx.dijkstra_path(graph, net, GROUND) if nearest(graph, net, GROUND) is not None else []
    on = (graph.edges[pair]["branch"] for pair in pairwise(way))
    return tuple(b.owner for b in on if (metal_ohms(b) or 0.0) > A_PART * own)


RULES: tuple[Rule, ...] = (
    no_return,
    leak_too_high,
)
