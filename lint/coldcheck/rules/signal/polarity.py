"""Detectors and ladders of oscillators whose phase is another than they need."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.detectors import diodes
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.detectors import Diode
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LEGS = Threshold(
    "legs of a phase-shift oscillator", 3.0, "", Citation("arithmetic", "180 over less than 90")
)

DELAY_F = 10e-9
"""What filters the voltage that delays a gain control has more (common practice)."""


@rule(
    "signal.gain-control-positive",
    title="Detector that makes a positive gain control voltage",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring of the detector",
    criterion=(
        "A diode has its plate on gnd or another point at rest and its cathode on a coil, or on a "
        "capacitor that brings the signal, and the grid of an amplifying stage gets its direct "
        "voltage through resistors from there. Or a capacitor, or a coil whose other end is at "
        "rest, brings the signal to its plate, and a grid that is driven besides gets its direct "
        "voltage from its cathode."
    ),
    why=(
        "A carrier drives current out of the diode's cathode into the coil: the load behind it "
        "goes positive. Automatic gain control wants it negative, so that a strong station is "
        "amplified less. Positive, it amplifies more, and the grids draw current."
    ),
    source=(PRACTICE, Citation("arithmetic", "the way a diode conducts")),
    limits="Amplified gain control is not looked at.",
)
def gain_control_positive(case: Case) -> Iterator[Outcome]:
    """Follow the direct voltage of each detector to the grids it holds."""
    for diode in diodes(case.circuit):
        if _rests(case.circuit, diode.plate):
            yield from _positive(case, diode, "a carrier", _held_grids(case.circuit, diode.cathode))
        else:
            yield from _positive(case, diode, "a signal", _controlled(case.circuit, diode))


def _rests(circuit: Circuit, net: str) -> bool:
    """Whether a point is at rest: a landmark, or what a capacitor and resistors hold, a delay."""
    if net in LANDMARKS:
        return True
    near = circuit.at(net)
    held = [b for b in near if b.kind is PartKind.CAPACITOR]
    large = any((b.farads or 0.0) >= DELAY_F for b in held)
    resistors = all(b.kind in (PartKind.CAPACITOR, PartKind.RESISTOR) for b in near)
    return large and resistors and all(b.other(net) in LANDMARKS for b in held)


def _positive(case: Case, diode: Diode, with_what: str, fed: list[str]) -> Iterator[Finding]:
    name, rests = diode.name, _rests(case.circuit, diode.plate)
    rest = "gnd" if diode.plate in LANDMARKS else net_text(case.circuit, diode.plate)
    back = f"its cathode on {rest}" if rests else "its plate on the control voltage"
    on = "plate" if rests else "cathode"
    if fed:
        yield gain_control_positive.finding(
            case,
            (name, *fed),
            f"{name} makes its load positive with {with_what}, and the grid of {listed(fed)} "
            "hangs on it: the gain control works the wrong way round",
            f"Turn {name} round: its {on} on the signal, {back}",
            evidence={"grids": listed(fed)},
            certainty="certain",
        )


def _held_grids(circuit: Circuit, cathode: str) -> list[str]:
    """The amplifying sections whose grids get their direct voltage from what a diode charges.

    That is what lies behind a coil at its cathode, or the cathode's own point where a capacitor
    brings the signal; a grid on that very point is held there on purpose.
    """
    if cathode in still_nets(circuit):
        return []  # a rail, which a diode keeps from going negative
    near = [(b, b.other(cathode)) for b in circuit.at(cathode)]
    behind = {n for b, n in near if b.kind is PartKind.INDUCTOR} - set(LANDMARKS)
    brought = any(b.kind is PartKind.CAPACITOR and n not in LANDMARKS for b, n in near)
    start = list(behind) or ([cathode] if brought else [])
    nets = set(reach(circuit, start, LANDMARKS)) - {*LANDMARKS, cathode}
    return [s.name for _, s in working(circuit) if s.kind.amplifies and s.net("grid") in nets]


def _controlled(circuit: Circuit, diode: Diode) -> list[str]:
    """The driven sections whose grids hang on the cathode of a diode that rectifies peaks.

    A capacitor or a coil brings the signal to its plate. A grid that nothing else drives reads the
    voltage, as a meter's stage does, and is none.
    """
    near = [(b, b.other(diode.plate)) for b in circuit.at(diode.plate)]
    brought = any(b.kind is PartKind.CAPACITOR and n not in LANDMARKS for b, n in near) or any(
        b.traits.coil and _rests(circuit, n) for b, n in near
    )
    leads = [b for b in circuit.at(diode.cathode) if b.kind is not PartKind.DIODE]
    alone = all(b.kind is PartKind.RESISTOR or b.other(diode.cathode) in LANDMARKS for b in leads)
    if not brought or not alone or diode.cathode in LANDMARKS:
        return []
    ends = {*LANDMARKS, *(_rails(circuit) - {diode.cathode})}  # rails lead to every grid
    nets = set(reach(circuit, [diode.cathode], ends)) - {*ends, diode.cathode}
    held = [s for _, s in working(circuit) if s.kind.amplifies and s.net("grid") in nets]
    return [s.name for s in held if _driven(circuit, s.net("grid") or "", nets)]


def _rails(circuit: Circuit) -> set[str]:
    """The points that feed a plate through its load."""
    plates = [p for _, s in working(circuit) if (p := s.net("plate")) is not None]
    loads = ((p, b) for p in plates for b in circuit.at(p) if b.traits.steady or b.traits.coil)
    return {b.other(p) for p, b in loads} & stiff_nets(circuit)


def _driven(circuit: Circuit, grid: str, nets: set[str]) -> bool:
    """Whether a signal gets to a grid besides its direct voltage: by a coil or a capacitor."""
    coils = any(b.traits.coil for n in nets for b in circuit.at(n))
    still = still_nets(circuit)
    return coils or any(
        b.kind is PartKind.CAPACITOR and b.other(grid) not in still for b in circuit.at(grid)
    )


@rule(
    "signal.oscillator-legs",
    title="Phase-shift oscillator with too few legs",
    level="notice",
    states="the drawing alone",
    needs="the wiring between a plate and its own grid",
    criterion=(
        f"Fewer than {LEGS.value:g} capacitors in series, and no coil, lead from the plate of a "
        "stage to its own grid, which nothing else drives, with a resistor on each point between."
    ),
    why=(
        "The plate is half a turn from the grid; the ladder between has to make the other half. A "
        "leg of one capacitor and one resistor turns the phase by less than a quarter, and that "
        "only where nothing comes through. Two never get there: it does not oscillate."
    ),
    source=(Citation("arithmetic", "each leg turns less than 90 degrees"), PRACTICE),
    limits="Ladders of resistors in series and capacitors to gnd are not looked at.",
    thresholds=(LEGS,),
)
def oscillator_legs(case: Case) -> Iterator[Outcome]:
    """Count the capacitors from each plate to its own grid."""
    still = still_nets(case.circuit)
    for _, section in working(case.circuit):
        legs = _ladder(case.circuit, section, still)
        if 1 < len(legs) < LEGS.value:
            name = section.name
            yield oscillator_legs.finding(
                case,
                (name, *(b.name for b in legs)),
                f"{len(legs)} legs ({listed(b.name for b in legs)}) lead from the plate of {name} "
                "back to its grid: they never turn the phase by half a turn, and it does not "
                "oscillate",
                f"Put a third leg, a capacitor and a resistor to gnd like the others, before "
                f"{name}.grid",
                evidence={"legs": figure(float(len(legs)), "")},
                limit=LEGS.figure,
                certainty="certain",
                excess=LEGS.value / len(legs),
            )


def _ladder(circuit: Circuit, section: Section, still: frozenset[str]) -> list[Branch]:
    """The capacitors in series from a plate to its own grid, where nothing else drives that."""
    plate, grid = section.net("plate"), section.net("grid")
    if plate is None or grid is None or {plate, grid} & still:
        return []
    nets = coupled(circuit, [grid], still)
    brought = {name for name, _ in givers(circuit, nets)}
    if brought != {section.name} or any(b.traits.coil for n in nets for b in circuit.at(n)):
        return []
    graph: nx.Graph[str] = nx.Graph()
    for branch in circuit.branches.values():
        if branch.kind is PartKind.CAPACITOR and {branch.a, branch.b} <= {*nets, plate}:
            graph.add_edge(branch.a, branch.b, leg=branch)
    if not ({plate, grid} <= set(graph) and nx.has_path(graph, plate, grid)):
        return []
    return [graph.edges[pair]["leg"] for pair in pairwise(nx.shortest_path(graph, plate, grid))]


RULES: tuple[Rule, ...] = (gain_control_positive, oscillator_legs)
