"""Where one finding follows from another: what the cause and the effect have to share.

Each predicate takes the circuit, the finding that may be the cause and the one that may be its
effect; none of them looks at levels or waivers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.loose import attachments, wired_points
from coldcheck.anatomy.neighbourhood import wired
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.figure import Figure

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding

FAR_OVER = 10.0
"""A resistor that takes ten times its rating loads whatever feeds it (common practice)."""


FAR_BEYOND = 1.2
"""A screen at 1.2 times its limit has 1.3 times the current of one at it (three-halves power)."""

SHORTS = 1e3
"""Direct current at a thousand times what a coil for signals may have (0.1 A) is a short's."""

LOW_OHM = 1e3
"""Bias and screen resistors, hum controls: what stands this near to a tube belongs to it."""


def anywhere(_circuit: Circuit, _cause: Finding, _effect: Finding) -> bool:
    """The rules alone decide."""
    return True


def surely(_circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """A cause that fails the drawing may explain a figure graver than itself; advice may not."""
    return cause.level != "advice"


def behind_the_choke(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect stands in a state of the cause, on the supply that its choke feeds."""
    nets = set(reach(circuit, _ends(circuit, cause), LANDMARKS)) - set(LANDMARKS)
    together = effect.state in (cause.state, *cause.also_in)
    return together and bool(nets & _ends(circuit, effect))


def _ends(circuit: Circuit, finding: Finding) -> set[str]:
    parts = [circuit.branches[p] for p in finding.at if p in circuit.branches]
    return {n for b in parts for n in (b.a, b.b)} - set(LANDMARKS)


def far_over(_circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """Whether the cause is a fifth or more beyond its limit: what is barely so explains little."""
    return cause.excess >= FAR_BEYOND


def shorts_the_supply(_circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """Whether the direct current that the cause tells of is that of a short of a supply."""
    return cause.excess >= SHORTS


def far_over_same_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Both of one tube, and the cause a fifth or more beyond its limit."""
    return far_over(circuit, cause, effect) and same_tube(circuit, cause, effect)


def on_that_winding(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect's parts have both ends on the wire that shorts the cause's winding."""
    nets = {n for w in circuit.windings() if w.name == cause.at[0] for n in w.nets}
    parts = [circuit.branches[p] for p in effect.at if p in circuit.branches]
    return bool(parts) and all({b.a, b.b} <= nets for b in parts)


def same_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether both are about one tube, whichever of its sections."""
    return bool(_tubes(circuit, cause) & _tubes(circuit, effect))


def same_tube_and_state(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether both are about one tube, the effect in a state in which the cause stands as well."""
    return effect.state in (cause.state, *cause.also_in) and same_tube(circuit, cause, effect)


def on_the_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the effect is wired to an electrode of the cause's tubes."""
    tubes = _tubes(circuit, cause)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.electrodes.values()} - {
        "gnd"
    }
    parts = [circuit.branches[p] for p in effect.at if p in circuit.branches]
    return any({b.a, b.b} & nets for b in parts)


def with_nothing_wired(circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """Whether a grid of the cause's tubes is on no wire: the one that is missing led there."""
    grids = [s.electrodes[e] for s in circuit.sections() if s.name in cause.at
             for e in SIGNAL_GRIDS if e in s.electrodes]  # fmt: skip
    return any(not wired(circuit, grid) for grid in grids)


def of_the_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the cause is wired to an electrode of the effect's tubes."""
    return on_the_tube(circuit, effect, cause)


def across_the_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the wire across the cause's part is on an electrode of the effect's tubes."""
    tubes = _tubes(circuit, effect)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.electrodes.values()}
    return any(circuit.branches[p].a in nets for p in cause.at if p in circuit.branches)


def near_the_tube(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether all parts of the effect are in the plate, screen, grid or bias leads of the tubes."""
    tubes = _tubes(circuit, cause)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.electrodes.values()}
    for net in tuple(nets - {GROUND}):
        nets |= {b.other(net) for b in circuit.at(net) if _belongs(b)}
    parts = [circuit.branches[p] for p in effect.at if p in circuit.branches]
    return bool(parts) and all({b.a, b.b} & (nets - {GROUND}) for b in parts)


def in_a_lead(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the cause is on an electrode of the effect's tubes, or on its stopper."""
    tubes = _tubes(circuit, effect)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.electrodes.values()}
    for net in tuple(nets - {GROUND}):
        nets |= {b.other(net) for b in circuit.at(net) if _belongs(b)}
    parts = [circuit.branches[p] for p in cause.at if p in circuit.branches]
    return any({b.a, b.b} & (nets - {GROUND}) for b in parts)


def _belongs(branch: Branch) -> bool:
    """Whether what is behind a branch still belongs to the tube on this side."""
    if branch.traits.steady:
        return branch.value is not None and branch.value.m_as("ohm") <= LOW_OHM
    return branch.traits.coil


def drives(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a grid of the effect hangs on plate or cathode of the cause's tubes, or its part."""
    tubes = _tubes(circuit, cause)
    nets = {n for s in circuit.sections() if s.tube in tubes
            for n in (s.net("plate"), *s.cathode_nets) if n}  # fmt: skip
    nets |= {n for p in cause.at if (b := circuit.branches.get(p)) for n in (b.a, b.b)}
    nets -= set(LANDMARKS)
    for net in tuple(nets):
        nets |= {b.other(net) for b in circuit.at(net) if b.kind is PartKind.RESISTOR}
    grids = [s.net("grid") for s in circuit.sections() if {s.name, s.tube} & set(effect.at)]
    return any(g in nets for g in grids)


def below(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the plate of the effect's section hangs on the cathode of the cause's."""
    upper = {n for s in circuit.sections() if s.name in cause.at for n in s.cathode_nets}
    plates = [n for s in circuit.sections() if s.name in effect.at for n in [s.net("plate")] if n]
    return bool(upper & set(reach(circuit, plates, LANDMARKS)) - set(LANDMARKS))


def holds_its_heaters(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect's winding has its reference at a cathode of the cause's tubes."""
    tubes = _tubes(circuit, cause)
    nets = {n for s in circuit.sections() if s.tube in tubes for n in s.cathode_nets}
    heaters = [n for w in circuit.windings() if w.name == effect.at[0] for n in w.nets]
    return bool(nets & set(reach(circuit, heaters, LANDMARKS)) - set(LANDMARKS))


def lifts_it(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the cause is about the lift of a line that heats the effect's tubes."""
    lines = [x for x in heater_lines(circuit) if x.name in cause.at]
    return bool(_tubes(circuit, effect) & {t.name for x in lines for t in x.tubes})


def on_the_lift(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the effect is on the lead by which the cause's heaters are lifted."""
    nets = {n for w in circuit.windings() if w.name == cause.at[0] for n in w.nets} - {GROUND}
    parts = [circuit.branches[p] for p in effect.at if p in circuit.branches]
    return any({b.a, b.b} & nets for b in parts)


def lifts_through(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a part of the cause is on the lead by which the effect's heaters are lifted."""
    return on_the_lift(circuit, effect, cause)


def loads_its_output(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the cause's part is behind a capacitor from a cathode of the effect's sections."""
    nets = {n for s in circuit.sections() if s.name in effect.at for n in s.cathode_nets}
    far = {b.other(n) for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR} - {
        GROUND
    }
    parts = [circuit.branches[p] for p in cause.at if p in circuit.branches]
    return any({b.a, b.b} & far for b in parts)


def loads_it(circuit: Circuit, cause: Finding, _effect: Finding) -> bool:
    """Whether the cause's resistor stands across the supply and takes far more than it may."""
    ends = [{b.a, b.b} for p in cause.at if (b := circuit.branches.get(p)) is not None]
    return cause.excess >= FAR_OVER and any(GROUND in e for e in ends)


def _tubes(circuit: Circuit, finding: Finding) -> set[str]:
    owners = {p.partition(".")[0] for p in finding.at}
    sections = {s.name: s.tube for s in circuit.sections()}
    return {sections.get(o, o) for o in owners} & set(circuit.tubes)


def same_heater_line(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is about the cause's winding or about tubes that are all heated by it."""
    lines = [x for x in heater_lines(circuit) if x.name == cause.at[0]]
    heated = {t.name for x in lines for t in x.tubes}
    hit = _tubes(circuit, effect)
    return effect.at[0] == cause.at[0] or (bool(hit) and hit <= heated)


def on_a_loose_end(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the grid's wire is one of those that end at the gap."""
    if same_tube(circuit, cause, effect):
        return True
    nets = {circuit.points[n] for n in circuit.points if n in effect.at}
    nets |= {s.electrodes["grid"] for s in circuit.sections() if s.name in effect.at}
    island = set(reach(circuit, nets, LANDMARKS)) - set(LANDMARKS)
    return any(len(attachments(circuit, n)) < 2 for n in island & set(wired_points(circuit)))


def at_that_end(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the loose end of the cause is on the grid's own wires."""
    nets = [s.electrodes["grid"] for s in circuit.sections() if s.name == effect.at[0]]
    return circuit.points.get(cause.at[0]) in set(reach(circuit, nets, LANDMARKS))


def on_that_coil(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the wired end of a coil is on a grid of the tube in question."""
    nets = {circuit.points.get(str(cause.evidence.get("wired")))}
    sections = (s for s in circuit.sections() if {s.name, s.tube} & set(effect.at))
    return any(s.net("grid") in nets for s in sections)


def same_place(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is at a lead of something the cause names."""
    return bool(set(cause.at) & {p.partition(".")[0] for p in effect.at})


def same_part(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether both name one and the same place."""
    return bool(set(cause.at) & set(effect.at))


def shared_by_it(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a capacitor of both lacks its share of the resistors that the cause names with it."""
    return len(cause.at) > 1 and set(cause.at) <= set(effect.at)


def its_transformer(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether an electrode of the cause's tubes is on the effect's output transformer."""
    output = circuit.outputs.get(effect.at[0])
    nets = {net for _, net in output.leads} if output else set()
    for net in tuple(nets - {GROUND}):
        nets |= {b.other(net) for b in circuit.at(net) if b.kind is PartKind.RESISTOR} - {GROUND}
    tubes = _tubes(circuit, cause)
    return any(s.tube in tubes and nets & set(s.electrodes.values()) for s in circuit.sections())


def first_the_same(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether both are, in the first place, about the same part."""
    return cause.at[:1] == effect.at[:1]


def less_said(_circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is about the cause's part and more precise as to where."""
    return cause.at[:1] == effect.at[:1] and len(cause.at) < len(effect.at)


def shares_its_part(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether one part, no tube, sets both, and the cause is further off (the first, if alike)."""
    parts = {p for p in cause.at if p in circuit.branches} & set(effect.at)
    further = (cause.excess, effect.span) > (effect.excess, cause.span)
    return bool(parts) and further


def starves_its_heater(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a regulator's output is on a heater of the effect's tubes, and that gets too little.

    One out of volts gives less than it is set to, and never more.
    """
    return not _too_much(effect) and _feeds_its_heater(circuit, cause, effect)


def overfed_by_it(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a heater of the cause gets too much from the output of the effect's regulator.

    Set too high it takes more volts than its supply was made for.
    """
    return _too_much(cause) and _feeds_its_heater(circuit, effect, cause)


def _too_much(heated: Finding) -> bool:
    got, rated = heated.evidence.get("heater_rms"), heated.evidence.get("rated")
    if not isinstance(got, Figure) or not isinstance(rated, Figure):
        return False
    return got.value > rated.value


def _feeds_its_heater(circuit: Circuit, regulator: Finding, heated: Finding) -> bool:
    found = circuit.transistors.get(regulator.at[0])
    tubes = (circuit.tubes[p] for p in heated.at if p in circuit.tubes)
    nets = {n for t in tubes if t.heater is not None for n in t.heater.nets}
    return found is not None and found.nets.get("out") in nets


def in_its_supply(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect's part, or its tube's plate and screen, is on what the cause's holds."""
    nets = set(reach(circuit, _ends(circuit, cause), LANDMARKS)) - set(LANDMARKS)
    own = (s for s in circuit.sections() if s.name in effect.at or s.tube in effect.at)
    fed = {n for s in own for e in (*s.plates, "screen") if (n := s.net(e)) is not None}
    return bool(nets & (_ends(circuit, effect) | fed))


def in_its_way(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a zener of the effect hangs on an end of the cause's part, or on others that do."""
    nets = _ends(circuit, cause)
    for _ in circuit.branches:
        onward = (b for n in nets for b in circuit.at(n) if b.kind is PartKind.ZENER)
        more = {n for b in onward for n in (b.a, b.b)} - set(LANDMARKS) - nets
        if not more:
            break
        nets |= more
    return bool(nets & _ends(circuit, effect))


def then(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether the effect is about the cause's heater winding and in the cause's state."""
    return effect.state == cause.state and same_heater_line(circuit, cause, effect)


def biased_by(circuit: Circuit, cause: Finding, effect: Finding) -> bool:
    """Whether a grid of the effect's tubes gets its bias by way of the cause's parts."""
    tubes = _tubes(circuit, effect)
    grids = [n for s in circuit.sections() if s.tube in tubes for n in [s.net("grid")] if n]
    parts = [circuit.branches[p] for p in cause.at if p in circuit.branches]
    fed = set(reach(circuit, grids, LANDMARKS)) - set(LANDMARKS)
    return any({b.a, b.b} & fed for b in parts)
