"""What is taken where a drawing does not say: how far the mains, parts and tubes may be off."""

from __future__ import annotations

from coldcheck.records import dataclass


@dataclass(frozen=True, slots=True)
class Usual:
    """Usual deviations as fractions, for whatever states none itself.

    Parts from common practice: 10 % mains, resistors and winding resistances, 3 % winding
    voltages, 1 % bench supplies, 5 % zeners. ``tube`` is the spread of a tube's current at given
    voltages, ``rectifier`` that of a rectifier's, ``gas_tube`` that of the voltage a gas tube
    holds (common practice: tens of percent; from memory).
    """

    mains: float = 0.10
    resistor: float = 0.10
    winding_resistance: float = 0.10
    winding_voltage: float = 0.03
    source: float = 0.01
    zener: float = 0.05
    tube: float = 0.20
    rectifier: float = 0.15
    gas_tube: float = 0.03


USUAL = Usual()
