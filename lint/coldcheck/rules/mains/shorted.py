"""The line joined to neutral or earth by nothing but wire."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.roads import road, roads, switch_positions
from coldcheck.circuit.throws import thrown_text
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome

PAIRS = (("line", "neutral"), ("line", "earth"))

Way = tuple[str, ...]


@rule(
    "mains.shorted",
    title="Mains conductors joined by wire",
    level="danger",
    states="the drawing alone; every switch as drawn and thrown",
    needs="`line`, and `neutral` or `earth`, in the drawing",
    criterion=(
        "Wires, closed contacts, fuses or diodes alone lead from `line` to `neutral` or to "
        "`earth`. A warning where a fuse is on the way."
    ),
    why=(
        "Nothing but the house's own wiring limits the current: hundreds of amperes, molten "
        "metal at the switch or in the plug. A glass fuse may burst under it."
    ),
    source=(
        Citation("arithmetic", "Kirchhoff's voltage law"),
        Citation("iec-60127", "breaking capacity of glass fuses, 35 A or ten times the rating"),
    ),
    limits=(
        "One switch is thrown at a time. A short through a part with a resistance is judged by "
        "that part's ratings, and neutral joined to earth by mains.live-chassis or "
        "mains.live-common."
    ),
)
def shorted(case: Case) -> Iterator[Outcome]:
    """Look for a road from the line to the two others."""
    circuit = case.circuit
    for one, other in PAIRS:
        if {one, other} <= circuit.points.keys():
            found = _first_way(circuit, one, other)
            if found is not None:
                yield _shorted(case, one, other, *found)


def _first_way(circuit: Circuit, one: str, other: str) -> tuple[Way, Way] | None:
    """The switches thrown, and the parts that join two conductors in that position."""
    a, b = circuit.points[one], circuit.points[other]
    for thrown in switch_positions(circuit):
        graph = roads(circuit, thrown)
        for start, end in ((a, b), (b, a)):
            way = road(graph, start, end)
            if way is not None:
                return tuple(sorted(thrown)), way if start == a else way[::-1]
    return None


def _shorted(case: Case, one: str, other: str, thrown: Way, way: Way) -> Finding:
    fuses = [n for n in way if case.circuit.branches[n].kind is PartKind.FUSE]
    through = listed(way) or "plain wire"
    when = f"with {thrown_text(thrown)}, " if thrown else ""
    owners = tuple(dict.fromkeys(case.circuit.branches[n].owner for n in way))
    return shorted.finding(
        case,
        (*owners, one, other),
        f"{when}{one} is joined to {other} by {through} and nothing else",
        _remedy(one, other),
        state=thrown_text(thrown) if thrown else "drawing",
        level="warning" if fuses else "danger",
        evidence={"through": through, "fuse": listed(fuses) or "none"},
        certainty="certain",
    )


def _remedy(one: str, other: str) -> str:
    return (
        f"Do not plug it in. Take away what joins {one} to {other}: between them belongs the "
        "primary, behind fuse and switch, and nothing beside it but a class X capacitor"
    )


RULES = (shorted,)
