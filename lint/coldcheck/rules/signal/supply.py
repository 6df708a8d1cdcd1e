"""Stages that drive each other through the supply they share."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy import output_stage
from coldcheck.anatomy.modes import fed, growing_modes, linear_of, supply_nets
from coldcheck.anatomy.neighbourhood import amplifiers, metal, nearest, net_text
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.stability import LARGEST, growing, hertz
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.signal.linearised import Linearised

AGED = Threshold("share of its capacitance that an old electrolytic has left", 0.5, "", PRACTICE)
"""What an electrolytic may have left when it is old (common practice)."""

USUAL_CORNER = 5.0
DROP = 0.1
"""Share of the plate load that a decoupling resistor usually has."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A growing mode that is quiet with the supply ``nets`` held; ``aged`` capacitors made it."""

    mode: complex
    nets: tuple[str, ...]
    aged: bool


@rule(
    "signal.motor-boating",
    title="Stages that drive each other through their common supply",
    level="notice",
    states="nominal",
    needs="a solved nominal state and all values",
    criterion="By the small-signal estimate about the nominal state, a disturbance below 1 kHz "
    "grows by itself, and none does when the supply points that feed the plates are held still. "
    "Advice where that is so only with the supply's electrolytics at half their value.",
    why="The output stage's current moves the common supply, the first stage's plate goes with "
    "it, and the stages between make it large again. With an even number of inversions on the "
    "way round the set putts like a motor boat, a few times a second, or howls.",
    source=(
        Citation("arithmetic", "stability of the linear network (eigenvalues)"),
        Citation("textbooks-1950s", "the decoupling a decade below the coupling"),
    ),
    limits="Electrolytics have no series resistance unless it is drawn, and the supply behind a "
    "drawn DC source none at all. Sources at rest are 600 ohm. Oscillation by other ways than "
    "the supply is not reported here.",
    thresholds=(AGED, output_stage.STIFF_FARAD),
)
def motor_boating(case: Case) -> Iterator[Outcome]:
    """Look for modes that grow, and for what stops them."""
    sections = list(amplifiers(case.circuit))
    warm = case.solutions.get("warm")
    if len(sections) < 2 or warm is None or not warm.converged:
        return
    nets = supply_nets(case.circuit)
    if not nets:
        return
    if len(case.circuit.graph) > LARGEST:
        yield motor_boating.not_judged(
            (), f"more than {LARGEST} points: too many to look for modes"
        )
        return
    try:
        linear = linear_of(case)
        loop = _loop(case, linear, nets)
    except (Unsolvable, ValueError, np.linalg.LinAlgError) as problem:
        yield motor_boating.not_judged((), f"the loop through the supply: {problem}")
        return
    if loop is not None:
        yield _finding(case, linear, loop, nets)


def _loop(case: Case, linear: Linearised, nets: tuple[str, ...]) -> Loop | None:
    """The supply's own growing mode, as drawn or with old capacitors."""
    for farads in ({}, _old(linear.circuit, nets)):
        modes = growing(linear, farads=farads) if farads else growing_modes(case)
        if not modes.size:
            continue
        if growing(linear, nets, farads).size:
            return None
        alone = [n for n in nets if not growing(linear, (n,), farads).size]
        return Loop(complex(modes[0]), tuple(alone[:1]) or nets, bool(farads))
    return None


def _finding(case: Case, linear: Linearised, loop: Loop, nets: tuple[str, ...]) -> Finding:
    circuit, seconds = case.circuit, 1 / loop.mode.real
    stages = fed(circuit, loop.nets)
    names = tuple(
        dict.fromkeys(s.name for s, *_ in (stages if len(stages) > 1 else fed(circuit, nets)))
    )
    where = listed(net_text(circuit, n) for n in loop.nets)
    with_old = ", once its electrolytics have half their value" if loop.aged else ""
    evidence: dict[str, Figure | str] = {"grows_e_fold_in": figure(seconds, "s")}
    turning = abs(loop.mode.imag) > abs(loop.mode.real)
    if turning:
        evidence["frequency"] = figure(hertz(loop.mode), "Hz")
    how = f" at {engineering(hertz(loop.mode), 'Hz')}" if turning else " in jumps"
    return motor_boating.finding(
        case,
        names,
        f"{listed(names)} drive each other through {where}{with_old}: what one does to it comes "
        f"back larger, 2.7 times every {engineering(seconds, 's')}, and the set motor-boats{how}",
        _remedy(linear, loop, stages),
        state="warm",
        level="advice" if loop.aged else None,
        evidence=evidence,
        certainty="possible" if loop.aged else "likely",
    )


def _remedy(linear: Linearised, loop: Loop, stages: list[tuple[Section, str, str]]) -> str:
    """A decoupling for the first stage whose own would be enough."""
    circuit = linear.circuit
    corner = _lowest_coupling(circuit) or USUAL_CORNER
    below = f"a tenth of the lowest coupling corner, {engineering(corner, 'Hz')}"
    farads = _old(circuit, loop.nets) if loop.aged else {}
    for section, name, net in stages:
        branch = circuit.branches[name]
        load = branch.ohms if branch.kind is PartKind.RESISTOR else None
        if load is None or growing(linear, (), farads, {name: net}).size:
            continue
        ohm = preferred(DROP * load)
        farad = preferred(10 / (2 * math.pi * ohm * corner))
        return (
            f"Decouple {section.name}: {ohms(ohm)} between {net_text(circuit, net)} and {name}, "
            f"and {engineering(farad, 'F')} from there to gnd ({below})"
        )
    return (
        f"Give each of the first stages a resistor and a capacitor of its own in the supply "
        f"({below}), and {listed(net_text(circuit, n) for n in loop.nets)} more capacitance"
    )


def _old(circuit: Circuit, nets: tuple[str, ...]) -> dict[str, float]:
    """The filter capacitors on supply points, and what is left of them in old age."""
    every = [b for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR]
    return {b.name: AGED.value for b in every if GROUND in (b.a, b.b)}


def _lowest_coupling(circuit: Circuit) -> float | None:
    """The lowest corner of a capacitor from a plate to a grid and its leak, hertz."""
    graph = metal(circuit)
    plates = {s.electrodes["plate"] for s in circuit.sections() if "plate" in s.electrodes}
    corners = []
    for branch in circuit.branches.values():
        farad = branch.farads if branch.kind is PartKind.CAPACITOR else None
        ends = {branch.a, branch.b}
        if not farad or len(ends & plates) != 1 or GROUND in ends:
            continue
        leak = nearest(graph, (ends - plates).pop(), GROUND)
        if leak:
            corners.append(1 / (2 * math.pi * leak * farad))
    return min(corners, default=None)


RULES: tuple[Rule, ...] = (motor_boating,)
