"""A grid that stands far above its own cathode while that cathode is still cold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.neighbourhood import metal
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import CONTROL
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.solution import COLD, WARMING
from coldcheck.solve.warmup import SILICON_FIRST, emits, grid_volts
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, State

COLD_GRID_V = Threshold(
    "grid above its cold cathode",
    50.0,
    "V",
    Citation("practice", "small coupled stages live with less; no sheet has a limit"),
)
"""Small coupled stages with low supplies live with less (common practice; no sheet has a limit)."""

STOPPER_OHMS = Threshold("grid resistor that keeps an arc from living", 10e3, "ohm", PRACTICE)
"""From here up a resistor in series with the grid keeps an arc from living (common practice)."""


@dataclass(frozen=True, slots=True)
class _Stand:
    """A section's grid in a state in which its own cathode is cold."""

    section: Section
    solution: Solution
    volts: float


@rule(
    "grid.positive-while-cold",
    title="Grid at the supply while its cathode is cold",
    level="notice",
    states="cold and warming, for tubes whose own cathode does not emit yet",
    needs="the heater drawn, and a solved cold state",
    criterion=f"The grid stands more than {COLD_GRID_V.value:g} V above its own cold cathode, "
    "with less "
    f"than {STOPPER_OHMS.value / 1e3:g} kohm between it and the electrode, rectifier or source "
    "that "
    "holds it there. Advice where it is so only if one indirectly heated tube is hot before "
    f"another, and where a plate with {STOPPER_OHMS.value / 1e3:g} kohm or more to its supply is "
    "all "
    "that holds it. A diode from grid to cathode holds the grid down and is worked out like any "
    "part.",
    why="A grid joined straight to the plate of the stage before it follows that plate to the full "
    "supply until the first tube draws. Its own cathode is still at gnd: the two are a fraction "
    "of a millimetre apart, and what arcs over there strips the cathode. When the cathode warms "
    "up, the grid draws current until the stage before it has come to life.",
    source=Citation("web-direct-coupled", "no limit in the data sheets"),
    limits=(
        "The order of warming up is not certain: rectifier, small and output tubes are tried "
        "in different orders, not with their real heating times. A stopper or diode that "
        "limits the current counts as drawn."
    ),
    thresholds=(COLD_GRID_V, STOPPER_OHMS),
)
def positive_while_cold(case: Case) -> Iterator[Outcome]:
    """Look at grid to cathode in the states before the tubes draw."""
    sections = [(t, s) for t, s in working(case.circuit) if s.net("grid") is not None]
    reason = unsolved_reason(case)
    if reason is not None:
        if sections:
            yield positive_while_cold.not_judged(tuple(s.name for _, s in sections), reason)
        return
    graph = metal(case.circuit)
    for tube, section in sections:
        stands = [_Stand(section, s, v) for s, v in _cold_states(case, tube, section)]
        if not stands or (hard := _hard(case.circuit, graph, section)) is None:
            continue
        if tube.heater is None and not tube.directly_heated:
            text = "its heater is not drawn, so it is taken as hot before the supply comes up"
            yield positive_while_cold.not_judged((section.name,), text)
            continue
        soft = _behind_a_load(case.circuit, graph, section)
        for stand in stands:
            yield _positive(case, stand, hard, soft=soft)


def _cold_states(case: Case, tube: Tube, section: Section) -> Iterator[tuple[Solution, float]]:
    for solution in case.solved(COLD, WARMING):
        if emits(tube, solution.state):
            continue
        found = grid_volts(solution, section)
        if found is not None and found > COLD_GRID_V.value:
            yield solution, found


def _hard(circuit: Circuit, graph: nx.Graph[str], section: Section) -> str | None:
    """What holds the grid through less than a stopper, by name; ``None`` where nothing does."""
    net = section.electrodes["grid"]
    if net not in graph:
        return None
    near = nx.single_source_dijkstra_path_length(graph, net, cutoff=0.999 * STOPPER_OHMS.value)
    for found in sorted(near, key=lambda n: near[n]):
        holders = _holders(circuit, found, section) if found != GROUND else []
        if holders:
            return listed(holders)
    return None


def _holders(circuit: Circuit, net: str, section: Section) -> list[str]:
    """Electrodes of other sections, sources and rectifiers on a net."""
    names = [
        f"{s.name}.{e}"
        for s, e in circuit.electrodes_at(net)
        if e not in CONTROL and s.name != section.name
    ]
    fed = [
        b
        for b in circuit.at(net)
        if b.kind is PartKind.SOURCE or (b.kind is PartKind.DIODE and b.b == net)
    ]
    return names + [b.name for b in fed]


def _behind_a_load(circuit: Circuit, graph: nx.Graph[str], section: Section) -> bool:
    """Whether a plate's load is all that lifts the grid: it feeds an arc no more than milliamperes.

    Followers and pass tubes straight on the plate before them are built so everywhere.
    """
    net = section.electrodes["grid"]
    near = nx.single_source_dijkstra_path_length(graph, net, cutoff=0.999 * STOPPER_OHMS.value)
    names = {e for n in near for _, e in circuit.electrodes_at(n) if e not in CONTROL}
    fed = any(
        b.kind in (PartKind.SOURCE, PartKind.DIODE)
        for n in near
        if n != GROUND
        for b in circuit.at(n)
    )
    return not fed and names <= {"plate"}


def _first(state: State) -> str:
    return state.name.removeprefix(f"{WARMING}: ").removesuffix(" first")


def _positive(case: Case, stand: _Stand, hard: str, *, soft: bool) -> Finding:
    section, state = stand.section, stand.solution.state
    cathode = stand.solution.wave(section.cathode_nets[0])
    unsure = state.kind == WARMING and state.name != SILICON_FIRST
    hedge = f", should the {_first(state)} be hot first" if unsure else ""
    return positive_while_cold.finding(
        case,
        (section.name,),
        f"{section.name}: its grid is {volts(stand.volts)} above its cold cathode, straight "
        f"from {hard}{hedge}",
        f"Put a diode from {section.name}.grid to {section.name}.cathode (it conducts while the "
        "grid is above), or a resistor of 10 kohm or more in series with the grid, at the socket",
        state=state.name,
        level="advice" if unsure or soft else None,
        evidence={
            "grid_cathode": figure(stand.volts, "V"),
            "cathode": figure(0.0 if cathode is None else cathode.dc, "V"),
        },
        limit=COLD_GRID_V.figure,
        certainty="possible" if unsure else "likely",
        excess=stand.volts / COLD_GRID_V.value,
    )


RULES = (positive_while_cold,)
