"""Cathode followers: how much current they can give, and how much the drawing asks for."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.clipping import arriving
from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.neighbourhood import net_text, reading, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import amperes, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.signal.results import CUT_OFF
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.signal.results import Stage

CLEARLY = Threshold("times the idle current up to which it is advice", 1.5, "", PRACTICE)
"""The straight line through the idle point ends class A early: up to half more is advice."""

PLATE_STILL = Threshold(
    "swing of a follower's plate, as a share of its cathode's", 0.3, "", PRACTICE
)
LOAD_OHMS = 20e3
"""A follower's cathode resistor from here on is a load that wants a grid far above gnd."""

USABLE = 0.5
"""Share of the idle current that a follower gives without much distortion (common practice)."""


@rule(
    "signal.follower-overloaded",
    title="Cathode follower asked for more current than it draws at rest",
    level="notice",
    states="nominal, at the stated signal and the drawn positions of the controls",
    needs="a `signal` source and a solved nominal state",
    criterion="At the stated input the signal current through the follower exceeds its idle "
    "current by more than half; advice from the idle current on.",
    why="A follower pushes by drawing more current and pulls by drawing less. It cannot draw less "
    "than none: beyond its idle current the negative half of every wave is cut off.",
    source=Citation(
        "arithmetic",
        "Kirchhoff's current law at the cathode: idle current times the load is the most "
        "the output falls, 0.5 mA into 600 ohm is 0.3 V",
    ),
    limits="The signal is a small-signal estimate from the stated source, each earlier stage up to "
    "where it clips on both sides; a load behind a jack that is not drawn is not seen.",
    thresholds=(CLEARLY, PLATE_STILL, UNKNOWN),
)
def follower_overloaded(case: Case) -> Iterator[Outcome]:
    """Each follower against its idle current."""
    signal = case.signal
    if signal is None:
        return
    if not signal.solved:
        points = tuple(b.a for b in case.circuit.branches.values() if b.kind is PartKind.SIGNAL)
        yield follower_overloaded.not_judged(points, f"the signal: {signal.reason}")
        return
    sections = {s.name: s for s in case.circuit.sections()}
    for driven in signal.sources.values():
        for stage in driven.stages:
            if _is_follower(stage):
                section = sections[stage.section]
                yield from _judge(case, stage, section, arriving(case.circuit, driven, section))


def _is_follower(stage: Stage) -> bool:
    """Driven at its grid, taken at its cathode, and with a plate that stays where it is.

    A split-load inverter's plate moves as far as its cathode: a choice of loads, no follower.
    """
    driven = stage.input != "cathode" and stage.output == "cathode"
    return driven and stage.plate_swing < PLATE_STILL.value * stage.cathode_swing


def _judge(case: Case, stage: Stage, section: Section, arrives: float) -> Iterator[Finding]:
    """``arrives``: the peak volts at the source that the stages before this one let through."""
    ends = [x.source_peak for x in stage.limits if x.cause == CUT_OFF]
    found = reading(case.warm, section)
    if not ends or found is None or ends[0] >= arrives:
        return
    excess = arrives / max(ends[0], 1e-9)
    idle = (found.plate_ma + found.screen_ma) / 1e3
    wanted, least = abs(stage.cathode) * arrives, abs(stage.cathode) * ends[0]
    need = idle * excess
    load = wanted / need
    point = net_text(case.circuit, section.cathode_nets[0])
    held = _held_at_gnd(case.circuit, section)
    yield follower_overloaded.finding(
        case,
        (section.name, *held),
        f"{section.name}: {volts(wanted)} peak at {point} takes {amperes(need)} peak through "
        f"{ohms(load)} of load, and the follower draws {amperes(idle)} at rest: it cuts off at "
        f"{volts(least)}{_why(held)}",
        f"{_from_the_plate(held)}Let it draw {amperes(need / USABLE)} at rest (half of that is "
        f"usable), raise the load to {ohms(wanted / (USABLE * idle))}, or drive it with "
        f"{_rms(ends[0])} at most",
        state="warm",
        level=None if excess > CLEARLY.value else "advice",
        evidence={
            "wanted_peak": figure(wanted, "V"),
            "wanted_peak_current": figure(need, "A"),
            "idle": figure(idle, "A"),
            "load": figure(load, "ohm"),
            "cut_off_at": figure(least, "V"),
        },
        certainty=certainty(excess),
        excess=excess,
    )


def _held_at_gnd(circuit: Circuit, section: Section) -> tuple[str, ...]:
    """The leak that holds a follower's grid at gnd over a load of kilohms, and its capacitor."""
    grid, cathode = section.electrodes["grid"], section.cathode_nets[0]
    leaks = [b for b in resistors_at(circuit, grid) if b.other(grid) == GROUND]
    loads = [b for b in resistors_at(circuit, cathode) if b.other(cathode) == GROUND]
    small = [b for b in resistors_at(circuit, cathode) if b not in loads]
    alone = len(leaks) == len(loads) == 1 and (si(loads[0].value, "ohm") or 0.0) >= LOAD_OHMS
    bootstrap = any(b.other(cathode) not in LANDMARKS and _leads_to(circuit, b, cathode, grid)
                    for b in small)  # fmt: skip
    capacitors = [
        b for b in circuit.at(grid)
        if b.kind is PartKind.CAPACITOR and _on_a_plate(circuit, b.other(grid))
    ]  # fmt: skip
    if not alone or bootstrap or len(capacitors) != 1:
        return ()
    return leaks[0].owner, capacitors[0].owner


def _leads_to(circuit: Circuit, branch: Branch, cathode: str, grid: str) -> bool:
    """Whether a resistor under the cathode ends where the grid's leak does."""
    foot = branch.other(cathode)
    return any(b.other(grid) == foot for b in resistors_at(circuit, grid))


def _on_a_plate(circuit: Circuit, net: str) -> bool:
    return any(e == "plate" for _, e in circuit.electrodes_at(net))


def _why(held: tuple[str, ...]) -> str:
    return f", since {held[0]} holds its grid at gnd" if held else ""


def _from_the_plate(held: tuple[str, ...]) -> str:
    if not held:
        return ""
    return (
        f"Without {held[1]} and {held[0]} the plate ahead would bias it, if it is low enough; or "
        f"return {held[0]} to a divider. "
    )


def _rms(peak: float) -> str:
    return f"{engineering(peak / math.sqrt(2), 'V')} rms at the source"


@rule(
    "signal.lower-tube-on-own-plate",
    title="Lower tube of a White follower driven from its own plate",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the two",
    criterion="The cathode of one section is on the plate of another, whose grid gets its signal "
    "from that very point through a capacitor and from nowhere else, while something else drives "
    "the upper grid.",
    why="The lower tube is to push where the upper one pulls, so its grid goes with the upper "
    "plate. From the output itself it draws more when the output rises: it is a load of 1/gm, the "
    "gain falls to a half or so, and the output gives less current than a plain follower.",
    source=(Citation("arithmetic", "two transconductances on one point"), PRACTICE),
    limits="Oscillators and stages with coils at that grid are left alone.",
)
def lower_tube_on_own_plate(case: Case) -> Iterator[Outcome]:
    """Look at the grid of every tube that another one stands on."""
    circuit = case.circuit
    for _, lower in working(circuit):
        plate = lower.net("plate")
        upper = _on_top(circuit, lower, plate) if plate is not None else None
        tie = _own_tie(circuit, lower, plate) if plate is not None else None
        if upper is not None and tie is not None and behind(circuit, upper) - {lower.name}:
            yield _opposed(case, lower, upper, tie)


def _on_top(circuit: Circuit, lower: Section, plate: str) -> Section | None:
    """The section whose cathode is on a plate."""
    on = [s for s, e in circuit.electrodes_at(plate) if e == "cathode" and s.name != lower.name]
    return on[0] if len(on) == 1 and plate not in still_nets(circuit) else None


def _own_tie(circuit: Circuit, lower: Section, plate: str) -> Branch | None:
    """The capacitor from a section's plate to its grid, where nothing else drives that."""
    grid, still = lower.net("grid"), {*still_nets(circuit), plate}
    nets = coupled(circuit, [grid], still) if grid is not None else frozenset()
    near = [b for n in nets for b in circuit.at(n)]
    if givers(circuit, nets) or any(b.traits.coil for b in near):
        return None
    ties = [b for b in near if b.kind is PartKind.CAPACITOR and plate in (b.a, b.b)]
    return ties[0] if len(ties) == 1 else None


def _opposed(case: Case, lower: Section, upper: Section, tie: Branch) -> Finding:
    circuit, plate = case.circuit, upper.net("plate") or ""
    load = [] if plate in still_nets(circuit) else resistors_at(circuit, plate)
    remedy = f"Take {tie.name} to {upper.name}.plate in place of {upper.name}.cathode"
    if not load:
        remedy += ", with a resistor of some 1/gm between that plate and its supply"
    return lower_tube_on_own_plate.finding(
        case,
        (tie.name, lower.name, upper.name),
        f"{tie.name} drives the grid of {lower.name} from its own plate, on which the cathode of "
        f"{upper.name} stands: {lower.name} works against {upper.name} instead of with it",
        remedy,
        evidence={"load": load[0].name if load else "none"},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (follower_overloaded, lower_tube_on_own_plate)
