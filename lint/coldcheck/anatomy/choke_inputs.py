"""Chokes that come straight after a rectifier, and the load that keeps their current flowing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import FILTER_F, rectified
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit

USUAL_HZ = 60.0
"""Where no mains are drawn."""


@once
def input_chokes(circuit: Circuit) -> tuple[Branch, ...]:
    """Chokes with a rectifier at one end and no capacitor of a microfarad or more there."""
    return tuple(
        b
        for b in circuit.branches.values()
        if b.kind is PartKind.INDUCTOR and any(is_input(circuit, n) for n in (b.a, b.b))
    )


def is_input(circuit: Circuit, net: str) -> bool:
    """Whether a rectifier gives its output on a net without a large capacitor."""
    large = any(
        b.kind is PartKind.CAPACITOR and (b.farads or FILTER_F.value) >= FILTER_F.value
        for b in circuit.at(net)
    )
    return rectified(circuit, net) and not large


def critical_ohms(circuit: Circuit, henries: float) -> float:
    """The largest load with which a choke never runs dry, R = 6 pi f L for full wave (ohms)."""
    hertz = si(circuit.mains.frequency, "hertz") if circuit.mains else None
    return 6 * math.pi * (hertz or USUAL_HZ) * henries


def bleeders(circuit: Circuit, choke: Branch) -> list[tuple[str, float]]:
    """The resistors to gnd on the supply points behind a choke, with their ohms."""
    behind = set(reach(circuit, [choke.a, choke.b], LANDMARKS)) - set(LANDMARKS)
    rails = [n for n in sorted(behind) if any(b.plus == n for b in circuit.at(n))]
    across = [b for n in rails for b in circuit.at(n)
              if b.kind is PartKind.RESISTOR and b.other(n) == GROUND]  # fmt: skip
    return [(b.name, v) for b in across if (v := b.ohms)]
