"""A signal that comes in and goes nowhere, and a stage that gets none."""

from __future__ import annotations

import re
from itertools import chain
from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.coupling import coupled, givers, still_nets, takers
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.loose import in_the_air
from coldcheck.anatomy.neighbourhood import is_own, net_text, resistors_at
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.throws import throws_by_hand
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Coil, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

QUIET_OHM = Threshold(
    "leak that holds a grid quiet on purpose", 22e3, "ohm",
    Citation("practice", "a grid leak has 47 kohm or more, a spare grid is tied down with some"),
)  # fmt: skip

STAGES = (SectionKind.TRIODE, SectionKind.PENTODE)
"""What is made to take a signal at its grid."""

NAMED_IN = re.compile(
    r"(IN|INPUT|ANT|AER|AERIAL|ANTENNA|EARTH|MIC|AUX|PU|PHONO|GRAM|RF|AF|IF|MOD|KEY|SYNC|TRIG|"
    r"TRIGGER|GATE|RESET|SET|CLOCK|SWEEP|CONTROL|CV|PROBE|TEST|TP|X|Y|Z)[A-Z]{0,2}[_\d]*",
)
"""Names of points at which a drawing takes a signal from outside (common practice)."""


@rule(
    "signal.leads-nowhere",
    title="Signal that leads nowhere",
    level="notice",
    states="the drawing alone, in every position of one switch",
    needs="a `signal` line",
    criterion="Nothing but a jack is wired to the point of a `signal` line; or parts lead from "
    "there, and none of them to an electrode, coil, transistor, detector or output.",
    why="The wire from the input was forgotten, or the point is spelt in two ways. All voltages at "
    "rest are right, and the set is silent.",
    source=PRACTICE,
    limits="Whether a signal that is wired gets through the stages is judged by other rules.",
)
def leads_nowhere(case: Case) -> Iterator[Outcome]:
    """Look at what is on the net of every signal source, and what it leads to."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for branch in circuit.branches.values():
        if branch.kind is not PartKind.SIGNAL or branch.a in still:
            continue
        others = _others(circuit, branch)
        if _taken_somewhere(circuit, branch.a) or (others and not _has_stages(circuit)):
            continue
        name = net_text(circuit, branch.a)
        how = f"it ends at {listed(others)}" if others else "nothing else is wired to that point"
        yield leads_nowhere.finding(
            case,
            (name,),
            f"the signal at {name} leads nowhere: {how}",
            f"Wire {name} to the input of the first stage",
            evidence={"signal": branch.name},
            certainty="certain",
        )


def _others(circuit: Circuit, signal: Branch) -> list[str]:
    """What is on a signal's net besides itself and the jack it comes in by."""
    at = (b for b in circuit.at(signal.a) if b.name != signal.name)
    return [*dict.fromkeys(b.owner for b in at if b.kind is not PartKind.JACK_CONTACT)]


def _has_stages(circuit: Circuit) -> bool:
    return any(True for _ in working(circuit))


def _taken_somewhere(circuit: Circuit, start: str) -> bool:
    """Whether something uses a signal, with the switches as drawn or with one of them thrown."""
    thrown = (thrown_circuit(circuit, frozenset({t})) for t in throws_by_hand(circuit))
    return any(
        _taken(c, coupled(c, [start], still_nets(c)), start) for c in chain((circuit,), thrown)
    )


def _taken(circuit: Circuit, nets: Collection[str], start: str) -> bool:
    """Whether something uses the signal on some nets; the jack it comes in by does not."""
    if any(circuit.electrodes_at(n) for n in nets):
        return True
    own = {j.name for j in jacks(circuit) if start in (j.tip, j.ring)}
    return bool(takers(circuit, nets) - own)


@rule(
    "signal.stage-undriven",
    title="Stage whose grid gets no signal",
    level="notice",
    states="the drawing alone",
    needs="a drawing with a signal in it: a `signal`, or a stage that drives another",
    criterion="Parts lead from the grid of a triode or pentode in use to no plate, cathode, coil, "
    "signal, jack, switch or point called an input, and its cathode gets no signal either; the "
    "grid stands on no supply point or divider of one, nor on gnd through "
    f"{1e-3 * QUIET_OHM.value:g} kohm or less.",
    why="The wire or the coupling capacitor to the grid is missing, or ends one terminal strip "
    "short. Every voltage at rest is right, and the set is silent or half of it is.",
    source=PRACTICE,
    limits="Stages that are a current source, a regulator or an electrometer's other half get no "
    "signal on purpose: their grid is on a point that holds still, or their plate on cathodes. "
    "A drawing of one stage alone is left as it is, and the one such grid of a drawing without a "
    "`signal`: that is its input.",
    thresholds=(QUIET_OHM,),
)
def stage_undriven(case: Case) -> Iterator[Outcome]:
    """Follow each grid back; the one that gets nothing in a drawing without signal is its input."""
    circuit, still = case.circuit, still_nets(case.circuit)
    found = list(_undriven(circuit, still)) if _signals(circuit, still) else []
    if len(found) == 1 and not _has_signal(circuit):
        return
    for section, nets in found:
        yield stage_undriven.finding(
            case,
            (section.name,),
            f"nothing brings the grid of {section.name} a signal: parts lead from it to "
            f"{_ends(circuit, nets, still)} alone",
            f"Couple {section.name}.grid to what is to drive it",
            evidence={"leads_to": _ends(circuit, nets, still)},
            certainty="likely",
        )


def _undriven(circuit: Circuit, still: Collection[str]) -> Iterator[tuple[Section, frozenset[str]]]:
    """The stages whose grids get nothing, with the nets that parts lead to from there."""
    for _, section in working(circuit):
        grid = section.net("grid")
        if section.kind not in STAGES or grid is None or grid in still or _quiet(circuit, grid):
            continue
        nets = coupled(circuit, [grid], still)
        if not _brought(circuit, nets, still) and not _set_by_hand(circuit, section, still):
            yield section, nets


def _has_signal(circuit: Circuit) -> bool:
    return any(b.kind is PartKind.SIGNAL for b in circuit.branches.values())


def _signals(circuit: Circuit, still: Collection[str]) -> bool:
    """Whether the drawing shows where signals come from at all."""
    return _has_signal(circuit) or _drives_on(circuit, still)


def _quiet(circuit: Circuit, grid: str) -> bool:
    """Whether a small resistor holds a grid on a landmark."""
    leaks = (b for b in resistors_at(circuit, grid) if b.other(grid) in LANDMARKS)
    return any((b.ohms or 0.0) <= QUIET_OHM.value for b in leaks)


def _drives_on(circuit: Circuit, still: Collection[str]) -> bool:
    """Whether a stage's grid gets what another stage gives."""
    for _, section in working(circuit):
        grid = section.net("grid")
        nets = coupled(circuit, [] if grid is None else [grid], still)
        if any(e == "plate" and n != section.name for n, e in givers(circuit, nets)):
            return True
    return False


def _brings(kind: PartKind) -> bool:
    """What a grid may get something from, besides plates and windings."""
    match kind:
        case PartKind.RESISTOR | PartKind.POT | PartKind.CAPACITOR | PartKind.FUSE:
            return False
        case PartKind.SOURCE | PartKind.HEATER | PartKind.ARRESTER | PartKind.JACK_CONTACT:
            return False
        case PartKind.METER | PartKind.BARRETTER | PartKind.ZENER | PartKind.LED:
            return False
        case (
            PartKind.INDUCTOR | PartKind.PHOTOCELL | PartKind.SWITCH | PartKind.CONTACT
            | PartKind.DIODE | PartKind.CHANNEL | PartKind.BASE | PartKind.GATE | PartKind.CRYSTAL
            | PartKind.SPEAKER | PartKind.RELAY | PartKind.LAMP | PartKind.THERMISTOR
            | PartKind.JACK | PartKind.WINDING | PartKind.SIGNAL | PartKind.THYRISTOR
            | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.PLUG
        ):  # fmt: skip
            return True
        case _:
            assert_never(kind)


def _brought(circuit: Circuit, nets: Collection[str], still: Collection[str]) -> bool:
    """Whether anything on some nets brings a signal, or a part leads on to a supply point."""
    if givers(circuit, nets):
        return True
    at = [b for n in nets for b in circuit.at(n)]
    rails = set(still) - set(LANDMARKS)
    names = (n for net in nets for n in circuit.names.get(net, ()))
    return (
        any(_brings(b.kind) for b in at)
        or any({b.a, b.b} & rails and b.traits.unit == "ohm" for b in at)
        or any(NAMED_IN.fullmatch(n) for n in names)
    )


def _set_by_hand(circuit: Circuit, section: Section, still: Collection[str]) -> bool:
    """Whether a stage works by its cathode, or as a load or a tail of others."""
    below = coupled(circuit, section.cathode_nets, still)
    others = {s for s, _ in givers(circuit, below)} - {section.name}
    plate = section.net("plate")
    on_plate = circuit.electrodes_at(plate) if plate is not None and plate not in still else ()
    return bool(others) or any(e == "cathode" for _, e in on_plate)


def _ends(circuit: Circuit, nets: Collection[str], still: Collection[str]) -> str:
    far = {b.other(n) for n in nets for b in circuit.at(n)} & set(still)
    return listed(sorted(net_text(circuit, n) for n in far)) or "nothing"


@rule(
    "signal.coil-leads-nowhere",
    title="Winding of a can that drives nothing",
    level="notice",
    states="the drawing alone",
    needs="the wiring of a can or of coupled coils",
    criterion="A plate, a signal or a jack is on one coil of a can; from a lead of another, with "
    "two leads, parts lead to no electrode, diode, transistor, other coil, jack or output, and "
    "the lead is not on a point that holds still.",
    why="The wire from the secondary to the next grid, or to the detector's diode, is missing. All "
    "voltages at rest are right, and nothing gets any further.",
    source=PRACTICE,
    limits="A coil without a wire is left over: drawing.coil-end-open looks at those of one. Of a "
    "tapped coil the ends may be there for tuning alone. Of transformers with iron only those "
    "with a tap that holds still are looked at, of which one end drives something.",
)
def coil_leads_nowhere(case: Case) -> Iterator[Outcome]:
    """Follow each lead of the coils beside a driven one."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for can in circuit.coil_sets.values():
        own = {b.name for _, b in can.branches}
        driven = [c.name for c in can.coils if _is_driven(circuit, c, still, own)]
        for coil in can.coils if driven else ():
            find = _idle_half if can.iron else _idle_leads
            idle = [] if coil.name in driven else find(circuit, coil, still)
            if idle:
                yield coil_leads_nowhere.finding(
                    case,
                    (coil.name, *idle),
                    f"{listed(idle)} {'lead' if len(idle) > 1 else 'leads'} to no electrode, diode "
                    f"or output, though {listed(driven)} is driven",
                    f"Wire {idle[0]} to the grid or the diode that it is for",
                    evidence={"driven": listed(driven)},
                    certainty="likely",
                )


def _is_driven(circuit: Circuit, coil: Coil, still: Collection[str], own: Collection[str]) -> bool:
    nets = coupled(circuit, coil.nets, still, without=(coil.name,))
    return any(e == "plate" or (not e and name not in own) for name, e in givers(circuit, nets))


def _idle_leads(circuit: Circuit, coil: Coil, still: Collection[str]) -> list[str]:
    """The leads of a coil of two, in use, from which nothing is driven and nothing returns."""
    wired = [x for x, _ in coil.leads if not in_the_air(circuit, f"{coil.name}.{x}")]
    if not len(coil.leads) == 2 == len(wired):
        return []
    ends = {n for _, n in coil.leads}
    idle = {x: n for x, n in coil.leads if _is_idle(circuit, coil, n, {*still, *(ends - {n})})}
    back = [n for n in idle.values() if _returns(circuit, n, still)]
    return [f"{coil.name}.{x}" for x in idle] if len(back) < len(idle) or len(idle) == 2 else []


def _idle_half(circuit: Circuit, coil: Coil, still: Collection[str]) -> list[str]:
    """The end of a tapped winding that drives nothing, where the other end drives a grid."""
    leads = dict(coil.leads)
    if set(leads) != {"1", "ct", "2"} or leads["ct"] not in still:
        return []
    ends = {x: leads[x] for x in ("1", "2")}
    stops = {x: {*still, *(set(ends.values()) - {n})} for x, n in ends.items()}
    idle = [x for x, n in ends.items() if _is_idle(circuit, coil, n, stops[x])]
    return [f"{coil.name}.{x}" for x in idle] if len(idle) == 1 else []


def _is_idle(circuit: Circuit, coil: Coil, net: str, stop: Collection[str]) -> bool:
    """Whether a lead leads to nothing that takes a signal, nor to a contact."""
    nets = coupled(circuit, [net], stop, without=(coil.name,))
    own = {b.name for _, b in coil.parts}
    named = any(_goes_out(circuit, n) for n in nets)
    opens = any(b.traits.opens for n in nets for b in circuit.at(n))
    return bool(nets) and not (takers(circuit, nets) - own or named or opens)


def _goes_out(circuit: Circuit, net: str) -> bool:
    """Whether a drawing ends at a net: its name says so, or it has one and nothing else there."""
    names = [n for n in circuit.names.get(net, ()) if is_own(n)]
    alone = bool(names) and len(circuit.at(net)) < 2
    return alone or any(NAMED_IN.fullmatch(x) for x in names)


def _returns(circuit: Circuit, net: str, still: Collection[str]) -> bool:
    """Whether a capacitor leads from a lead to a point that holds still, as a padder does."""
    return any(b.kind is PartKind.CAPACITOR and b.other(net) in still for b in circuit.at(net))


RULES: tuple[Rule, ...] = (leads_nowhere, stage_undriven, coil_leads_nowhere)
