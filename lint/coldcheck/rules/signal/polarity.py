"""Detectors and oscillators whose phase is another than they need."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.detectors import diodes
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
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
    from coldcheck.circuit.model import Branch, Circuit, Coil, Section, Winding
    from coldcheck.judge.finding import Finding, Outcome
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
    for diode in diodes(case.circuit):
        name = diode.name
        fed = _held_grids(case.circuit, diode.cathode) if diode.plate in LANDMARKS else []
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
        "The plate or cathode of a stage is on one winding of a transformer or coil and its grid "
        "on another, each with its other end held still; nothing else drives the grid; and the "
        "winding brings the grid what the plate does in the same sense, or, through a capacitor, "
        "what the cathode does in the other."
    ),
    why=(
        "The plate does the opposite of the grid, the cathode the same. To keep going, a feedback "
        "winding has to turn the first round once more, and the second not. Otherwise the feedback "
        "takes away from itself, and nothing oscillates."
    ),
    source=(Citation("arithmetic", "the dots of the windings"), PRACTICE),
    limits="Tapped coils are not looked at, nor a grid whose coil in the cathode's sense is on it "
    "without a capacitor: that is no oscillator's.",
)
def oscillator_in_phase(case: Case) -> Iterator[Outcome]:
    """Look at each stage whose grid is on one transformer with its plate or cathode."""
    circuit, still = case.circuit, still_nets(case.circuit)
    ends = list(_ends(circuit, still))
    for _, section in working(circuit):
        for grid in _grid_ends(circuit, section, ends, still):
            for feeding in (e for e in ends if grid.same_core(e)):
                if _takes_away(section, grid, feeding):
                    yield _opposed(case, section, grid, feeding)


def _takes_away(section: Section, grid: _End, feeding: _End) -> bool:
    """Whether a winding at plate or cathode works against the grid's."""
    if feeding.net == section.net("plate"):
        return feeding.sense == grid.sense
    coupled_in = grid.net != section.net("grid")
    return feeding.net in section.cathode_nets and coupled_in and feeding.sense != grid.sense


def _opposed(case: Case, section: Section, grid: _End, feeding: _End) -> Finding:
    plate = feeding.net == section.net("plate")
    name, own = section.name, grid.winding.name
    turned = own if plate else feeding.winding.name
    sense = "the same" if plate else "the other"
    return oscillator_in_phase.finding(
        case,
        (turned, name, own.partition(".")[0]),
        f"{own} brings the grid of {name} what its {'plate' if plate else 'cathode'} does on "
        f"{feeding.winding.name} in {sense} sense: it takes away from itself, and nothing "
        "oscillates",
        f"Exchange {turned}.1 and {turned}.2",
        evidence={"plate_on" if plate else "cathode_on": feeding.winding.name},
        certainty="certain",
    )


@dataclass(frozen=True, slots=True)
class _End:
    """The end of a winding that moves; ``sense`` is 1 at the dot and -1 at the other end."""

    winding: Winding | Coil
    net: str
    sense: int

    def same_core(self, other: _End) -> bool:
        """Whether another end is of another winding of the same transformer."""
        core = self.winding.name.partition(".")[0]
        return other.winding.name.partition(".")[0] == core and other.winding is not self.winding


def _ends(circuit: Circuit, still: frozenset[str]) -> Iterator[_End]:
    """The moving ends of windings that have two leads and one of them held still."""
    every: list[Winding | Coil] = [*circuit.windings(), *circuit.coils()]
    for winding in every:
        if len(winding.leads) != 2:
            continue
        moving = [(lead, net) for lead, net in winding.leads if net not in still]
        if len(moving) == 1:
            lead, net = moving[0]
            yield _End(winding, net, 1 if lead == winding.dot else -1)


def _grid_ends(
    circuit: Circuit, section: Section, ends: list[_End], still: frozenset[str]
) -> list[_End]:
    """The windings that alone drive a section's grid; a leak to its own cathode drives nothing."""
    grid = section.net("grid")
    if grid is None or grid in still:
        return []
    nets = coupled(circuit, [grid], {*still, *section.cathode_nets})
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
