"""Feedback that is drawn and does nothing: held still, earthed at both ends, or not closed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind, outputs
from coldcheck.anatomy.coupling import GIVES, coupled, still_nets, takers
from coldcheck.anatomy.feedback_loops import secondary
from coldcheck.anatomy.feedback_points import cathode_of, comes_back, feet, grounded
from coldcheck.anatomy.neighbourhood import capacitors_to_rest, net_text, own_text
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, Part
from coldcheck.drawing.units import engineering, si
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
    from coldcheck.anatomy.feedback_points import Fed
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

HOLDS_F = Threshold(
    "capacitor that holds a point of feedback still", 1e-6, "F",
    Citation("practice", "a presence control has a tenth of that"),
)  # fmt: skip


@rule(
    "signal.feedback-bypassed",
    title="Bypass capacitor where feedback comes in",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the capacitor's value and the wiring",
    criterion="A resistor or capacitor brings what a later stage or an output transformer gives, "
    "without its direct current, to a cathode or to a point a resistor below it, and a capacitor "
    f"of {1e6 * HOLDS_F.value:g} uF or more to gnd is on that cathode or that point.",
    why="The capacitor holds the cathode still, so what is fed back does not get to the tube. The "
    "gain is that without feedback, several times what it should be, and so are the distortion and "
    "the output's resistance; an equaliser in the feedback does nothing.",
    source=(PRACTICE, Citation("arithmetic", "a microfarad is 160 ohm at 1 kHz")),
    limits="Direct feedback, which a bypass leaves alone, is not looked at, nor a cathode that two "
    "tubes share.",
    thresholds=(HOLDS_F,),
)
def feedback_bypassed(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors on each cathode that feedback comes to, and on the point below it."""
    circuit = case.circuit
    for _, section in working(circuit):
        cathode = section.cathode_nets[0]
        if cathode in LANDMARKS or cathode_of(circuit, cathode) is None:
            continue
        below = feet(circuit, cathode)
        for point in (cathode, *below):
            held = [c for n in dict.fromkeys((cathode, point)) for c in _bypasses(circuit, n)]
            but = {cathode, *below} - {point}
            fed = comes_back(circuit, section, point, but) if held else None
            if fed is not None:
                yield _bypassed(case, section, fed, held[0])


def _bypasses(circuit: Circuit, net: str) -> list[Branch]:
    """The large capacitors from a net to gnd."""
    return capacitors_to_rest(circuit, net, HOLDS_F.value)


def _bypassed(case: Case, section: Section, fed: Fed, held: Branch) -> Finding:
    circuit, name, value = case.circuit, section.name, held.farads or 0.0
    cathode, point = section.cathode_nets[0], own_text(circuit, fed.point)
    below = cathode != fed.point and cathode in (held.a, held.b)
    remedy = f"Leave {held.name} out"
    if below:
        remedy = f"Take {held.name} from {name}.cathode to {point} in place of gnd"
    return feedback_bypassed.finding(
        case,
        (held.name, name, fed.part.name),
        f"{held.name} ({engineering(value, 'F')}) holds the cathode of {name} still, and "
        f"{fed.part.name} brings feedback from {fed.giver} to {point}: it does not get to the tube",
        remedy,
        evidence={"capacitor": figure(value, "F")},
        limit=HOLDS_F.figure,
        certainty="likely",
        excess=value / HOLDS_F.value,
    )


FOOT_OHM = Threshold("most resistance across which feedback is set", 1e3, "ohm", PRACTICE)
PARTS = Threshold("times that, the least resistor that feeds back", 5.0, "", PRACTICE)


@rule(
    "signal.feedback-from-gnd",
    title="Feedback resistor on the grounded end of the secondary",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the resistors, and the wiring of the output transformer",
    criterion="Below the cathode of a stage that drives an output transformer, whose secondary has "
    "an end on gnd, a resistor leads to a point with two resistors to gnd and nothing else: one of "
    f"{FOOT_OHM.value:g} ohm at most, the other {PARTS.value:g} times as large or more. The same "
    "at a cathode itself, or beside other parts, where the larger one is drawn at a lead of the "
    "secondary.",
    why="A resistor set apart for feedback that has gnd at its far end brings nothing. The gain, "
    "the distortion and the output's resistance are those without feedback; all voltages at rest "
    "are right.",
    source=PRACTICE,
    limits="A resistor from a cathode to gnd that is not drawn at the secondary is taken for a "
    "trim of the bias resistor.",
    thresholds=(FOOT_OHM, PARTS),
)
def feedback_from_gnd(case: Case) -> Iterator[Outcome]:
    """Look at the points below each cathode."""
    for _, section in working(case.circuit):
        cathode = section.cathode_nets[0]
        live = _live_end(case.circuit, section)
        for point in (cathode, *feet(case.circuit, cathode)) if live is not None else ():
            pair = _across(case.circuit, point) if point not in LANDMARKS else None
            apart = point != cathode and len(case.circuit.at(point)) == 3
            if pair is not None and (apart or pair[1].name in _at_secondaries(case.circuit)):
                yield _from_gnd(case, section, point, pair, live or "")


def _live_end(circuit: Circuit, section: Section) -> str | None:
    """The lead at the live end of a grounded secondary that a section drives."""
    for name in sorted(outputs(circuit, section) & set(circuit.outputs)):
        leads = circuit.outputs[name].secondary_leads
        live = [lead for lead, net, _ in leads if net not in LANDMARKS]
        if live and len(live) < len(leads):
            return f"{name}.{live[-1]}"
    return None


def _at_secondaries(circuit: Circuit) -> frozenset[str]:
    """The parts that are drawn right at a lead of an output transformer."""
    found = set()
    for chain in circuit.drawing.statements:
        if isinstance(chain, Chain):
            for left, link, right in zip(chain.points, chain.links, chain.points[1:], strict=False):
                if isinstance(link, Part) and any(
                    p is not None and p.owner in circuit.outputs for p in (left, right)
                ):
                    found.add(link.name)
    return frozenset(found)


def _across(circuit: Circuit, point: str) -> tuple[Branch, Branch] | None:
    """The smaller and the larger of two resistors from a point to gnd that differ widely."""
    both = sorted(grounded(circuit, point), key=lambda b: b.ohms or 0.0)
    values = [b.ohms or 0.0 for b in both]
    if len(both) != 2 or not 0 < values[0] <= FOOT_OHM.value:
        return None
    return (both[0], both[1]) if values[1] >= PARTS.value * values[0] else None


def _from_gnd(
    case: Case, section: Section, point: str, pair: tuple[Branch, Branch], live: str
) -> Finding:
    small, large = pair
    values = [b.ohms or 0.0 for b in pair]
    where = "the cathode of" if point in section.cathode_nets else "below the cathode of"
    return feedback_from_gnd.finding(
        case,
        (large.name, small.name, section.name),
        f"{large.name} ({ohms(values[1])}) leads from gnd to {own_text(case.circuit, point)}, "
        f"{where} {section.name}: it lies across {small.name} ({ohms(values[0])}) and "
        "brings no feedback",
        f"Take {large.name} to {live}, the live end of the secondary, in place of gnd, and see "
        "that it takes from the input there",
        evidence={
            "larger": figure(values[1], "ohm"), "smaller": figure(values[0], "ohm"),
        },
        limit=figure(PARTS.value * values[0], "ohm"),
        certainty="likely",
        excess=values[1] / (PARTS.value * values[0]),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Open:
    """What ``giver`` gives comes to ``point``, across ``foot``, and nothing takes it from there."""

    point: str
    foot: Branch
    brings: tuple[Branch, ...]
    giver: str


@rule(
    "signal.feedback-not-closed",
    title="Feedback that no stage takes up",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the resistors, and the wiring",
    criterion=f"At a point with one resistor of {FOOT_OHM.value:g} ohm or less to gnd, no "
    f"electrode and no output, resistors of {PARTS.value:g} times that or more, or the two diodes "
    "of a bridge, bring what a stage or an output transformer gives, without direct current; and "
    "a stage ahead of it has its cathode's resistor on gnd.",
    why="What is meant to come back ends in a resistor to gnd. The cathode that belongs on that "
    "point is on gnd: the gain is that without feedback, a meter in the feedback reads many times "
    "too much.",
    source=PRACTICE,
    limits="Which stage the point is meant for is a guess: the first one ahead.",
    thresholds=(FOOT_OHM, PARTS),
)
def feedback_not_closed(case: Case) -> Iterator[Outcome]:
    """Look at every point across a small resistor to gnd."""
    for net in case.circuit.graph.nodes:
        found = _open(case.circuit, net)
        first = _first(case.circuit, found.giver) if found is not None else None
        if found is not None and first is not None:
            yield _not_closed(case, found, first)


def _open(circuit: Circuit, net: str) -> _Open | None:
    """Such a point, where a net is one."""
    foot = grounded(circuit, net)
    brings = tuple(b for b in circuit.at(net) if b not in foot)
    if net in LANDMARKS or circuit.electrodes_at(net) or len(foot) != 1 or not brings:
        return None
    least = si(foot[0].value, "ohm") or 0.0
    if not 0 < least <= FOOT_OHM.value or not _from_above(brings, least):
        return None
    still = still_nets(circuit) | {net}
    if net in still_nets(circuit) or takers(circuit, [net]) - {b.name for b in brings}:
        return None
    givers = {_giver(circuit, b, net, still) for b in brings}
    giver = givers.pop() if len(givers) == 1 else None
    return None if giver is None else _Open(net, foot[0], brings, giver)


def _from_above(brings: tuple[Branch, ...], least: float) -> bool:
    """Whether large resistors, or two diodes of a bridge, are all that is on a point besides."""
    if all(b.kind is PartKind.RESISTOR for b in brings):
        return all((b.ohms or 0.0) >= PARTS.value * least for b in brings)
    return len(brings) == 2 and all(b.kind is PartKind.DIODE for b in brings)


def _giver(circuit: Circuit, branch: Branch, net: str, still: frozenset[str]) -> str | None:
    """The one stage or output transformer that gives what a part brings; ``None`` for others."""
    far = branch.other(net)
    nets = _passed(circuit, far, still)
    direct = set(reach(circuit, [far], still))
    stages = {(s.name, n) for n in nets for s, e in circuit.electrodes_at(n) if e in GIVES}
    if any(n in direct for _, n in stages):
        return None
    names = {s for s, _ in stages} | {
        o.name for o in circuit.outputs.values() if nets & secondary(circuit, o)
    }
    return names.pop() if len(names) == 1 else None


def _passed(circuit: Circuit, net: str, still: frozenset[str]) -> frozenset[str]:
    """What a signal reaches from a net, through the diodes of a bridge too."""
    found: frozenset[str] = frozenset()
    start = {net} - still
    while start - found:
        found |= coupled(circuit, start, still)
        start = {b.other(n) for n in found for b in circuit.at(n)
                 if b.kind is PartKind.DIODE} - still  # fmt: skip
    return found


def _first(circuit: Circuit, giver: str) -> Section | None:
    """The first stage ahead of a giver, where its cathode's resistor is on gnd."""
    stages = {s.name: s for _, s in working(circuit)}
    if giver in circuit.outputs:
        ahead = [s for s in stages.values() if giver in outputs(circuit, s)]
    else:
        ahead = [stages[n] for n in stages if n in behind(circuit, stages[giver])] if (
            giver in stages) else []  # fmt: skip
    first = [s for s in ahead if not behind(circuit, s) & stages.keys() and s.name != giver]
    own = first[0].cathode_nets[0] if len(first) == 1 else GROUND
    return first[0] if own not in LANDMARKS and grounded(circuit, own) else None


def _not_closed(case: Case, found: _Open, first: Section) -> Finding:
    circuit, name = case.circuit, first.name
    cathode, point = first.cathode_nets[0], own_text(circuit, found.point)
    own = [b.name for b in (*grounded(circuit, cathode), *_bypasses(circuit, cathode))]
    value = found.foot.ohms or 0.0
    brings = listed(b.name for b in found.brings)
    return feedback_not_closed.finding(
        case,
        (*own, found.foot.name, name),
        f"{brings} {'bring' if len(found.brings) > 1 else 'brings'} what {found.giver} gives to "
        f"{point}, across {found.foot.name} ({ohms(value)}), and nothing takes it from there: "
        f"{listed(own)} of {name} {'leads' if len(own) == 1 else 'lead'} to gnd, and the feedback "
        "is not closed",
        f"Take {listed(own)} from gnd to {point}",
        evidence={"foot": figure(value, "ohm"), "cathode": net_text(circuit, cathode)},
        limit=FOOT_OHM.figure,
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (feedback_bypassed, feedback_from_gnd, feedback_not_closed)
