"""A capacitor that discharges through a thyratron with nothing to limit the current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import amperes, listed
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

DISCHARGED_F = Threshold(
    "capacitance whose discharge a thyratron feels", 500e-12, "F",
    Citation("practice", "strays and what quietens the grid are below it"),
)  # fmt: skip


@rule(
    "tube.discharge-unlimited",
    title="Capacitor straight across a thyratron",
    level="notice",
    blame=Blame.LIKELY_SLIP,
    states="the drawing alone; switches in any position",
    needs="the wiring, and the capacitors' values",
    criterion=f"Capacitors of {engineering(DISCHARGED_F.value, 'F')} or more lead from the plate "
    "of a thyratron to its cathode through wire, fuses and switches alone.",
    why="When the tube strikes it drops to some 15 V at once, and the capacitor empties through it "
    "with amperes: nothing but the tube is in the way. The published peak current is some tenths "
    "of an ampere, and the cathode is stripped stroke by stroke.",
    source=(PRACTICE, Citation("rca-rc", "884: a resistor that limits the discharge")),
    limits="Any resistor, coil or lamp in the way is taken to be enough. Regulators and neon "
    "lamps are not looked at.",
    thresholds=(DISCHARGED_F,),
)
def discharge_unlimited(case: Case) -> Iterator[Outcome]:
    """Look for a way of capacitors around each thyratron."""
    for tube in case.circuit.tubes.values():
        for section in tube.sections:
            if section.kind is SectionKind.THYRATRON:
                found = _straight_across(case.circuit, section)
                if found:
                    yield _finding(case, tube, section, found)


def _straight_across(circuit: Circuit, section: Section) -> list[Branch]:
    """The capacitors on ways from plate to cathode on which nothing else lies."""
    plate, cathode = section.electrodes["plate"], section.cathode_nets[0]
    graph: nx.Graph[str] = nx.Graph()
    ways = [b for b in circuit.branches.values() if b.a != b.b and (_wire(b) or _large(b))]
    graph.add_edges_from((b.a, b.b) for b in ways)
    if plate == cathode or not {plate, cathode} <= set(graph):
        return []
    near = {plate, *_wired_to(circuit, plate)}
    return [b for b in ways if not _wire(b) and _from(b, near, graph, cathode)]


def _from(branch: Branch, near: set[str], graph: nx.Graph[str], cathode: str) -> bool:
    """Whether a capacitor leads from the plate's own net to where the cathode is."""
    far = {branch.a, branch.b} - near
    rest = graph.subgraph(set(graph) - near)
    return len(far) == 1 and nx.has_path(rest, next(iter(far)), cathode)


def _wired_to(circuit: Circuit, net: str) -> set[str]:
    graph: nx.Graph[str] = nx.Graph()
    graph.add_node(net)
    graph.add_edges_from((b.a, b.b) for b in circuit.branches.values() if _wire(b))
    return set(nx.node_connected_component(graph, net))


def _wire(branch: Branch) -> bool:
    return branch.kind is PartKind.FUSE or branch.traits.opens


def _large(branch: Branch) -> bool:
    farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return farads is not None and farads >= DISCHARGED_F.value


def _finding(case: Case, tube: Tube, section: Section, found: list[Branch]) -> Finding:
    peak = tube.type.rating("peak-plate-current")
    largest = max(b.farads or 0.0 for b in found)
    evidence: dict[str, Figure | str] = {"capacitance": figure(largest, "F")}
    rated = f"; type {tube.type.name} is rated {amperes(peak.value)} peak" if peak else ""
    names = listed(b.name for b in found)
    return discharge_unlimited.finding(
        case,
        (section.name, *(b.name for b in found)),
        f"{names} {'empties' if len(found) == 1 else 'empty'} through {section.name} with nothing "
        f"in the way{rated}",
        f"Put some hundred ohm between {section.name}.plate and {names}: the voltage at which it "
        "strikes over the peak current",
        evidence=evidence,
        limit=DISCHARGED_F.figure,
        certainty="certain",
        excess=largest / DISCHARGED_F.value,
    )


RULES: tuple[Rule, ...] = (discharge_unlimited,)
