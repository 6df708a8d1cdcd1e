"""Stages for radio frequencies that another one drives into grid current: class C.

Their bias is what the drive makes across a leak of some kilohms, and so is their current: neither
is worked out. Solved as they stand at rest, without drive, they draw what they draw when it fails.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.grid_kinds import is_power_tube
from coldcheck.anatomy.neighbourhood import resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.spread import spread
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import SignalLine
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection

    from coldcheck.circuit.model import Branch, Circuit, Section

RF_COIL_H = Threshold("largest coil of a plate for radio frequencies", 10e-3, "H", PRACTICE)
"""A choke for audio has henries, one for radio some millihenries."""

LEAK_OHM = (1e3, 100e3)
"""Grid leaks of driven stages: milliamperes of grid current make tens of volts (practice)."""

RADIO_HZ = 100e3

UNDRIVEN = "its figures are those without drive"
"""What is said wherever a figure is such a stage's."""


@dataclass(frozen=True, slots=True)
class Driven:
    """A stage that makes its bias of what ``driver`` gives it; ``coils`` lead its plate's DC."""

    section: Section
    driver: str
    coils: frozenset[str]


@once
def driven(circuit: Circuit) -> tuple[Driven, ...]:
    """The power tubes of the drawing that work so: cathode on what holds still, leak, drive."""
    still, found = still_nets(circuit), []
    for tube, section in working(circuit):
        rests = set(section.cathode_nets) <= still
        if not (rests and is_power_tube(tube, section) and for_radio(circuit, section)):
            continue
        driver = _driver(circuit, section, still)
        if driver and _has_leak(circuit, section, still):
            found.append(Driven(section, driver, _fed_through(circuit, section, still)))
    return tuple(found)


def for_radio(circuit: Circuit, section: Section) -> bool:
    """Whether a plate is fed through small coils, and through nothing larger."""
    plate = section.net("plate")
    if plate is None or section.net("grid") is None:
        return False
    wound = {b.name: c.henries for c in circuit.coils() for _, b in c.parts}
    coils = [
        si(b.value if b.kind is PartKind.INDUCTOR else wound.get(b.name), "henry")
        for b in _coils(circuit, plate)
    ]
    small = [v for v in coils if v is not None and v <= RF_COIL_H.value]
    return bool(small) and len(small) == len(coils)


def _coils(circuit: Circuit, plate: str) -> list[Branch]:
    """The coils on a plate, a parasitic stopper or choke between or not."""
    behind = {b.other(plate) for b in resistors_at(circuit, plate)} - still_nets(circuit)
    near = {plate, *behind} - set(LANDMARKS)
    return [b for n in near for b in circuit.at(n) if b.traits.coil]


def _driver(circuit: Circuit, section: Section, still: Collection[str]) -> str:
    """The other tube, or the signal of a radio frequency, that a grid gets; or nothing."""
    nets = coupled(circuit, [section.electrodes["grid"]], {*still, *section.cathode_nets})
    names = {name for name, _ in givers(circuit, nets)} - {section.name}
    others = [s.name for s in circuit.sections() if s.name in names]
    return next(iter((*others, *(n for n in names if _of_radio(circuit, n)))), "")


def _of_radio(circuit: Circuit, name: str) -> bool:
    signals = (s for s in circuit.drawing.statements if isinstance(s, SignalLine))
    return any(s.name == name and (si(s.frequency, "hertz") or 0.0) >= RADIO_HZ for s in signals)


def _has_leak(circuit: Circuit, section: Section, still: Collection[str]) -> bool:
    """Whether a resistor of a grid leak's size stands at the grid, straight or behind a coil."""
    grid = section.electrodes["grid"]
    seen, todo = {grid}, [grid]
    while todo:
        net = todo.pop()
        for branch in circuit.at(net) if net not in still else ():
            ohms = branch.ohms if branch.traits.steady else None
            if ohms is not None and LEAK_OHM[0] <= ohms <= LEAK_OHM[1]:
                return True
            passes = branch.traits.metal and (ohms is None or ohms < LEAK_OHM[0])
            if passes and branch.other(net) not in seen:
                seen.add(branch.other(net))
                todo.append(branch.other(net))
    return False


def _fed_through(circuit: Circuit, section: Section, still: Collection[str]) -> frozenset[str]:
    """The coils that lead a plate's direct current, up to the first resistor or supply."""

    def leads(branch: Branch, here: str) -> bool:
        bare = branch.traits.metal and not branch.traits.steady and branch.closed
        return bare and here not in still

    nets = spread(circuit, [section.electrodes["plate"]], leads)
    at = (b for n in nets for b in circuit.at(n) if leads(b, n))
    return frozenset(b.name for b in at if b.traits.coil)
