"""A meter's rectifier that returns to gnd, past the resistor through which it was to feed back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.feedback_points import feet, grounded
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

FOOT_OHM = Threshold(
    "resistor below a cathode that does nothing but set a meter's current", 150.0, "ohm",
    Citation("practice", "10 to 100 mV for a full scale of 0.2 to 1 mA"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Bridge:
    """A rectifier for a meter: where its AC comes in, its meter, and its two legs to gnd."""

    fed: str
    meter: Branch
    legs: tuple[Branch, Branch]


@rule(
    "signal.meter-return-on-gnd",
    title="Meter's rectifier that returns to gnd and not to its feedback point",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of a meter between the diodes of a bridge, and the values of resistors",
    criterion="A bridge of four diodes, or of two diodes and two resistors or capacitors, with a "
    "meter or a resistor between its direct ends, is driven by a stage and has its other end on "
    "gnd; and below the cathode resistor of that stage or of one ahead of it a resistor of "
    f"{FOOT_OHM.value:g} ohm or less leads to gnd, at a point to which nothing else comes.",
    why="The meter's current was to flow through that resistor: the amplifier then makes it what "
    "the input says, whatever tubes, diodes and mains do. On gnd there is no feedback, the meter "
    "gets several times the current, and the scale is no longer linear at its lower end.",
    source=(PRACTICE, Citation("arithmetic", "meter current = input voltage / resistor")),
    limits="A stage whose cathode has such a small resistor for some other reason, in a set with a "
    "meter that takes no part in feedback, looks the same.",
    thresholds=(FOOT_OHM,),
)
def meter_return_on_gnd(case: Case) -> Iterator[Outcome]:
    """Look at each bridge on gnd, and for a point below a cathode that nothing comes to."""
    for bridge in _bridges(case.circuit):
        for stage in _ahead(case.circuit, bridge):
            idle = _idle_foot(case.circuit, stage)
            if idle is not None:
                yield _finding(case, bridge, stage, idle)
                break


def _bridges(circuit: Circuit) -> Iterator[_Bridge]:
    """Two diodes in one row at a net, a meter between their far ends, and a leg each to gnd."""
    for net in circuit.graph.nodes:
        diodes = [b for b in circuit.at(net) if b.kind is PartKind.DIODE]
        out = [b.b for b in diodes if b.a == net]
        back = [b.a for b in diodes if b.b == net]
        if net in LANDMARKS or len(out) != 1 or len(back) != 1:
            continue
        meters = [b for b in circuit.at(out[0]) if b.other(out[0]) == back[0]
                  and b.kind in (PartKind.METER, PartKind.RESISTOR)]  # fmt: skip
        legs = [_leg(circuit, n) for n in (out[0], back[0])]
        if meters and legs[0] and legs[1] and legs[0].kind is legs[1].kind:
            meter = min(meters, key=lambda b: b.kind is not PartKind.METER)
            yield _Bridge(net, meter, (legs[0], legs[1]))


def _leg(circuit: Circuit, net: str) -> Branch | None:
    """The one part that leads from a direct end of a bridge to gnd."""
    found = [b for b in circuit.at(net) if b.other(net) == GROUND]
    return found[0] if len(found) == 1 and _returns(found[0]) else None


def _returns(branch: Branch) -> bool:
    """Whether a leg of a meter's bridge may be made of it."""
    return branch.traits.one_way or branch.kind in (PartKind.RESISTOR, PartKind.CAPACITOR)


def _ahead(circuit: Circuit, bridge: _Bridge) -> list[Section]:
    """The stages that drive a bridge, the first one first."""
    nets = coupled(circuit, [bridge.fed], still_nets(circuit))
    stages = {s.name: s for _, s in working(circuit)}
    last = [s for s in stages.values() if s.net("plate") in nets or s.cathode_nets[0] in nets]
    names = {n for s in last for n in (s.name, *behind(circuit, s))} & stages.keys()
    return sorted((stages[n] for n in names), key=lambda s: len(behind(circuit, s)))


def _idle_foot(circuit: Circuit, section: Section) -> tuple[str, Branch] | None:
    """A point below a cathode with a small resistor to gnd, to which only that cathode leads."""
    cathode = section.cathode_nets[0]
    for point in feet(circuit, cathode):
        foot = grounded(circuit, point)
        ohm = si(foot[0].value, "ohm") if len(foot) == 1 else None
        others = [b for b in circuit.at(point) if b not in foot]
        own = all(b.other(point) == cathode for b in others)
        if ohm is not None and 0 < ohm <= FOOT_OHM.value and own:
            return point, foot[0]
    return None


def _finding(case: Case, bridge: _Bridge, stage: Section, idle: tuple[str, Branch]) -> Finding:
    point, foot = own_text(case.circuit, idle[0]), idle[1]
    value = foot.ohms or 0.0
    legs = tuple(b.name for b in bridge.legs)
    return meter_return_on_gnd.finding(
        case,
        (*legs, point, foot.name, bridge.meter.name),
        f"{listed(legs)} return the current of {bridge.meter.name} to gnd, and nothing comes to "
        f"{point}, across {foot.name} ({ohms(value)}) below the cathode of {stage.name}: the "
        "meter's current is not the feedback",
        f"Take {listed(legs)} from gnd to {point}",
        evidence={"foot": figure(value, "ohm")},
        limit=FOOT_OHM.figure,
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (meter_return_on_gnd,)
