"""Thyristors and triacs by their types: what they stand, and what fires them.

The C106 series: 200 to 600 V, 4 A rms, gate at most 0.2 A and 6 V backwards (makers' sheets, read);
fired by 0.2 mA (from memory). BT136 (triac, 600 V, 4 A rms, fired by 35 mA, gate at most 2 A) and
BT151 (500 V, 12 A rms, fired by 15 mA, gate at most 2 A, 5 V backwards) from memory.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.problems import UNKNOWN_TYPE
from coldcheck.drawing.units import quantity
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.problems import ProblemLog
    from coldcheck.drawing.model import Part

TRIAC = "triac"


@dataclass(frozen=True, slots=True)
class Rated:
    """What a type stands: volts either way, rms amperes, gate amperes and reverse gate volts.

    ``fires`` are the gate amperes that fire every copy.
    """

    volts: float
    amps: float
    fires: float
    gate_amps: float
    gate_volts: float | None
    triac: bool = False


TYPES: Mapping[str, Rated] = MappingProxyType({
    "C106B": Rated(200, 4, 0.2e-3, 0.2, 6.0), "C106D": Rated(400, 4, 0.2e-3, 0.2, 6.0),
    "C106M": Rated(600, 4, 0.2e-3, 0.2, 6.0), "BT151": Rated(500, 12, 15e-3, 2.0, 5.0),
    "BT136": Rated(600, 4, 35e-3, 2.0, None, triac=True),
})  # fmt: skip
USUAL_FIRES = 30e-3
"""Gate amperes that fire one of which nothing is said (common practice: 5 to 50 mA)."""


def rated(part: Part) -> Rated | None:
    """What is on file of a part's type; suffixes such as ``-500`` are left to what is written."""
    return TYPES.get((part.type or "").upper().partition("-")[0])


def figured(part: Part, log: ProblemLog) -> Part:
    """The part with the volts and amperes of its type where none are written."""
    known = rated(part)
    if known is None:
        if part.type is not None and (part.voltage is None or part.current is None):
            hint = f"write what it stands: {part.type} 400 V 4 A"
            expected = f"a type on file ({', '.join(TYPES)}), or volts and amperes"
            log.add(part.span, UNKNOWN_TYPE, part.type, expected, hint)
        return part
    return replace(
        part,
        voltage=part.voltage or quantity(known.volts, "volt"),
        current=part.current or quantity(known.amps, "ampere"),
    )
