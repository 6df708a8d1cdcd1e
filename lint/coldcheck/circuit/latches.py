"""Two sections that hold each other: a bistable pair, of which one conducts and cuts the other off.

Each plate leads to the other's grid through resistors alone (W. H. Eccles and F. W. Jordan, 1919,
from memory). Between its two states such a pair has a balance, which equations have as an answer
and no pair keeps.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Section

Latch = tuple["Section", "Section"]


@once
def latches(circuit: Circuit) -> tuple[Latch, ...]:
    """The pairs, in drawing order; the first of each is the one that is solved cut off."""
    amplifying = [s for s in circuit.sections() if s.kind.amplifies and "plate" in s.electrodes]
    ahead = {s.name: _ahead(circuit, s.electrodes["plate"]) for s in amplifying}
    return tuple(
        (one, other)
        for one, other in combinations(amplifying, 2)
        if one.net("grid") in ahead[other.name] and other.net("grid") in ahead[one.name]
    )


def _ahead(circuit: Circuit, plate: str) -> frozenset[str]:
    """The nets behind one resistor of a plate, and behind a stopper after it."""
    near = _behind(circuit, plate)
    stoppers = {n for n in near if not circuit.electrodes_at(n) and len(circuit.at(n)) <= MEET}
    return near.union(*(_behind(circuit, n) for n in stoppers)) - {plate}


MEET = 4
"""Parts that meet behind the resistor from a plate: it, its capacitor, a leak and a stopper. At a
supply point, over which plates are no more than neighbours, more do."""


def _behind(circuit: Circuit, net: str) -> frozenset[str]:
    resistors = (b for b in circuit.at(net) if b.kind is PartKind.RESISTOR)
    return frozenset({b.other(net) for b in resistors}.difference(LANDMARKS))
