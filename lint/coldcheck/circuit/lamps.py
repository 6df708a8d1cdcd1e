"""Pilot lamps by their numbers: ``#47`` is 6.3 V and 150 mA. Neons, and what they usually do.

The numbers are those of the trade (since the 1930s one number is one lamp, whoever makes it; today
ANSI C78.390). Design volts and amperes, from memory of makers' lists; #44, #47, #555 and #455 seen
in a list of lamps for coin-operated games.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.problems import BAD_VALUE, UNKNOWN_TYPE
from coldcheck.drawing.kinds import PartKind, letters
from coldcheck.drawing.units import quantity, si

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.model import Branch
    from coldcheck.circuit.problems import ProblemLog
    from coldcheck.drawing.model import Part

LAMPS: Mapping[str, tuple[float, float]] = MappingProxyType({
    "13": (3.8, 0.3), "14": (2.5, 0.3), "40": (6.3, 0.15), "41": (2.5, 0.5), "43": (2.5, 0.5),
    "44": (6.3, 0.25), "46": (6.3, 0.25), "47": (6.3, 0.15), "48": (2.0, 0.06), "49": (2.0, 0.06),
    "50": (7.5, 0.22), "51": (7.5, 0.22), "53": (14.4, 0.12), "55": (7.0, 0.41), "57": (14.0, 0.24),
    "67": (13.5, 0.59), "73": (14.0, 0.08), "74": (14.0, 0.10), "86": (6.3, 0.20),
    "222": (2.25, 0.25), "313": (28.0, 0.17), "327": (28.0, 0.04), "328": (6.0, 0.20),
    "330": (14.0, 0.08), "334": (28.0, 0.04), "344": (10.0, 0.014), "345": (6.0, 0.04),
    "349": (6.3, 0.20), "387": (28.0, 0.04), "447": (6.3, 0.15), "455": (6.5, 0.50),
    "555": (6.3, 0.25), "755": (6.3, 0.15), "756": (14.0, 0.08), "757": (28.0, 0.08),
    "1813": (14.4, 0.10), "1815": (14.0, 0.20), "1816": (13.0, 0.33), "1819": (28.0, 0.04),
    "1820": (28.0, 0.10), "1829": (28.0, 0.07), "1847": (6.3, 0.15), "1866": (6.3, 0.25),
    "1869": (10.0, 0.014), "1891": (14.0, 0.24), "1892": (14.4, 0.12), "1893": (14.0, 0.33),
    "1895": (14.0, 0.27),
})  # fmt: skip
"""Number -> design volts, amperes."""

STRIKES_V = (60.0, 90.0)
"""Between these, DC or peak, a small neon strikes (common practice; makers list 65 to 90 V)."""
HOLDS_V, HOLDS_OFF = 55.0, 5.0
"""What a lit one holds, and how far copies are from it: 50 to 60 V (common practice)."""
HOLDS_OHM = 4e3
"""Slope of a lit one within its normal glow, some kohm (common practice)."""
BUILT_IN_V, USUAL_A = 95.0, 0.6e-3
"""Volts written on a neon from which it has its resistor inside, and what such a one takes."""
RELAXES_F, RELAXES_OHM = 100e-12, 10e3
"""From such a capacitor on, behind no more than such a resistor, a neon may go on and off."""

AGREES = 0.1
"""Share by which what is written beside a number may differ from it, before one is a slip."""


def numbered(part: Part, log: ProblemLog) -> Part:
    """The part with the volts and amperes of its number, where it is a lamp that has one."""
    if part.kind is not PartKind.LAMP or part.type is None:
        return part
    known = LAMPS.get(part.type.removeprefix("#"))
    if known is None:
        _strange(part, log)
        return part
    written = (part.voltage, part.current)
    made = tuple(quantity(x, u) for x, u in zip(known, ("volt", "ampere"), strict=True))
    for said, own in zip(written, made, strict=True):
        if said is not None and abs(float((said / own).m_as("")) - 1) > AGREES:
            expected = f"{known[0]:g} V and {known[1]:g} A, or a lamp without a number"
            log.add(part.span, BAD_VALUE, f"{part.name} {part.type} at {said:~}", expected)
    return replace(part, voltage=written[0] or made[0], current=written[1] or made[1])


def _strange(part: Part, log: ProblemLog) -> None:
    """A number that is not on file says nothing without its figures."""
    if part.resistance is None and (part.voltage is None or not (part.current or part.power)):
        hint = f"write what it is made for: [{part.name} {part.type} 6.3 V 150 mA]"
        log.add(part.span, UNKNOWN_TYPE, part.type or "", "the number of a lamp on file", hint)


def is_neon(branch: Branch) -> bool:
    """Whether it is a glow lamp, by its word or its letters."""
    part = branch.part
    if branch.kind is not PartKind.LAMP or part is None:
        return False
    return "neon" in part.words or letters(branch.name.rpartition("/")[2]) == "NE"


def glowing(branches: Mapping[str, Branch]) -> dict[str, Branch]:
    """The branches, with the neons marked that are solved with the figures of the trade.

    One with figures of its own has these. One with a capacitor across it may go on and off by
    turns, of which a cycle of the mains knows nothing: it stays a lamp whose value is not known.
    """
    return {
        name: replace(b, glows=True) if _unfigured(b) and not _relaxes(b, branches.values()) else b
        for name, b in branches.items()
    }


def glow(branch: Branch) -> tuple[float, float]:
    """What a lit neon holds at no current, volts, and its slope, ohms, with a resistor inside it.

    Volts that are written on one by itself are what it holds; those of a mains neon are the mains.
    """
    written = si(branch.part.voltage, "volt") if branch.part is not None else None
    if written is None or written >= BUILT_IN_V:
        inside = 0.0 if written is None else (written - HOLDS_V) / USUAL_A
        return HOLDS_V, HOLDS_OHM + inside
    return written, HOLDS_OHM


def _unfigured(branch: Branch) -> bool:
    return branch.value is None and is_neon(branch)


def _relaxes(neon: Branch, branches: Iterable[Branch]) -> bool:
    near = {neon.a: neon.a, neon.b: neon.b}
    beside = [b for b in branches if {b.a, b.b} & {neon.a, neon.b}]
    for small in beside:
        if small.kind is PartKind.RESISTOR and (small.ohms or 0.0) < RELAXES_OHM:
            end = small.a if small.a in (neon.a, neon.b) else small.b
            near.setdefault(small.other(end), end)
    large = (b for b in beside if b.kind is PartKind.CAPACITOR)
    return any(
        b.a in near and b.b in near and near[b.a] != near[b.b]
        for b in large
        if (b.farads or 1.0) >= RELAXES_F
    )
