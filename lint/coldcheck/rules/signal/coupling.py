"""Where a stage's output is taken: not from the supply its plate is tied to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy import output_stage
from coldcheck.anatomy.neighbourhood import metal, net_text, reading
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred
from coldcheck.circuit.tubes import Sourced
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.judge.finding import Finding, Outcome

NO_LOAD_OHM = Threshold("resistor between plate and supply that is no load", 470.0, "ohm", PRACTICE)
"""What may stand between plate and supply point without being a load: a stopper."""

LOAD_OVER_RP = 2.0
USUAL_LOAD = 100e3


@rule(
    "signal.no-plate-load",
    title="Output taken from a plate that is tied to the supply",
    level="notice",
    states="the drawing alone",
    needs="the wiring; the filter capacitor or source on the supply point",
    criterion="A plate is within 470 ohm of a supply point (a source or 1 uF or more to gnd on "
    "it), a capacitor leads from there to a grid or an output, and the cathode leads nowhere but "
    "to gnd, so that the stage is no follower.",
    why="The supply point holds still whatever the grid does, so nothing comes out; and without a "
    "load the tube draws whatever the supply gives it.",
    source=Citation(
        "arithmetic", "gain is the load over the load and the plate resistance, and the load is 0"
    ),
    limits="A stage without an output drawn is left alone. A cathode with parts that lead anywhere "
    "but gnd counts as an output.",
    thresholds=(NO_LOAD_OHM, output_stage.STIFF_FARAD),
)
def no_plate_load(case: Case) -> Iterator[Outcome]:
    """Each plate that is on a supply point."""
    stiff, graph = stiff_nets(case.circuit), metal(case.circuit).copy()
    coils = [
        (a, b) for a, b in graph.edges if graph.edges[a, b]["branch"].kind is PartKind.INDUCTOR
    ]
    graph.remove_edges_from(coils)  # a choke is a load, however little its wire resists
    for tube, section in working(case.circuit):
        plate = section.net("plate")
        if plate is None or plate not in graph or not cathode_still(case.circuit, section):
            continue
        near = set(nx.single_source_dijkstra_path_length(graph, plate, cutoff=NO_LOAD_OHM.value))
        points = sorted((near & stiff) - {GROUND})
        taken = list(_couplings(case.circuit, near - {GROUND}, stiff))
        if points and taken:
            yield _finding(case, (tube, section), points[0], taken)


def cathode_still(circuit: Circuit, section: Section) -> bool:
    """Whether the cathode leads to gnd only, and is nobody else's."""
    for net in section.cathode_nets:
        others = [s for s, _ in circuit.electrodes_at(net) if s.name != section.name]
        if net == GROUND:
            continue
        if others or any(b.other(net) != GROUND for b in circuit.at(net)):
            return False
    return True


def _couplings(circuit: Circuit, nets: set[str], stiff: frozenset[str]) -> Iterator[Branch]:
    """Capacitors from these nets to where a signal is used."""
    for net in nets:
        for branch in circuit.at(net):
            far = branch.other(net)
            if branch.kind is PartKind.CAPACITOR and far not in nets | stiff | {GROUND}:
                reached = set(reach(circuit, [far], (GROUND, *nets))) - {GROUND} - nets
                if any(_used(circuit, n) for n in reached):
                    yield branch


def _used(circuit: Circuit, net: str) -> bool:
    grids = any(e in SIGNAL_GRIDS for _, e in circuit.electrodes_at(net))
    return grids or any(named_out(n) for n in circuit.names.get(net, ()))


def _finding(case: Case, at: tuple[Tube, Section], point: str, taken: list[Branch]) -> Finding:
    tube, section = at
    name, where = section.name, net_text(case.circuit, point)
    parts = tuple(dict.fromkeys(b.name for b in taken))
    load = _usual_load(tube, section)
    warm = case.solutions.get("warm")
    found = reading(warm, section) if warm is not None and warm.converged else None
    drawn = f", and the tube draws {amperes(found.plate_ma / 1e3)}" if found is not None else ""
    return no_plate_load.finding(
        case,
        (name, *parts),
        f"{name}: its plate is on {where} with no load between, and {listed(parts)} "
        f"{'takes' if len(parts) == 1 else 'take'} the output from there: nothing comes out"
        f"{drawn}",
        f"Put a load between {where} and {name}.plate, for instance {ohms(load)}, and "
        f"{listed(parts)} on the plate's side of it",
        evidence={"supply_point": where, "gain": figure(0.0, "")},
        certainty="certain",
    )


def _usual_load(tube: Tube, section: Section) -> float:
    """Twice the plate resistance of the first published point (common practice), ohms."""
    points = (p.get("plate-resistance") for p in tube.type.points_of(section.type.name))
    found = next((p.value for p in points if isinstance(p, Sourced)), None)
    return preferred(LOAD_OVER_RP * found) if found else USUAL_LOAD


RULES: tuple[Rule, ...] = (no_plate_load,)
