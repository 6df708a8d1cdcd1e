"""Detectors and oscillators whose phase is another than they need."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

LEGS = Threshold(
    "legs of a phase-shift oscillator", 3.0, "", Citation("arithmetic", "180 over less than 90")
)


@rule(
    "signal.gain-control-positive",
    title="Detector that makes a positive gain control voltage",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the detector",
    criterion=(
        "A diode has its plate on gnd or another landmark and its cathode on a coil, or on a "
        "capacitor that brings the signal, and the grid of an amplifying stage gets its direct "
        "voltage through resistors from there."
    ),
    why=(
        "A carrier drives current out of the diode's cathode into the coil: the load behind it "
        "goes positive. Automatic gain control wants it negative, so that a strong station is "
        "amplified less. Positive, it amplifies more, and the grids draw current."
    ),
    source=(PRACTICE, Citation("arithmetic", "the way a diode conducts")),
    limits="Diodes in series with the signal, and amplified gain control, are not looked at.",
)
def gain_control_positive(case: Case) -> Iterator[Outcome]:
    """Follow the direct voltage of each detector to the grids it holds."""
    for name, plate, cathode in _diodes(case.circuit):
        fed = _held_grids(case.circuit, cathode) if plate in LANDMARKS else []
        if fed:
            yield gain_control_positive.finding(
                case,
                (name, *fed),
                f"{name} makes its load positive with a carrier, and the grid of {listed(fed)} "
                "hangs on it: the gain control works the wrong way round",
                f"Turn {name} round: its plate on the signal, its cathode on gnd",
                evidence={"grids": listed(fed)},
                certainty="certain",
            )


def _diodes(circuit: Circuit) -> Iterator[tuple[str, str, str]]:
    """Diodes of tubes and others: name, plate and cathode."""
    for section in circuit.sections():
        if section.kind is SectionKind.DIODE:
            yield from ((section.name, section.electrodes[p], section.cathode_nets[0])
                        for p in section.plates)  # fmt: skip
    for branch in circuit.branches.values():
        if branch.kind is PartKind.DIODE:
            yield branch.name, branch.a, branch.b


def _held_grids(circuit: Circuit, cathode: str) -> list[str]:
    """The amplifying sections whose grids get their direct voltage from what a diode charges.

    That is what lies behind a coil at its cathode, or the cathode's own point where a capacitor
    brings the signal; a grid on that very point is held there on purpose.
    """
    if cathode in LANDMARKS:
        return []
    near = [(b, b.other(cathode)) for b in circuit.at(cathode)]
    behind = {n for b, n in near if b.kind is PartKind.INDUCTOR} - set(LANDMARKS)
    brought = any(b.kind is PartKind.CAPACITOR and n not in LANDMARKS for b, n in near)
    start = list(behind) or ([cathode] if brought else [])
    nets = set(reach(circuit, start, LANDMARKS)) - {*LANDMARKS, cathode}
    return [s.name for _, s in working(circuit) if s.kind.amplifies and s.net("grid") in nets]


@rule(
    "signal.oscillator-in-phase",
    title="Feedback winding of an oscillator the wrong way round",
    level="notice",
    states="the drawing alone",
    needs="the dots of both windings (at lead 1 where none is written)",
    criterion=(
        "The plate of a stage is on one winding of a transformer and its grid on another, each "
        "with its other end held still; nothing else drives the grid; and the winding brings the "
        "grid what the plate does in the same sense."
    ),
    why=(
        "The plate does the opposite of the grid. To keep going, a feedback winding has to turn "
        "that round once more. In the same sense the feedback takes away from itself, and nothing "
        "oscillates."
    ),
    source=(Citation("arithmetic", "the dots of the windings"), PRACTICE),
    limits="Tapped coils, and feedback into the cathode, are not looked at.",
)
def oscillator_in_phase(case: Case) -> Iterator[Outcome]:
    """Look at each stage whose plate and grid are on one transformer."""
    circuit, still = case.circuit, still_nets(case.circuit)
    ends = list(_ends(circuit, still))
    for _, section in working(circuit):
        for grid in _grid_ends(circuit, section, ends, still):
            plates = [e for e in ends if e.net == section.net("plate") and grid.same_core(e)]
            for plate in (p for p in plates if p.sense == grid.sense):
                one, other = (f"{grid.winding.name}.{n}" for n in ("1", "2"))
                yield oscillator_in_phase.finding(
                    case,
                    (grid.winding.name, section.name, grid.winding.name.partition(".")[0]),
                    f"{grid.winding.name} brings the grid of {section.name} what its plate does "
                    f"on {plate.winding.name} in the same sense: it takes away from itself, and "
                    "nothing oscillates",
                    f"Exchange {one} and {other}",
                    evidence={"plate_on": plate.winding.name},
                    certainty="certain",
                )


@dataclass(frozen=True, slots=True)
class _End:
    """The end of a winding that moves; ``sense`` is 1 at the dot and -1 at the other end."""

    winding: Winding
    net: str
    sense: int

    def same_core(self, other: _End) -> bool:
        """Whether another end is of another winding of the same transformer."""
        core = self.winding.name.partition(".")[0]
        return other.winding.name.partition(".")[0] == core and other.winding is not self.winding


def _ends(circuit: Circuit, still: frozenset[str]) -> Iterator[_End]:
    """The moving ends of windings that have two leads and one of them held still."""
    for winding in circuit.windings():
        if len(winding.leads) != 2:
            continue
        moving = [(lead, net) for lead, net in winding.leads if net not in still]
        if len(moving) == 1:
            lead, net = moving[0]
            yield _End(winding, net, 1 if lead == winding.dot else -1)


def _grid_ends(
    circuit: Circuit, section: Section, ends: list[_End], still: frozenset[str]
) -> list[_End]:
    """The windings that alone drive a section's grid."""
    grid = section.net("grid")
    if grid is None or grid in still:
        return []
    nets = coupled(circuit, [grid], still)
    brought = {name.partition("(")[0] for name, _ in givers(circuit, nets)}
    found = [e for e in ends if e.net in nets]
    return found if brought <= {e.winding.name for e in found} else []


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


RULES: tuple[Rule, ...] = (gain_control_positive, oscillator_in_phase, oscillator_legs)
