"""How firmly a heater line is held: the resistance towards gnd and the capacitor across it."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy import lift_network
from coldcheck.anatomy.heater_lines import (
    HeaterLine,
    lines_wanting_reference,
)
from coldcheck.anatomy.lift_divider import capacitor_volts
from coldcheck.anatomy.lift_network import (
    CENTRE_OHMS,
    at_its_cathodes,
    bypasses,
    core_of,
    corner,
    highest,
    lift_of,
    regulated,
    rides_along,
    source_ohms,
)
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding, Outcome

TIGHT_OHMS = Threshold(
    "most resistance between heater and cathode", 20e3, "ohm", Citation("philips-sheets", "20 kohm")
)
WIDEST_OHMS = Threshold(
    "most resistance between heater and cathode where permitted",
    150e3,
    "ohm",
    Citation("philips-sheets", "150 kohm"),
)
LOOSE_OHMS = Threshold(
    "resistance from which a heater bus is tied to nothing", 1e6, "ohm", PRACTICE
)
"""Most resistance between heater and cathode (memory: Philips sheets): 20 kohm, 150 kohm where
permitted. From a megohm on the line counts as tied to nothing, which is another rule's."""

STIFF_OHMS = Threshold(
    "resistance below which a reference needs no capacitor", 1e3, "ohm", PRACTICE
)
"""Below this a reference needs no capacitor: it is as good as a wire for hum."""

CORNER_HERTZ = Threshold("frequency from which a lift's capacitor works", 5.0, "Hz", PRACTICE)
"""A bypass is to work from here on: well below the mains (common practice)."""


@dataclass(frozen=True, slots=True)
class _Hold:
    """A line that hangs on resistors: what it sees towards gnd, and its capacitor."""

    line: HeaterLine
    ohms: float
    farads: float

    @property
    def corner(self) -> float:
        """Hertz from which on the capacitor holds."""
        return corner(self.ohms, self.farads)


def _holds(case: Case) -> Iterator[_Hold]:
    """The lines whose resistance and capacitor are both known."""
    for line in lines_wanting_reference(case.circuit):
        core = core_of(case.circuit, line, CENTRE_OHMS.value)
        found = source_ohms(case.circuit, line, core)
        if regulated(case.circuit, core):
            continue
        farads = [b.farads for b in bypasses(case.circuit, core)]
        if found is not None and found < inf and None not in farads:
            yield _Hold(line, found, sum(f for f in farads if f is not None))


def _unknown(case: Case) -> Iterator[tuple[str, str]]:
    """Lines that cannot be judged, and why: a value on the way to gnd is not written."""
    for line in lines_wanting_reference(case.circuit):
        core = core_of(case.circuit, line, CENTRE_OHMS.value)
        if source_ohms(case.circuit, line, core) is None:
            yield line.name, "a resistance on its way to gnd is not known"
        elif any(b.farads is None for b in bypasses(case.circuit, core)):
            yield line.name, "the value of its capacitor is not known"


@rule(
    "heater.reference-too-weak",
    title="Heater reference of too high resistance",
    level="notice",
    states="the drawing alone",
    needs="the resistors and capacitors between the heater bus and gnd or a rail",
    criterion=f"The line sees more than {TIGHT_OHMS.value / 1e3:g} kohm without a capacitor that "
    "holds "
    f"it from {CORNER_HERTZ.value:g} Hz on, or more than {WIDEST_OHMS.value / 1e3:g} kohm with "
    "one.",
    why="Through the hot insulation between heater and cathode flows a small leakage, with ripple "
    "in it. On a reference of high resistance it moves the whole line, and every heater carries "
    "the hum of one tube to all the others.",
    source=Citation(
        "philips-sheets",
        "external resistance between heater and cathode at most 20 kohm, 150 kohm where permitted",
    ),
    limits="One figure for all types: the limit of a type's own sheet is not on file. Above 1 Mohm "
    "the line counts as tied to nothing; a line tied to where all its cathodes stand is left out, "
    "and one that a gas tube or a zener holds.",
    thresholds=(
        CENTRE_OHMS,
        CORNER_HERTZ,
        LOOSE_OHMS,
        TIGHT_OHMS,
        WIDEST_OHMS,
        lift_network.RESERVOIR_FARADS,
    ),
)
def reference_too_weak(case: Case) -> Iterator[Outcome]:
    """Resistance towards gnd with every rail held."""
    yield from (reference_too_weak.not_judged((at,), why) for at, why in _unknown(case))
    for hold in _holds(case):
        lift = lift_of(case.circuit, hold.line)
        if _at_its_cathodes(hold.line) or (
            lift is not None and rides_along(case.circuit, hold.line, lift)
        ):
            continue
        bare = hold.ohms > TIGHT_OHMS.value and hold.corner > CORNER_HERTZ.value
        if hold.ohms < LOOSE_OHMS.value and (bare or hold.ohms > WIDEST_OHMS.value):
            yield _weak(case, hold, TIGHT_OHMS.value if bare else WIDEST_OHMS.value)


def _at_its_cathodes(line: HeaterLine) -> bool:
    """Whether every tube of a line has its cathode on the line itself."""
    cathodes = [set(s.cathode_nets) for t in line.tubes for s in t.sections]
    return bool(cathodes) and all(nets & set(line.nets) for nets in cathodes)


def _weak(case: Case, hold: _Hold, limit: float) -> Finding:
    bare = limit == TIGHT_OHMS.value
    how = "and no capacitor to hold it" if bare else "even with its capacitor"
    to_buy = _capacitor(case, hold)
    remedy = f"Put {to_buy} from the tap to gnd" if bare else "Use a divider of lower resistance"
    if bare and hold.ohms > WIDEST_OHMS.value:
        remedy = (
            f"Use a divider of at most {ohms(WIDEST_OHMS.value)}, and put {to_buy} from it to gnd"
        )
    return reference_too_weak.finding(
        case,
        (hold.line.name,),
        f"{hold.line.name}: the heaters are held through {ohms(hold.ohms)} {how}; heater to "
        f"cathode wants {ohms(limit)} at most",
        remedy,
        evidence={"reference": figure(hold.ohms, "ohm")},
        limit=figure(limit, "ohm"),
        certainty="certain",
        excess=hold.ohms / limit,
    )


def _capacitor(case: Case, hold: _Hold) -> str:
    """10 uF, or more where the divider wants it, of a voltage that stands the rail."""
    lift = lift_of(case.circuit, hold.line)
    top = highest(case, lift.rail) if lift is not None else None
    rated = f" {capacitor_volts(top[0]):g} V" if top is not None else ""
    farads = max(10e-6, preferred(1.5 / (6.2832 * hold.ohms * CORNER_HERTZ.value)))
    return f"{engineering(farads, 'F')}{rated}"


@rule(
    "heater.lift-unbypassed",
    title="Heater lift without a capacitor",
    level="notice",
    states="the drawing alone",
    needs="the divider's resistors and the capacitor at its tap",
    criterion=f"A lifted line that sees more than {STIFF_OHMS.value / 1e3:g} kohm and whose "
    "capacitor to "
    f"gnd, if any, only works above {CORNER_HERTZ.value:g} Hz: 1 / (2 pi R C).",
    why="The tap of a lift divider has the ripple of the rail on it, in the ratio of the divider, "
    "and what each heater leaks. Without a capacitor all of that reaches every cathode on the "
    "line as hum, and one channel talks into the other.",
    source=(PRACTICE, Citation("arithmetic", "corner frequency of the divider with its capacitor")),
    limits="Capacitors are taken at the value written; their own leakage and loss are not seen.",
    thresholds=(CENTRE_OHMS, CORNER_HERTZ, STIFF_OHMS, TIGHT_OHMS, lift_network.RESERVOIR_FARADS),
)
def lift_unbypassed(case: Case) -> Iterator[Outcome]:
    """Corner of the tap, where the resistance alone is still tolerable."""
    for hold in _holds(case):
        lift = lift_of(case.circuit, hold.line)
        moderate = STIFF_OHMS.value < hold.ohms <= TIGHT_OHMS.value
        if lift is None or regulated(case.circuit, lift.core):
            continue
        if at_its_cathodes(case.circuit, hold.line, lift):
            continue
        if moderate and hold.corner > CORNER_HERTZ.value:
            yield _unbypassed(case, hold)


def _unbypassed(case: Case, hold: _Hold) -> Finding:
    known = {"tap": figure(hold.ohms, "ohm"), "limit": CORNER_HERTZ.figure}
    known |= {} if hold.corner == inf else {"corner": figure(hold.corner, "Hz")}
    small = f"whose {engineering(hold.farads, 'F')} only works above {hold.corner:.3g} Hz"
    has = "which has no capacitor" if hold.corner == inf else small
    return lift_unbypassed.finding(
        case,
        (hold.line.name,),
        f"{hold.line.name}: lifted from a divider of {ohms(hold.ohms)} at its tap, {has}",
        f"Put {_capacitor(case, hold)} from the tap to gnd",
        evidence=known,
        certainty="certain",
        excess=10.0 if hold.corner == inf else hold.corner / CORNER_HERTZ.value,
    )


RULES: tuple[Rule, ...] = (reference_too_weak, lift_unbypassed)
