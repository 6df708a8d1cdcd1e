"""What each part measures with the power off and everything cold.

A heater is tungsten: cold it has between a quarter (one builder's measurement, found) and a
seventh (memory) of its hot resistance; a sixth is taken. A lamp's filament runs hotter and has a
tenth (memory). A speaker's coil has four fifths of its impedance (common practice). A coil whose
resistance the drawing leaves out is taken as the solver takes it, and may be off by a factor of
two. Bench supplies and generators count as unplugged, tubes and semiconductors as open.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.kinds import Ohms
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import (
    CHOKE_OHM_PER_HENRY,
    coil_ohms,
    output_ohms,
    plain,
    winding_ohms,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Branch, Circuit

HEATER = (1 / 7, 1 / 6, 1 / 4)
"""Cold over hot resistance of a heater: lowest, taken, highest (found 1/4, memory 1/7)."""

LAMP = (1 / 15, 1 / 10, 1 / 7)
SPEAKER = (0.65, 0.8, 1.0)
POT = 0.20
"""Tolerance of a potentiometer's track (common practice)."""

BARRETTER = (1 / 12, 1 / 8, 1 / 4)
"""Of iron in hydrogen, over its resistance at the low end of its range (memory: wide)."""
THERMISTOR = 0.25
PHOTOCELL = 0.5
"""Copies of photocells in the dark, and a dark that is not quite one (common practice)."""
ASSUMED = (0.5, 1.0, 2.0)
"""A coil's resistance that the drawing does not give."""


@dataclass(frozen=True, slots=True)
class Cold:
    """A branch's resistance cold, ohms; ``assumed`` where the drawing does not give it."""

    low: float
    nominal: float
    high: float
    assumed: bool = False


def cold_ohms(
    circuit: Circuit, branch: Branch, pots: Mapping[str, float] | None = None
) -> Cold | None:
    """What a conducting branch measures cold; ``None`` where its value is unknown.

    ``pots`` maps a potentiometer's name to another position than the drawn one, as the share of
    its track below the wiper. Raises KeyError for a kind that does not conduct.
    """
    match branch.traits.ohms:
        case Ohms.NIL if branch.traits.metal:
            return Cold(0.0, 0.0, 0.0)
        case Ohms.COIL:
            return _coil(circuit, branch)
        case Ohms.STEADY | Ohms.WARMS:
            if branch.kind is PartKind.POT and pots and branch.owner in pots:
                return _turned(circuit, branch, pots[branch.owner])
            return _resistive(circuit, branch)
        case Ohms.NIL | Ohms.ABSENT:
            raise KeyError(branch.kind)
        case _ as ohms:
            assert_never(ohms)


def _resistive(circuit: Circuit, branch: Branch) -> Cold | None:
    ohms = _ohms(branch)
    if ohms is None:
        return None
    shares = _shares(branch.kind)
    if shares is not None:
        low, taken, high = shares
        return Cold(ohms * low, ohms * taken, ohms * high)
    return _within(ohms, _tolerance(circuit, branch))


def _shares(kind: PartKind) -> tuple[float, float, float] | None:
    """Cold over hot resistance; ``None`` where the value is that of the cold part."""
    match kind:
        case PartKind.HEATER:
            return HEATER
        case PartKind.LAMP:
            return LAMP
        case PartKind.SPEAKER:
            return SPEAKER
        case PartKind.BARRETTER:
            return BARRETTER
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE
            | PartKind.LED | PartKind.ZENER | PartKind.FUSE | PartKind.SWITCH
            | PartKind.THERMISTOR | PartKind.PHOTOCELL | PartKind.JACK | PartKind.SOURCE
            | PartKind.WINDING
            | PartKind.POT | PartKind.CONTACT | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.RELAY | PartKind.METER
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def _ohms(branch: Branch) -> float | None:
    part = branch.part
    if branch.kind is PartKind.LAMP and part is not None and part.voltage and part.current:
        return plain(part.voltage, "volt", 0.0) / plain(part.current, "ampere", 1.0)
    for value in (branch.value, branch.resistance):
        if value is not None and value.is_compatible_with("ohm"):
            return magnitude(value, "ohm")
    return None


def _tolerance(circuit: Circuit, branch: Branch) -> float:
    stated = branch.part.tolerance if branch.part else None
    if stated is not None:
        return stated
    if branch.kind is PartKind.POT:
        return POT
    if branch.kind is PartKind.PHOTOCELL:
        return PHOTOCELL
    return THERMISTOR if branch.kind is PartKind.THERMISTOR else circuit.usual.resistor


def _within(ohms: float, tolerance: float) -> Cold:
    return Cold(ohms * (1 - tolerance), ohms, ohms * (1 + tolerance))


def _coil(circuit: Circuit, branch: Branch) -> Cold:
    if branch.resistance is not None:
        return _within(magnitude(branch.resistance, "ohm"), circuit.usual.winding_resistance)
    low, ohms, high = (share * _assumed_coil(circuit, branch) for share in ASSUMED)
    return Cold(low, ohms, high, assumed=True)


def _assumed_coil(circuit: Circuit, branch: Branch) -> float:
    """What the solver takes for a coil whose resistance is not written, ohms."""
    if branch.kind is PartKind.INDUCTOR:
        return CHOKE_OHM_PER_HENRY * plain(branch.value, "henry", 0.0)
    for transformer in circuit.transformers.values():
        if any(branch in w.branches for w in transformer.windings):
            return winding_ohms(branch, transformer)
    for coil in circuit.coils():
        if (ohms := coil_ohms(coil).get(branch.name)) is not None:
            return ohms
    return output_ohms(circuit.outputs[branch.owner])[branch.name]


def _turned(circuit: Circuit, branch: Branch, below: float) -> Cold | None:
    """One side of a potentiometer with its wiper elsewhere."""
    sides = [
        b for b in circuit.branches.values() if b.owner == branch.owner and b.kind is PartKind.POT
    ]
    values = [_ohms(b) for b in sides]
    whole = sum(v for v in values if v is not None)
    if None in values:
        return None
    share = below if branch.name.endswith("bottom") else 1 - below
    return _within(whole * share, POT)
