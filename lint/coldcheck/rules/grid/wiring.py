"""What is between a grid and its signal: a stopper, a blocked grid-leak bias, a control."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import grid_kinds
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.grid_kinds import SENSE_OHMS, around, is_small
from coldcheck.anatomy.neighbourhood import ohms_between, resistors_at, wired
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

HIGH_SLOPE = Threshold("transconductance from which a tube needs a stopper", 9e-3, "S", PRACTICE)
"""Siemens from which a tube is known to sing without a stopper (common practice)."""

STOPPER_OHMS = Threshold("least grid stopper", 100.0, "ohm", PRACTICE)
LEAK_BIAS_OHMS = Threshold(
    "least leak that is meant for grid-leak bias",
    2.2e6,
    "ohm",
    Citation("handbooks", "5 to 10 Mohm"),
)
"""Grid-leak bias is made with 5 to 10 Mohm (memory); from here up a leak is meant for it."""

SHUNT = Threshold("share of the leak that a grid still sees", 0.5, "", PRACTICE)
PASSES_A = Threshold("direct current in the track of a control", 1e-6, "A", PRACTICE)


@rule(
    "grid.no-stopper",
    title="High-transconductance tube without a grid stopper",
    level="advice",
    states="the drawing alone",
    needs="a published transconductance of the type",
    criterion=(
        f"The type has a published transconductance of {HIGH_SLOPE.value * 1e3:g} mA/V or more, "
        f"and something else than resistors of {STOPPER_OHMS.value:g} ohm or more is right at its "
        "grid. A grid on gnd is left alone. All such grids are one advice."
    ),
    why="Wire and electrode capacitances make a tuned circuit of every grid lead. A tube of "
    "high transconductance oscillates in it at a hundred megahertz: it runs hot, sounds rough, and "
    "no meter shows why. A resistor at the socket pin damps it.",
    source=PRACTICE,
    limits="The drawing does not show lengths of wire or where a resistor sits; it must be at the "
    "pin. Radio-frequency stages are not distinguished.",
    thresholds=(HIGH_SLOPE, STOPPER_OHMS),
)
def no_stopper(case: Case) -> Iterator[Outcome]:
    """Look for a resistor at the grid of every steep tube."""
    bare = [
        (t, s)
        for t, s in working(case.circuit)
        if _slope(t, s) >= HIGH_SLOPE.value and not _stopped(case.circuit, s)
    ]
    if not bare:
        return
    names = tuple(s.name for _, s in bare)
    steepest = max(_slope(t, s) for t, s in bare)
    kinds = listed(dict.fromkeys(t.type.name for t, _ in bare))
    yield no_stopper.finding(
        case,
        names,
        f"{listed(names)}: no stopper at the grid; type {kinds} has up to "
        f"{steepest * 1e3:.3g} mA/V and may oscillate",
        f"Put {ohms(STOPPER_OHMS.value)} to 1 kohm in series with the grid, right at the socket",
        evidence={"transconductance": figure(steepest, "S")},
        limit=HIGH_SLOPE.figure,
        certainty="possible",
        excess=steepest / HIGH_SLOPE.value,
    )


def _slope(tube: Tube, section: Section) -> float:
    """The largest transconductance on file, siemens."""
    found = [p.get("transconductance") for p in tube.type.points_of(section.type.name)]
    return max((f.value for f in found if f is not None and not isinstance(f, str)), default=0.0)


def _stopped(circuit: Circuit, section: Section) -> bool:
    net = section.net("grid")
    if net is None or net in LANDMARKS or not wired(circuit, net):
        return True
    series = [b for b in circuit.at(net) if b.kind is not PartKind.DIODE]
    if not series or len(circuit.electrodes_at(net)) > 1:
        return False
    values = [b.ohms for b in series if b.kind is PartKind.RESISTOR]
    # A leak beside the stopper, at the grid itself, does no harm: it is a resistor too.
    return len(values) == len(series) and all(v is None or v >= STOPPER_OHMS.value for v in values)


@rule(
    "grid.leak-bias-shunted",
    title="Grid-leak bias with a direct path to the source",
    level="notice",
    states="the drawing alone",
    needs="the resistances from the grid to gnd",
    criterion=f"A small tube with its cathode on gnd has a leak of {LEAK_BIAS_OHMS.value / 1e6:g} "
    "Mohm "
    f"or more at its grid, and the DC resistance from the grid to gnd is less than "
    f"{SHUNT.value:g} of "
    "it: something else conducts, or a signal source is joined without a capacitor.",
    why="The few tenths of a volt of this bias are made by the grid's own current in megohms. "
    "Through a volume control or a pick-up the current flows away, and the tube runs with no bias "
    "and draws grid current from the source.",
    source=Citation("handbooks", "5 to 10 Mohm, the source blocked by a capacitor"),
    limits="A signal source is taken to conduct direct current, as most do.",
    thresholds=(LEAK_BIAS_OHMS, SENSE_OHMS, SHUNT, grid_kinds.SMALL_WATTS),
)
def leak_bias_shunted(case: Case) -> Iterator[Outcome]:
    """Compare the leak with what the grid really sees."""
    for tube, section in working(case.circuit):
        if section.net("grid") is None or not is_small(tube, section):
            continue
        near = around(case.circuit, section.cathode_nets[0])
        below = ohms_between(near, section.cathode_nets[0])
        if below is None or below > SENSE_OHMS.value:
            continue
        leaks = _leaks(case.circuit, section)
        seen = _with_sources(case.circuit, section)
        if leaks and seen is not None and seen < SHUNT.value * (si(leaks[0].value, "ohm") or 0.0):
            yield _shunted(case, section, leaks[0], seen)


def _leaks(circuit: Circuit, section: Section) -> list[Branch]:
    """The large resistors from the grid to gnd (or to the cathode on gnd)."""
    net, quiet = section.electrodes["grid"], {GROUND, *section.cathode_nets}
    found = (b for b in circuit.at(net) if b.kind is PartKind.RESISTOR and b.other(net) in quiet)
    return [b for b in found if (b.ohms or 0.0) >= LEAK_BIAS_OHMS.value]


def _with_sources(circuit: Circuit, section: Section) -> float | None:
    """DC resistance from the grid to gnd where a signal source counts as a short, ohms."""
    net = section.electrodes["grid"]
    nets = set(reach(circuit, [net], LANDMARKS, (PartKind.SOURCE, PartKind.SIGNAL)))
    ends = [b.a for b in circuit.branches.values() if b.kind is PartKind.SIGNAL and b.a in nets]
    near = around(circuit, net)
    found = (ohms_between(near, net), *(ohms_between(near, net, end) for end in ends))
    return min((f for f in found if f is not None), default=None)


def _shunted(case: Case, section: Section, leak: Branch, seen: float) -> Finding:
    value = leak.ohms or 0.0
    grid = section.electrodes["grid"]
    pots = [f"{b.owner}.wiper" for b in case.circuit.at(grid) if b.kind is PartKind.POT]
    pots = [p for p in dict.fromkeys(pots) if case.circuit.points.get(p) == grid]
    return leak_bias_shunted.finding(
        case,
        (section.name, leak.name, *pots),
        f"{section.name}: {leak.name} ({ohms(value)}) is to make the bias, but only {ohms(seen)} "
        "of direct current path is between its grid and gnd",
        f"Put a capacitor of about 10 nF between {listed(pots) or 'the source'} and the grid",
        evidence={"grid": figure(seen, "ohm"), "grid leak": figure(value, "ohm")},
        limit=figure(SHUNT.value * value, "ohm"),
        certainty="certain",
        excess=SHUNT.value * value / max(seen, 1.0),
    )


@rule(
    "grid.control-passes-dc",
    title="Direct current through a volume or tone control",
    level="notice",
    states="warm",
    needs="a solved warm state",
    criterion="An end of a pot's track is on a plate, or on the cathode of a follower, with no "
    "more than resistors between, its wiper leads to another stage's grid, and more than "
    f"{PASSES_A.value * 1e6:g} uA of direct current flows in the track.",
    why="Direct current in a track makes it scratch at every turn and wears it out, and the "
    "wiper hands on a voltage that changes with the setting. The control belongs behind the "
    "coupling capacitor.",
    source=PRACTICE,
    limits="The load of a detector, which carries the rectified signal, is left alone, a pot "
    "between two supply points, and one whose wiper is on an end.",
    thresholds=(PASSES_A,),
)
def control_passes_dc(case: Case) -> Iterator[Outcome]:
    """Look at the current of every pot between a plate and a grid."""
    if unsolved_reason(case) is not None:
        return
    pots = dict.fromkeys(b.owner for b in case.circuit.branches.values() if b.kind is PartKind.POT)
    most: dict[tuple[str, str], tuple[float, str]] = {}
    for pot in pots:
        above, below = halves(case.circuit, pot)
        upper = above[-1]
        ends = (above[0].a, below[-1].b)
        if upper.b in (*stiff_nets(case.circuit), *ends):
            continue  # it balances what its wiper feeds, or is an adjustable resistor
        sources = list(_sources(case.circuit, ends))
        currents = [case.warm.current(b.name) for b in (*above, *below)]
        amps = max((abs(w.dc) for w in currents if w is not None), default=0.0)
        others = [x for x in sources if _to_a_grid(case.circuit, upper.b, x[0])]
        if others and amps > PASSES_A.value:  # what flows on through a mixer's resistors is less
            most[others[0]] = max((amps, pot), most.get(others[0], (0.0, "")))
    for source, (amps, pot) in most.items():
        yield _passes(case, pot, source, amps)


def _sources(circuit: Circuit, ends: tuple[str, str]) -> Iterator[tuple[str, str]]:
    """(section, electrode) of plates, and of followers' cathodes, that resistors join to an end."""
    still = still_nets(circuit)
    reached = set(reach(circuit, [n for n in ends if n not in still], still)) - still
    for _, section in working(circuit):
        plate = section.net("plate")
        if plate in reached:
            yield section.name, "plate"
        elif plate in still and set(section.cathode_nets) & reached:
            yield section.name, "cathode"


def _to_a_grid(circuit: Circuit, wiper: str, but: str) -> bool:
    nets = set(reach(circuit, [wiper], LANDMARKS, (PartKind.CAPACITOR,))) - set(LANDMARKS)
    found = [s.name for n in nets for s, e in circuit.electrodes_at(n) if e.startswith("grid")]
    return any(name != but for name in found)


def _has_load(circuit: Circuit, name: str) -> bool:
    """Whether a resistor leads from a section's plate to a supply point."""
    plate = circuit.points[f"{name}.plate"]
    return any(b.other(plate) in stiff_nets(circuit) for b in resistors_at(circuit, plate))


def _passes(case: Case, pot: str, source: tuple[str, str], amps: float) -> Finding:
    name, electrode = source
    loaded = electrode != "plate" or _has_load(case.circuit, name)
    load = "" if loaded else f", and a plate resistor from {name}.plate to the supply"
    return control_passes_dc.finding(
        case,
        (pot, name),
        f"{pot} is joined to the {electrode} of {name} and carries {amperes(amps)} of direct "
        "current",
        f"Put the coupling capacitor between {name}.{electrode} and {pot}{load}",
        state="warm",
        evidence={"track": figure(amps, "A")},
        limit=PASSES_A.figure,
        excess=amps / PASSES_A.value,
    )


RULES: tuple[Rule, ...] = (no_stopper, leak_bias_shunted, control_passes_dc)
