"""Where a stage's signal goes: on to something, and not into a capacitor or the wrong end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets, takers
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.twins import type_of
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.signal.coupling import cathode_still
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

SWALLOWS_HZ = Threshold(
    "corner of the plate load and a capacitor on the plate", 60.0, "Hz",
    Citation("practice", "cuts of treble begin at some hundred hertz and above"),
)  # fmt: skip
REFLEX_HZ = Threshold(
    "corner of an audio load behind a coil for radio frequencies", 300.0, "Hz",
    Citation("practice", "speech and music begin below; 100 to 500 pF are usual there"),
)  # fmt: skip
RADIO_H = Threshold(
    "inductance above which a coil at a plate is for audio", 0.1, "H",
    Citation("practice", "chokes and cans of receivers have up to 10 mH"),
)  # fmt: skip
GRID_F = Threshold(
    "capacitor that shorts a grid", 100e-9, "F",
    Citation("practice", "cuts of treble at a grid take picofarads to some nanofarads"),
)  # fmt: skip
LOAD_OHM = 20e3
"""A smaller resistor decouples a supply point: signal.no-plate-load is about that."""

STOPPER_OHM = 1e3
"""As much stops a follower's plate from oscillating; no load is so small (common practice)."""

BYPASS_F = 10e-9
"""Below this a capacitor from screen to plate only trims the treble (common practice)."""


@rule(
    "signal.stage-leads-nowhere",
    title="Stage that drives nothing",
    level="notice",
    states="the drawing alone",
    needs="a drawing with an output: a speaker, an output transformer, a jack or a point OUT",
    criterion="From the plate of a stage whose grid is driven, parts lead to no grid, transformer, "
    "speaker, jack, detector or output, and neither does its cathode.",
    why="A wire to the next grid is missing, or ends one terminal strip short. Every voltage at "
    "rest is right, and the set is silent or half of it is.",
    source=PRACTICE,
    limits="A drawing without any output is taken for part of a set, and its last stage for its "
    "output. Stages whose grids nothing drives are left alone, oscillators and tuning eyes.",
)
def stage_leads_nowhere(case: Case) -> Iterator[Outcome]:
    """Follow each plate, and each cathode."""
    circuit = case.circuit
    if not _has_output(circuit):
        return
    still = still_nets(circuit)
    for _, section in working(circuit):
        if section.kind is SectionKind.INDICATOR:
            continue  # its plate steers the shadow
        driven = _driven(circuit, section, still) or _feeds_itself(circuit, section)
        if driven and not _drives(circuit, section, still):
            name = section.name
            strayed, giver = _crossed_over(circuit, section, still)
            beside = f"; {strayed} is on {giver} in its place" if strayed else ""
            yield stage_leads_nowhere.finding(
                case,
                (name, *([f"{strayed}.grid"] if strayed else [])),
                f"the plate of {name} drives nothing: no grid, transformer or output is coupled "
                f"to it, nor to its cathode{beside}",
                f"Take {strayed}.grid to what comes from {name}.plate"
                if strayed
                else f"Couple {name}.plate to what it is to drive",
                evidence={"plate": net_text(circuit, section.electrodes["plate"])},
                certainty="likely",
            )


def _has_output(circuit: Circuit) -> bool:
    named = any(named_out(p) for p in circuit.points)
    speaker = any(b.kind is PartKind.SPEAKER for b in circuit.branches.values())
    return bool(circuit.outputs) or named or speaker or _comes_out_at_a_jack(circuit)


def _comes_out_at_a_jack(circuit: Circuit) -> bool:
    """Whether a plate or a cathode gives its signal to a jack."""
    still = still_nets(circuit)
    tips = [n for j in jacks(circuit) for n in (j.tip, j.ring) if n is not None]
    return any(e in ("plate", "cathode") for _, e in givers(circuit, coupled(circuit, tips, still)))


def _crossed_over(circuit: Circuit, dead: Section, still: Collection[str]) -> tuple[str, str]:
    """The one of two stages on another's plate that is likelier the dead stage's, and that other.

    It shares with it the tube or the supply, and its fellow does not. Both empty where none does.
    """
    kind = type_of(circuit, dead)
    for _, other in working(circuit):
        plate = other.net("plate")
        if other is dead or plate is None or type_of(circuit, other) != kind:
            continue
        from_plate = coupled(circuit, [plate], still)
        on = [s for _, s in working(circuit) if s.net("grid") in from_plate]
        if len(on) == 2 and type_of(circuit, on[0]) == type_of(circuit, on[1]):
            near = [s.name for s in on if _kin(circuit, s, dead) > _kin(circuit, s, other)]
            if len(near) == 1:
                return near[0], other.name
    return "", ""


def _kin(circuit: Circuit, one: Section, other: Section) -> int:
    """How much speaks for two stages being of one channel: a common tube, a common supply."""
    plates = (s.net("plate") or "" for s in (one, other))
    here, there = ({b.other(n) for b in resistors_at(circuit, n)} for n in plates)
    return (one.tube == other.tube) + bool(here & there & still_nets(circuit))


def _driven(circuit: Circuit, section: Section, still: Collection[str]) -> bool:
    grid = section.net("grid")
    nets = coupled(circuit, [] if grid is None else [grid], still)
    others = {name for name, _ in givers(circuit, nets)} - {section.name}
    return bool(others)


def _drives(circuit: Circuit, section: Section, still: Collection[str]) -> bool:
    plate = section.net("plate")
    if plate is None or _held(circuit, plate, still):
        return True  # a follower, a regulator or a mistake of another rule's
    from_plate = coupled(circuit, [plate], still)
    oscillates = section.net("grid") in from_plate and not _feeds_itself(circuit, section)
    if oscillates or takers(circuit, from_plate, but=section):
        return True
    if is_supply(circuit, section) or _taps_its_coil(circuit, section, still):
        return True
    nets = coupled(circuit, section.cathode_nets, still)
    own = {
        s.name for n in nets for s, e in circuit.electrodes_at(n) if e in (*SIGNAL_GRIDS, "cathode")
    }
    named = any(named_out(p) for n in nets for p in circuit.names.get(n, ()))
    jacked = any({j.tip, j.ring} & set(nets) for j in jacks(circuit))
    return bool(own - {section.name}) or named or jacked or _to_a_named_end(circuit, from_plate)


def _taps_its_coil(circuit: Circuit, section: Section, still: Collection[str]) -> bool:
    """Whether the cathode is on the coil of the stage's own grid: an oscillator of that kind."""
    grid = section.net("grid")
    nets = coupled(circuit, [] if grid is None else [grid], still)
    own = {b.owner.partition(".")[0] for n in nets for b in circuit.at(n) if b.traits.coil}
    below = [b for n in section.cathode_nets if n not in LANDMARKS for b in circuit.at(n)]
    return any(b.traits.coil and b.owner.partition(".")[0] in own for b in below)


def _held(circuit: Circuit, plate: str, still: Collection[str]) -> bool:
    """Whether a plate is on a supply, straight or through a small resistor."""
    near = (b for b in resistors_at(circuit, plate) if b.other(plate) in still)
    return plate in still or any((b.ohms or 0.0) <= STOPPER_OHM for b in near)


def _to_a_named_end(circuit: Circuit, nets: Collection[str]) -> bool:
    """Whether a control leads on to a point with a name of its own: the drawing's output there."""
    wipers = {b.owner for n in nets for b in circuit.at(n) if b.kind is PartKind.POT}
    ends = {circuit.points[f"{pot}.{e}"] for pot in wipers for e in ("top", "wiper", "bottom")}
    own = (p for n in set(nets) - ends for p in circuit.names.get(n, ()))
    return bool(wipers) and any("." not in p and p not in LANDMARKS for p in own)


def _feeds_itself(circuit: Circuit, section: Section) -> bool:
    """Whether one capacitor alone leads from a plate to its own grid, a stopper or none between.

    No oscillator does that: it has coils, or three capacitors one after the other.
    """
    plate, grid = section.net("plate"), section.net("grid")
    if plate is None or grid is None or plate == grid:
        return False
    stoppers = (b.other(grid) for b in resistors_at(circuit, grid))
    near = {grid, *stoppers} - set(LANDMARKS) - {plate}
    at = [b for b in circuit.at(plate) if b.kind is PartKind.CAPACITOR]
    coils = any(b.traits.coil for n in (plate, *near) for b in circuit.at(n))
    return not coils and any(b.other(plate) in near for b in at)


def is_supply(circuit: Circuit, section: Section) -> bool:
    """Whether a cathode is a supply: plates, screens, a fuse or an output hang on it."""
    nets = set(reach(circuit, section.cathode_nets, LANDMARKS)) - set(LANDMARKS)
    fed = any(
        e in ("plate", "screen") and s.name != section.name
        for n in nets
        for s, e in circuit.electrodes_at(n)
    )
    fused = any(b.kind is PartKind.FUSE for n in nets for b in circuit.at(n))
    return fed or fused or any(named_out(p) for n in nets for p in circuit.names.get(n, ()))


@rule(
    "signal.control-wired-backwards",
    title="Control with its wiper and an end exchanged",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring of a pot",
    criterion="The wiper is on gnd or a point that holds still, the signal comes to one end, and a "
    "grid that gets it from nowhere else hangs on the other end; or nothing else takes the signal "
    "at the one end, and the other leads on. Or one end is on gnd, the signal comes to the wiper, "
    "and a grid or an output jack that gets it from nowhere else hangs on the other end.",
    why="With the wiper on gnd nothing gets past it at any setting, and at one end of the travel "
    "the source is shorted. With the source on the wiper, what hangs on the far end has all of the "
    "signal at every setting, since it draws no current; turned down, the control shorts the "
    "source.",
    source=PRACTICE,
    limits="A balance control, with a signal at each end, has its wiper on gnd on purpose. "
    "Controls whose far ends meet, each with a source on its wiper, mix, and are left alone.",
)
def control_backwards(case: Case) -> Iterator[Outcome]:
    """Look at all three leads of each pot."""
    circuit, still = case.circuit, still_nets(case.circuit)
    for name in dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT):
        top, wiper, bottom = (circuit.points[f"{name}.{x}"] for x in ("top", "wiper", "bottom"))
        if wiper not in still and (end := _fed_at_wiper(circuit, name, still)):
            yield _at_wiper(case, name, end)
        if wiper not in still or {top, bottom} & set(still) or top == bottom:
            continue
        sides = {"top": top, "bottom": bottom}
        nets = {e: coupled(circuit, [n], still, without=(name,)) for e, n in sides.items()}
        for end, other in (("top", "bottom"), ("bottom", "top")):
            lost = _only_takes(circuit, nets[other]) or _ends_there(circuit, name, nets[end], other)
            if any(e != "cathode" for _, e in givers(circuit, nets[end])) and lost:
                yield control_backwards.finding(
                    case,
                    (name,),
                    f"{name}: its wiper is on {net_text(circuit, wiper)}, the signal on "
                    f"{name}.{end}, and what it is to drive on {name}.{other}: nothing gets past "
                    "the wiper",
                    f"Exchange {name}.wiper and {name}.{other}",
                    evidence={"wiper": net_text(circuit, wiper)},
                    certainty="certain",
                )


def _fed_at_wiper(circuit: Circuit, pot: str, still: Collection[str]) -> str:
    """The end of a pot where something waits for the signal that comes to its wiper; or nothing.

    Its other end rests, straight or on a resistor.
    """
    top, wiper, bottom = (circuit.points[f"{pot}.{x}"] for x in ("top", "wiper", "bottom"))
    before = givers(circuit, coupled(circuit, [wiper], still, without=(pot,)))
    for end, net, rest in (("top", top, bottom), ("bottom", bottom, top)):
        if not before or net in still or wiper in (top, bottom) or not _rests(circuit, rest, still):
            continue
        nets = coupled(circuit, [net], {*still, rest}, without=(pot,))
        behind = givers(circuit, nets)
        driven = any(e != "tip" for _, e in before)
        grids = any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))
        if (grids and not behind) or (driven and {e for _, e in behind} == {"tip"}):
            return end
    return ""


def _rests(circuit: Circuit, net: str, still: Collection[str]) -> bool:
    """Whether a point holds still, or nothing but a resistor to such a point is on it."""
    at = [b for b in circuit.at(net) if b.kind is not PartKind.POT]
    resting = [b for b in at if b.kind is PartKind.RESISTOR and b.other(net) in still]
    return net in still or (len(at) == len(resting) == 1 and not circuit.electrodes_at(net))


def _at_wiper(case: Case, pot: str, end: str) -> Finding:
    return control_backwards.finding(
        case,
        (pot, f"{pot}.wiper", f"{pot}.{end}"),
        f"{pot}: the signal comes to its wiper, and what it is to drive hangs on {pot}.{end}: that "
        f"has all of the signal at every setting, and turned down {pot} shorts the source",
        f"Exchange {pot}.wiper and {pot}.{end}",
        evidence={"wiper": net_text(case.circuit, case.circuit.points[f"{pot}.wiper"])},
        certainty="certain",
    )


def _ends_there(circuit: Circuit, pot: str, nets: Collection[str], other: str) -> bool:
    """Whether nothing but a pot takes a signal on some nets, and its other end leads on."""
    used = any(e not in ("plate", "cathode") for n in nets for _, e in circuit.electrodes_at(n))
    loads = any(b.traits.coil or b.kind is PartKind.SPEAKER for n in nets for b in circuit.at(n))
    away = [b for b in circuit.at(circuit.points[f"{pot}.{other}"]) if b.owner != pot]
    return bool(away) and not used and not loads


def _only_takes(circuit: Circuit, nets: Collection[str]) -> bool:
    grids = any(e in SIGNAL_GRIDS for n in nets for _, e in circuit.electrodes_at(n))
    return grids and not givers(circuit, nets)


@rule(
    "signal.output-bypassed",
    title="Bypass capacitor on a plate that gives the signal",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the plate's load resistor and the capacitor's value",
    criterion="From a plate with a load resistor of 20 kohm or more and a coupling capacitor or a "
    "grid on it, whose cathode leads to gnd alone, another capacitor leads to gnd or a supply "
    f"point, and its corner with the load alone is below {SWALLOWS_HZ.value:g} Hz. The same of a "
    "load behind a coil for radio frequencies at the plate, with a corner below "
    f"{REFLEX_HZ.value:g} Hz.",
    why="A bypass belongs across the cathode resistor, or behind the load at the supply. On the "
    "plate it shorts the signal the stage was built for. A stage that amplifies twice, radio "
    "and audio frequencies, has picofarads there, which only the first take for a short.",
    source=(
        Citation("arithmetic", "f = 1 / (2 pi R C)"),
        Citation("practice", "the tube's own resistance puts the corner up to three times higher"),
    ),
    limits="Plates on iron are not looked at, nor smaller capacitors, which trim the treble.",
    thresholds=(SWALLOWS_HZ, REFLEX_HZ, RADIO_H),
)
def output_bypassed(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors right on each loaded plate, or behind its coil."""
    circuit = case.circuit
    for _, section in working(circuit):
        plate = section.net("plate")
        if plate is None or plate in LANDMARKS:
            continue
        if cathode_still(circuit, section):
            yield from _swallows(case, section, plate, None)
        if set(section.cathode_nets) <= still_nets(circuit):
            for coil, far in _radio_coils(circuit, plate):
                yield from _swallows(case, section, far, coil)


def _swallows(case: Case, section: Section, net: str, coil: Branch | None) -> Iterator[Outcome]:
    """The capacitors that short a load at a plate, or behind the coil at one."""
    circuit, still = case.circuit, still_nets(case.circuit) - {net}
    shunts = [b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR]
    load, taken = _load(circuit, net, still), _taken(circuit, net, still, coil)
    most = SWALLOWS_HZ if coil is None else REFLEX_HZ
    for shunt in (b for b in shunts if b.other(net) in still):
        farads = shunt.farads
        if farads and load and taken:
            corner = 1 / (2 * math.pi * load * farads)
            if corner < most.value:
                yield _swallowed(case, section, shunt, coil, (load, farads, corner))


def _radio_coils(circuit: Circuit, plate: str) -> Iterator[tuple[Branch, str]]:
    """The coils for radio frequencies at a plate, and the nets behind them."""
    henries = {b.name: si(c.henries, "henry") for c in circuit.coils() for _, b in c.parts}
    for branch in circuit.at(plate):
        size = branch.henries if branch.kind is PartKind.INDUCTOR else None
        size = size or henries.get(branch.name)
        far = branch.other(plate)
        if size is not None and size < RADIO_H.value and far not in (plate, *LANDMARKS):
            yield branch, far


def _load(circuit: Circuit, plate: str, still: Collection[str]) -> float | None:
    """The smallest resistor from a plate to a point that holds still."""
    ends = set(still) - {GROUND}
    loads = (b for b in circuit.at(plate) if b.kind is PartKind.RESISTOR and b.other(plate) in ends)
    found = [b.ohms for b in loads]
    return min((v for v in found if v and v >= LOAD_OHM), default=None)


def _taken(circuit: Circuit, plate: str, still: Collection[str], coil: Branch | None) -> bool:
    """Whether a load gives its signal to a grid or a coupling capacitor, and feeds no one else."""
    near = [b for b in circuit.at(plate) if b is not coil]
    across = None if coil is None else coil.other(plate)
    onward = [b for b in near if b.other(plate) not in (*still, GROUND, across)]
    coupling = any(b.kind is PartKind.CAPACITOR for b in onward)
    feeds = any(b.kind is PartKind.RESISTOR or b.traits.coil for b in onward)
    grids = any(e in SIGNAL_GRIDS for _, e in circuit.electrodes_at(plate))
    return (coupling or grids) and not feeds


def _swallowed(
    case: Case,
    section: Section,
    shunt: Branch,
    coil: Branch | None,
    values: tuple[float, float, float],
) -> Finding:
    load, farads, corner = values
    name, most = section.name, SWALLOWS_HZ if coil is None else REFLEX_HZ
    ends = {shunt.a, shunt.b} - ({coil.a, coil.b} if coil else {section.electrodes["plate"]})
    end = next(iter(ends))
    far = "gnd" if end == GROUND else net_text(case.circuit, end)
    start = (
        f"the plate of {name}" if coil is None else f"the audio load of {name}, behind {coil.name},"
    )
    return output_bypassed.finding(
        case,
        (name, shunt.name),
        f"{shunt.name} ({engineering(farads, 'F')}) leads from {start} to {far}: with "
        f"its load of {ohms(load)} everything above {engineering(corner, 'Hz')} or so is lost",
        f"Put {shunt.name} where it bypasses something at rest: across the cathode resistor of "
        f"{name}, or at the supply end of its load"
        if coil is None
        else f"Use 100 to 500 pF for {shunt.name}: it is to short radio frequencies and no audio",
        evidence={"corner": figure(corner, "Hz"), "load": figure(load, "ohm")},
        limit=most.figure,
        certainty="certain",
        excess=most.value / corner,
    )


@rule(
    "signal.grid-bypassed",
    title="Bypass capacitor on a grid that gets the signal",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the capacitor's value",
    criterion=f"A capacitor of {1e9 * GRID_F.value:g} nF or more leads from a grid to gnd or a "
    "point that holds still, and a coupling capacitor, a control or a `signal` is on that grid.",
    why="A bypass belongs across the cathode resistor. On the grid it shorts the signal that comes "
    "there.",
    source=Citation("arithmetic", "1 / (2 pi 100k 100 nF) is 16 Hz"),
    limits="The grid of the second half of a long-tailed pair, which only a resistor holds, is "
    "bypassed on purpose.",
    thresholds=(GRID_F,),
)
def grid_bypassed(case: Case) -> Iterator[Outcome]:
    """Look at the capacitors right on each driven grid."""
    circuit = case.circuit
    for _, section in working(circuit):
        grid = section.net("grid")
        if grid is None or grid in LANDMARKS or section.kind is SectionKind.INDICATOR:
            continue
        still = still_nets(circuit) - {grid}
        near = circuit.at(grid)
        shunts = [b for b in near if _shunts(b, grid, still)]
        brings = [b for b in near if _brings(circuit, b, grid, still)]
        for shunt in shunts if brings else ():
            farads = shunt.farads or 0.0
            name = section.name
            yield grid_bypassed.finding(
                case,
                (name, shunt.name),
                f"{shunt.name} ({engineering(farads, 'F')}) leads from the grid of {name} to "
                f"{net_text(circuit, shunt.other(grid))}: it shorts what {brings[0].owner} brings",
                f"Put {shunt.name} across the cathode resistor of {name}, or leave it out",
                evidence={"capacitor": figure(farads, "F"), "brings": brings[0].owner},
                limit=GRID_F.figure,
                certainty="certain",
                excess=farads / GRID_F.value,
            )


def _shunts(branch: Branch, grid: str, still: Collection[str]) -> bool:
    large = branch.kind is PartKind.CAPACITOR and (branch.farads or 0.0) >= GRID_F.value
    return large and branch.other(grid) in still


def _brings(circuit: Circuit, branch: Branch, grid: str, still: Collection[str]) -> bool:
    """Whether a signal comes to a grid through a part; a pot that sets a voltage brings none."""
    far = branch.other(grid)
    if branch.kind is PartKind.POT and far not in (grid, *still):
        return bool(givers(circuit, coupled(circuit, [far], {*still, grid})))
    return branch.kind is PartKind.SIGNAL or (
        branch.kind is PartKind.CAPACITOR and far not in still
    )


@rule(
    "signal.screen-bypassed-to-plate",
    title="Screen bypass that goes to the plate",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring",
    criterion=f"A capacitor of {1e9 * BYPASS_F:g} nF or more joins the screen of a pentode to its "
    "own plate.",
    why="The screen is to stand still. Joined to the plate for the signal it follows the plate: "
    "the pentode works as a triode, with a twentieth of the gain.",
    source=PRACTICE,
    limits="A smaller capacitor there is taken to trim the treble.",
)
def screen_to_plate(case: Case) -> Iterator[Outcome]:
    """Look for a capacitor between the two."""
    still = still_nets(case.circuit)
    for _, section in working(case.circuit):
        plate, screen = section.net("plate"), section.net("screen")
        if plate is None or screen is None or plate == screen or screen in still:
            continue
        for branch in case.circuit.at(screen):
            farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
            if farads and farads >= BYPASS_F and branch.other(screen) == plate:
                name = section.name
                yield screen_to_plate.finding(
                    case,
                    (name, branch.name),
                    f"{branch.name} joins the screen of {name} to its own plate",
                    f"Take {branch.name} from {name}.screen to {_rest(section)}",
                    evidence={"capacitor": figure(farads, "F")},
                    limit=figure(BYPASS_F, "F"),
                    certainty="certain",
                )


def _rest(section: Section) -> str:
    cathode = section.cathode_nets[0]
    return "gnd" if cathode == GROUND else f"gnd, or {section.name}.cathode"


RULES: tuple[Rule, ...] = (
    stage_leads_nowhere,
    control_backwards,
    output_bypassed,
    grid_bypassed,
    screen_to_plate,
)
