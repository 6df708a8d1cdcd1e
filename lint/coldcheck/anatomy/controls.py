"""A circuit with its controls turned, and with what a filament or thermistor is before it warms."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.cycle.network import THERMISTOR_HOT, branch_ohms
from coldcheck.solve.solution import State
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.circuit.model import Branch, Circuit

COLD = Threshold(
    "resistance of a cold filament over that at its rating", 0.1, "",
    Citation("practice", "tungsten: a tenth or so"),
)  # fmt: skip
END_OHM = 1.0
"""What a wiper leaves at the end of its track."""


def pots_on(circuit: Circuit, nets: Collection[str]) -> tuple[str, ...]:
    """The pots without taps that have a part of their track on one of the nets."""
    owners = dict.fromkeys(
        b.owner for n in nets for b in circuit.at(n) if b.kind is PartKind.POT and b.value
    )
    return tuple(p for p in owners if all(len(h) == 1 for h in halves(circuit, p)))


def ends_of(circuit: Circuit, pot: str) -> Iterator[Circuit]:
    """The circuit with a pot at its bottom, then at its top."""
    (above,), (below,) = halves(circuit, pot)
    track = sum(b.ohms or 0.0 for b in (above, below))
    for up, down in ((track, END_OHM), (END_OHM, track)):
        yield _with(circuit, replace(above, value=quantity(up, "ohm")),
                    replace(below, value=quantity(down, "ohm")))  # fmt: skip


def unwarmed(circuit: Circuit, nets: Collection[str]) -> Circuit:
    """The circuit with the lamps and thermistors on the nets as cold as before the first swing."""
    kinds = (PartKind.LAMP, PartKind.THERMISTOR)
    near = {b.name: b for n in nets for b in circuit.at(n) if b.kind in kinds and not b.glows}
    return _with(circuit, *(_cold(b) for b in near.values())) if near else circuit


def _cold(branch: Branch) -> Branch:
    ohms = branch_ohms(branch, State("warm", "warm"))
    share = COLD.value if branch.kind is PartKind.LAMP else 1 / THERMISTOR_HOT
    return replace(branch, kind=PartKind.RESISTOR, value=quantity(share * ohms, "ohm"))


def _with(circuit: Circuit, *branches: Branch) -> Circuit:
    return replace(circuit, branches={**circuit.branches, **{b.name: b for b in branches}})
