"""The negative side of a supply where a resistor holds it off gnd (back bias)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.rectifiers import rectifier_tubes
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Winding

HIGH_V = Threshold("least voltage of a high-tension winding", 60.0, "V", PRACTICE)
MOST_OHM = Threshold("most resistance of a return to gnd", 10e3, "ohm", PRACTICE)


@dataclass(frozen=True, slots=True)
class Return:
    """A rectified winding's negative side that reaches gnd through a resistor.

    ``net`` is the negative side, ``outputs`` the positive one's nets, ``resistors`` what lies
    straight between the negative side and gnd (or chassis).
    """

    winding: str
    net: str
    outputs: tuple[str, ...]
    resistors: tuple[Branch, ...]
    ground: str


def lifted_returns(circuit: Circuit) -> Iterator[Return]:
    """Every high-voltage winding whose return is held off gnd by a resistor, once a net."""
    seen: set[str] = set()
    for winding in circuit.windings():
        if winding.primary or (si(winding.volts, "volt") or 0.0) < HIGH_V.value:
            continue
        negative = _negative(circuit, winding)
        if negative is None or negative in LANDMARKS or negative in seen:
            continue
        for ground in (GROUND, circuit.points.get("chassis", GROUND)):
            found = [b for b in circuit.at(negative) if _small(b) and b.other(negative) == ground]
            if found:
                seen.add(negative)
                outputs = _outputs(circuit, winding)
                yield Return(winding.name, negative, outputs, tuple(found), ground)
                break


def _small(branch: Branch) -> bool:
    ohms = branch.ohms if branch.kind is PartKind.RESISTOR else None
    return ohms is not None and ohms <= MOST_OHM.value


def _leaving(circuit: Circuit, net: str) -> list[str]:
    """The nets to which rectifiers lead current from a net: cathodes."""
    found = [b.b for b in circuit.at(net) if b.kind is PartKind.DIODE and b.a == net]
    for _, section in rectifier_tubes(circuit):
        if net in (section.electrodes[p] for p in section.plates):
            found += section.cathode_nets
    return found


def _ends(winding: Winding) -> tuple[str, ...]:
    return winding.nets[0], winding.nets[-1]


def _outputs(circuit: Circuit, winding: Winding) -> tuple[str, ...]:
    return tuple(dict.fromkeys(n for e in _ends(winding) for n in _leaving(circuit, e)))


def _negative(circuit: Circuit, winding: Winding) -> str | None:
    """The net rectified current comes back by: the tap, a bridge's minus, or the other end."""
    feeding = [e for e in _ends(winding) if _leaving(circuit, e)]
    if not feeding:
        return None
    bridge = [
        {b.a for b in circuit.at(e) if b.kind is PartKind.DIODE and b.b == e}
        for e in _ends(winding)
    ]
    minus = bridge[0] & bridge[1]
    if minus:
        return min(minus)
    tap = winding.nets[1] if len(winding.nets) > 2 else None
    if tap is not None and (
        tap in LANDMARKS or any(b.kind is not PartKind.WINDING for b in circuit.at(tap))
    ):
        return tap
    rest = [e for e in _ends(winding) if e not in feeding]
    return rest[0] if len(rest) == 1 else None
