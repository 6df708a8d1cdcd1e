"""Heaters behind an adjustable regulator: the two resistors that set what they get."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.heater_lines import HeaterLine
    from coldcheck.circuit.model import Branch, Circuit, Transistor

REFERENCE = "output-voltage"
HELD = 0.9
"""Of its reference: with less a regulator is out of volts and sets nothing."""


@dataclass(frozen=True, slots=True)
class Setting:
    """An adjustable regulator, the resistor from its output to ``adj``, and that from there on."""

    regulator: Transistor
    upper: Branch
    lower: Branch

    @property
    def parts(self) -> tuple[str, str]:
        """The lower one first: it says how many volts, the other how many milliamperes."""
        return self.lower.name, self.upper.name


def setting_of(circuit: Circuit, line: HeaterLine) -> Setting | None:
    """What sets the output that a heater line is on; ``None`` where nothing plainly does."""
    for one in circuit.transistors.values():
        if not one.type.family.adjustable or one.nets["out"] not in line.nets:
            continue
        out, adj = one.nets["out"], one.nets["adj"]
        at = [b for b in circuit.at(adj) if b.kind is PartKind.RESISTOR]
        upper, lower = ([b for b in at if b.other(adj) == far] for far in (out, GROUND))
        if len(at) == 2 and upper and lower:
            return Setting(one, upper[0], lower[0])
    return None


def set_to(case: Case, setting: Setting, off: float) -> str | None:
    """The lower resistor that takes ``off`` volts from the output, by the current it carries now.

    ``None`` where that is not to be had: it does not hold its own reference.
    """
    lower, reference = si(setting.lower.value, "ohm"), setting.regulator.type.figure(REFERENCE)
    volt = [abs(w.dc) if w else 0.0 for w in (case.warm.between(b.a, b.b)
                                              for b in (setting.upper, setting.lower))]  # fmt: skip
    if lower is None or reference is None or volt[0] < HELD * reference.value or volt[1] <= off:
        return None
    fits = preferred(lower * (volt[1] - off) / volt[1])
    return (
        f"{setting.regulator.name} gives what {setting.lower.name} ({ohms(lower)}) and "
        f"{setting.upper.name} set: for {volts(-off) if off < 0 else volts(off)} "
        f"{'more' if off < 0 else 'less'} use about {ohms(fits)} for {setting.lower.name}"
    )
