"""Heaters behind an adjustable regulator: the two resistors that set what they get."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
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
        upper, lower = ([b for b in at if (b.other(adj) == out) is way] for way in (True, False))
        if len(at) == 2 and upper and lower:
            return Setting(one, upper[0], lower[0])
    return None


def holds(case: Case, setting: Setting) -> bool:
    """Whether the output is what the two resistors say: the regulator is not out of volts."""
    reference = setting.regulator.type.figure(REFERENCE)
    return reference is not None and _across(case, setting.upper) >= HELD * reference.value


def set_to(case: Case, setting: Setting, share: float) -> str | None:
    """The lower resistor for ``share`` times the output, by the current it carries.

    Of a regulator that is out of volts that is what its reference sends through the upper one.
    ``None`` where that is not to be had.
    """
    lower, upper = (b.ohms for b in (setting.lower, setting.upper))
    reference = setting.regulator.type.figure(REFERENCE)
    gives = _across(case, setting.upper) + _across(case, setting.lower)
    if not lower or not upper or reference is None or share * gives <= reference.value:
        return None
    held, off = holds(case, setting), (1 - share) * gives
    amps = _across(case, setting.lower) / lower if held else reference.value / upper
    fits = float(f"{(share * gives - reference.value) / amps:.3g}")
    return (
        f"{setting.regulator.name} gives what {setting.lower.name} ({ohms(lower)}) and "
        f"{setting.upper.name} set: for {volts(-off) if off < 0 else volts(off)} "
        f"{'more' if off < 0 else 'less'} use about {ohms(fits)} for {setting.lower.name}"
    )


def _across(case: Case, resistor: Branch) -> float:
    wave = case.warm.between(resistor.a, resistor.b)
    return 0.0 if wave is None else abs(wave.dc)
