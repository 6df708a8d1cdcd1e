"""Cans: loosely coupled coils, each tuned by a fixed capacitor or a trimmer across it."""

from __future__ import annotations

from math import inf, pi, sqrt
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tuning import adjustable
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Coil, CoilSet

LOOSE = Threshold(
    "coupling up to which two coils are tuned each for itself", 0.2, "",
    Citation("practice", "cans have some hundredths; closer coils have two resonances together"),
)  # fmt: skip
STRAY_F = Threshold(
    "capacitance of a coil, its tube and wiring", 20e-12, "F",
    Citation("practice", "5 to 10 pF each of coil, tube and wiring"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tuned:
    """A coil with what is across it: where it resonates, hertz, at least and at most.

    ``low`` counts strays and all else that hangs on its ends, ``high`` only what is across it, a
    trimmer fully open; ``hertz`` is that of the values as written.
    """

    coil: Coil
    across: tuple[Branch, ...]
    henry: float
    farad: float
    low: float
    high: float

    @property
    def hertz(self) -> float:
        """Where it resonates with the values as written."""
        return resonance(self.henry, self.farad)

    def apart(self, other: Tuned) -> float:
        """How many times the resonances are apart at least; below 1 where they may be one."""
        return max(self.low / other.high, other.low / self.high)


def resonance(henry: float, farad: float) -> float:
    """1 / (2 pi sqrt(L C)), hertz; infinite without capacitance."""
    return 1 / (2 * pi * sqrt(henry * farad)) if farad > 0 else inf


def cans(circuit: Circuit, still: Collection[str]) -> Iterator[tuple[CoilSet, list[Tuned]]]:
    """Each set of loosely coupled coils without iron, with those of its coils that are tuned."""
    for coil_set in circuit.coil_sets.values():
        loose = coil_set.coupling is None or coil_set.coupling <= LOOSE.value
        if loose and not coil_set.iron and len(coil_set.coils) > 1:
            found = (tuned(circuit, c, still) for c in coil_set.coils if not c.assumed)
            yield coil_set, [t for t in found if t is not None]


def tuned(circuit: Circuit, coil: Coil, still: Collection[str]) -> Tuned | None:
    """A coil's resonance, where its inductance and every capacitor across it are known."""
    henry, (one, *_, other) = si(coil.henries, "henry"), coil.nets
    across = [b for b in _capacitors(circuit, one) if b.other(one) == other]
    sizes = [b.farads for b in across]
    if not henry or not across or not all(sizes):
        return None
    written = sum(v or 0.0 for v in sizes)
    fixed = sum(b.farads or 0.0 for b in across if not adjustable(b))
    more = _series(_beside(circuit, one, other, still), _beside(circuit, other, one, still))
    most = written + more + STRAY_F.value
    return Tuned(
        coil, tuple(across), henry, written, resonance(henry, most), resonance(henry, fixed)
    )


def _capacitors(circuit: Circuit, net: str) -> list[Branch]:
    return [b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.a != b.b]


def _beside(circuit: Circuit, net: str, other: str, still: Collection[str]) -> float:
    """What capacitance an end of a coil has to anywhere else, farads; no end where held still."""
    if net in still or net in LANDMARKS:
        return inf
    elsewhere = (b for b in _capacitors(circuit, net) if b.other(net) != other)
    return sum(b.farads or 0.0 for b in elsewhere)


def _series(one: float, other: float) -> float:
    if inf in (one, other):
        return min(one, other) if min(one, other) < inf else 0.0
    return one * other / (one + other) if one and other else 0.0
