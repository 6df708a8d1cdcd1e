"""Directly heated output tubes: the filament is the cathode, so its supply is part of the bias."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import HeaterLine, heater_lines
from coldcheck.anatomy.lift_network import core_of
from coldcheck.anatomy.neighbourhood import AMPLIFYING, metal, nearest
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Tube, Winding
    from coldcheck.judge.finding import Finding, Outcome

HUM_OHMS = Threshold(
    "most resistance across a filament that makes its centre", 200.0, "ohm", PRACTICE
)
"""Resistors and pots across a filament up to this make its centre; above, they are bias."""

TIED_OHMS = Threshold(
    "resistance above which an end of a filament is not tied", 100e3, "ohm", PRACTICE
)
"""More than this on an end does not tie it."""

UNEVEN = Threshold("times by which the ties of a filament's ends may differ", 2.0, "", PRACTICE)
"""Ends tied through resistances that differ by more than this are not balanced."""

HALF = 0.5
"""The middle of a filament is half its voltage away from an end (derived)."""


def filament_tubes(line: HeaterLine) -> tuple[Tube, ...]:
    """The directly heated amplifying tubes of a line."""
    return tuple(
        t for t in line.tubes if t.directly_heated and any(s.kind in AMPLIFYING for s in t.sections)
    )


@rule(
    "heater.filaments-join-cathodes",
    title="Filaments that bias apart on one winding",
    level="notice",
    states="the drawing alone",
    needs="the filament winding, the resistors from it to gnd, and the output transformers",
    criterion="Two or more directly heated tubes on one winding with more than one bias resistor "
    "between it and gnd; or, with a bias resistor, their plates on different output transformers.",
    why="A directly heated tube has its filament for a cathode. On one winding all cathodes are "
    "one: bias resistors meant for each tube are in parallel, so nothing balances the tubes, and "
    "two channels play through each other.",
    source=(
        Citation("web-filament-bias", "the centre of the filament goes to the bias resistor"),
        PRACTICE,
    ),
    limits="A winding that two tubes share on purpose, with one resistor and one output "
    "transformer, is not counted, nor filaments on gnd with separate grid bias.",
    thresholds=(HUM_OHMS,),
)
def filaments_join_cathodes(case: Case) -> Iterator[Outcome]:
    """Count the bias resistors of each filament winding, and the output transformers it plays."""
    for line in heater_lines(case.circuit):
        tubes = filament_tubes(line)
        if len(tubes) < 2 or not line.windings:
            continue
        bias = bias_resistors(case.circuit, line)
        outputs = _outputs(case.circuit, tubes)
        if len(bias) > 1 or (bias and len(outputs) > 1):
            yield _joined(case, line, tubes, bias, outputs)


def bias_resistors(circuit: Circuit, line: HeaterLine) -> list[Branch]:
    """The resistors from the centre of a filament winding, or from an end, to gnd.

    Of those on one net one counts; two equal ones from the two ends are one centre.
    """
    core = core_of(circuit, line, HUM_OHMS.value)
    found: dict[str, Branch] = {}
    for branch in circuit.branches.values():
        inner = [n for n in (branch.a, branch.b) if n in core]
        if (
            branch.kind is PartKind.RESISTOR
            and len(inner) == 1
            and branch.other(inner[0]) == GROUND
        ):
            found.setdefault(inner[0], branch)
    ends = [n for w in line.windings for n in (w.nets[0], w.nets[-1])]
    parts = list(found.values())
    if len(parts) == 2 and set(found) <= set(ends):
        first, second = (p.ohms for p in parts)
        return parts[:1] if first == second else parts
    return parts


def _outputs(circuit: Circuit, tubes: tuple[Tube, ...]) -> list[str]:
    """The output transformers that the plates of some tubes are on."""
    plates = {s.electrodes[e] for t in tubes for s in t.sections for e in s.plates}
    return [o.name for o in circuit.outputs.values() if plates & {net for _, net in o.leads}]


def _joined(
    case: Case, line: HeaterLine, tubes: tuple[Tube, ...], bias: list[Branch], outputs: list[str]
) -> Finding:
    names = listed(t.name for t in tubes)
    parts = listed(b.owner for b in bias)
    known = [r for b in bias if (r := b.ohms)]
    joint = 1 / sum(1 / r for r in known) if known else None
    one = f" as one resistor of {ohms(joint)}" if joint is not None else ""
    how = (
        f"{parts} act together{one}"
        if len(bias) > 1
        else (f"{parts} biases them all, and {listed(outputs)} hear each other")
    )
    evidence = {} if joint is None else {"joint": figure(joint, "ohm")}
    return filaments_join_cathodes.finding(
        case,
        (line.name, *(t.name for t in tubes), *(b.owner for b in bias)),
        f"{line.name}: {names} have their filaments, which are their cathodes, on one winding: "
        f"{how}",
        f"Give each of {names} a filament winding of its own, with its bias resistor at the "
        f"middle of it",
        evidence=evidence,
        certainty="certain",
    )


@rule(
    "heater.filament-tied-at-end",
    title="AC filament tied at one end",
    level="notice",
    states="the drawing alone",
    needs="the filament winding and what ties it to gnd",
    criterion="A directly heated amplifying tube on AC whose way to gnd, direct or through its "
    "bias resistor, starts at one end of the filament, or at both through resistances more than "
    f"{UNEVEN.value:g} to 1 apart. The grid then sees half the filament voltage.",
    why="Half of the filament is one way of its middle, half the other. Tied in the middle, the AC "
    "of the two halves cancels; tied at an end, half the filament voltage is in series with the "
    "grid as hum, and on DC the bias is off by as much.",
    source=(
        Citation("filament-manual"),
        Citation("arithmetic", "bias shift of half the filament voltage"),
    ),
    limits="Taken for AC where a mains winding feeds the filament without a rectifier. A hum pot "
    "counts as balanced at any setting.",
    thresholds=(TIED_OHMS, UNEVEN),
)
def filament_tied_at_end(case: Case) -> Iterator[Outcome]:
    """Which lead of the winding the way to gnd starts at."""
    for line in heater_lines(case.circuit):
        tubes = filament_tubes(line)
        if not tubes or len(line.windings) != 1:
            continue
        found = _uneven_end(case.circuit, line.windings[0])
        if found is not None:
            yield _at_end(case, line, tubes, *found)


def _uneven_end(circuit: Circuit, winding: Winding) -> tuple[str, str, float] | None:
    """The lead that is tied, the net of it, and its ohms to gnd; ``None`` where it is balanced."""
    leads = (winding.leads[0], winding.leads[-1])
    taps = [net for _, net in winding.leads[1:-1]]
    if any(_way(circuit, net, [leads[0][1], leads[1][1]]) is not None for net in taps):
        return None
    ways = [_way(circuit, net, [n for n in winding.nets if n != net]) for _, net in leads]
    tied = [(w, lead, net) for w, (lead, net) in zip(ways, leads, strict=True) if w is not None]
    if not tied:
        return None
    if len(tied) == 2:
        low, high = sorted(max(w, 1e-3) for w, _, _ in tied)
        if high / low <= UNEVEN.value or _has_pot(circuit, winding):
            return None
    way, lead, net = min(tied)
    return lead, net, way


def _way(circuit: Circuit, net: str, avoid: list[str]) -> float | None:
    """Ohms from a net to gnd past the other leads of its winding; ``None`` without a way."""
    if net in LANDMARKS:
        return 0.0 if net == GROUND else None
    graph = metal(circuit).copy()
    graph.remove_nodes_from([n for n in avoid if n != GROUND])
    found = nearest(graph, net, GROUND)
    return found if found is not None and found < TIED_OHMS.value else None


def _has_pot(circuit: Circuit, winding: Winding) -> bool:
    """Whether a pot lies across the winding."""
    ends = {winding.nets[0], winding.nets[-1]}
    owners = [
        b.owner for b in circuit.branches.values() if b.kind is PartKind.POT and {b.a, b.b} & ends
    ]
    return any(owners.count(o) == 2 for o in owners)


def _at_end(
    case: Case, line: HeaterLine, tubes: tuple[Tube, ...], lead: str, net: str, way: float
) -> Finding:
    winding = line.windings[0]
    rated = si(winding.volts, "volt") or 0.0
    part = next((b for b in case.circuit.at(net) if b.kind is PartKind.RESISTOR), None)
    name = listed(t.name for t in tubes)
    tie = "to gnd" if way == 0 or part is None else f"through {part.owner}"
    return filament_tied_at_end.finding(
        case,
        (winding.name, *(t.name for t in tubes)),
        f"{winding.name}: the filament of {name} is tied {tie} at {winding.name}.{lead}, one end "
        f"of {volts(rated)} AC: half of it, {volts(HALF * rated)} rms, is in series with the grid",
        _to_the_middle(winding, part),
        evidence={"filament_rms": figure(rated, "V"), "shift": figure(HALF * rated, "V")},
        certainty="certain",
    )


def _to_the_middle(winding: Winding, part: Branch | None) -> str:
    what = "the tie" if part is None else part.owner
    if len(winding.leads) == 3:
        return f"Take {what} to {winding.name}.ct"
    rated = si(winding.volts, "volt") or 0.0
    burnt = rated**2 / 100.0
    return (
        f"Put a hum pot of 100 ohm (it takes {burnt:.2g} W) across {winding.name} and {what} on "
        f"its wiper"
    )


RULES: tuple[Rule, ...] = (filaments_join_cathodes, filament_tied_at_end)
