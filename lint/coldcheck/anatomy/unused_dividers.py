"""Divided voltages, held by a capacitor, that nothing uses: something was meant to hang on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import is_own, resistors_at
from coldcheck.anatomy.supplies import held_up
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit

DIVIDES_OHM = Threshold(
    "resistor from a supply that divides it and feeds nothing", 47e3, "ohm",
    Citation("practice", "feeds of stages have less, lifts and bias for grids 100 kohm and more"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class UnusedDivider:
    """A point named ``name``, the resistors from a supply and to gnd, and what holds it."""

    name: str
    upper: Branch
    lower: Branch
    held: Branch


def unused_dividers(circuit: Circuit) -> Iterator[UnusedDivider]:
    """Every point with a name of its own on which two resistors and a capacitor meet, no more."""
    for net, names in circuit.names.items():
        own = next((n for n in names if is_own(n)), None)
        if own is None or net in LANDMARKS or len(names) > 1 or circuit.electrodes_at(net):
            continue
        near, resistors = circuit.at(net), resistors_at(circuit, net)
        upper = [b for b in resistors if b.other(net) not in LANDMARKS]
        lower = [b for b in resistors if b.other(net) == GROUND]
        held = [b for b in near if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND]
        divides = upper and lower and (si(upper[0].value, "ohm") or 0.0) > DIVIDES_OHM.value
        if len(near) == 3 and divides and held and held_up(circuit, upper[0].other(net)):
            yield UnusedDivider(own, upper[0], lower[0], held[0])
