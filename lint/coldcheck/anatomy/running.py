"""Points whose volts nobody can foretell, since an oscillator's stage makes its own bias.

While it runs a stage with a grid leak drives its grid positive at the tips of its swing; what
flows there charges the grid's capacitor until the grid is far negative, and plate and screen take
less than at rest. How far depends on losses that no drawing has.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.oscillators import at_grid, by_crystal, fed_back, pulled
from coldcheck.anatomy.starting import by_parts
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.spread import spread
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import collecting, in_phase

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.starting import Driven
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.solution import Solution

GRID_AMPERES = (50e-6, 500e-6)
"""What flows through the grid leak of a small oscillator that runs (common practice; data sheets of
converters have 0.5 mA through 20 kohm)."""

LEAK_OHM = (10e3, 100e3)
"""Grid leaks for which that holds: in larger ones it is the swing that says how far it goes."""

LEVELLED = (PartKind.LAMP, PartKind.THERMISTOR)


@dataclass(frozen=True, slots=True)
class Running:
    """A stage that oscillates with a bias of its own making.

    ``nets`` are those whose direct voltage hangs on it. ``leak`` is the resistor at its grid, and
    ``volts`` what practice gives at ``grids``, to the leak's foot, lowest first; ``None`` where
    it gives nothing. ``crystal`` is what it oscillates by, where that is one.
    """

    section: Section
    nets: frozenset[str]
    grids: frozenset[str]
    leak: Branch | None
    volts: tuple[float, float] | None
    crystal: Branch | None = None


@once
def running(circuit: Circuit) -> tuple[Running, ...]:
    """The stages that a coil keeps going, by the sense of what comes back, or a crystal does."""
    found = []
    for section in fed_back(circuit):
        around = pulled(circuit, section)
        if around is not None and around.gain.real >= 1:
            found.append(_running(circuit, section))
    found += [replace(_running(circuit, s), crystal=c) for s, c in by_crystal(circuit)]
    return tuple(found)


def _running(circuit: Circuit, section: Section) -> Running:
    grids = _stoppered(circuit, section)
    leak = _leak(circuit, section, grids)
    ohms = None if leak is None else leak.ohms
    known = ohms is not None and LEAK_OHM[0] <= ohms <= LEAK_OHM[1]
    most, least = (-a * (ohms or 0.0) for a in GRID_AMPERES[::-1])
    nets = _hanging(circuit, section, grids)
    return Running(section, nets, grids & nets, leak, (most, least) if known else None)


def _stoppered(circuit: Circuit, section: Section) -> frozenset[str]:
    """The grid's net, and the other end of a resistor that leads nowhere but to it."""
    grid = section.electrodes["grid"]
    near = [b for b in circuit.at(grid) if b.kind is PartKind.RESISTOR]
    ends = {b.other(grid) for b in near} - still_nets(circuit) - set(section.cathode_nets)
    return frozenset({grid, *(ends if len(circuit.at(grid)) == 1 else ())})


def _leak(circuit: Circuit, section: Section, grids: Collection[str]) -> Branch | None:
    """The resistor from a grid to gnd, a supply or the stage's own cathode."""
    feet = still_nets(circuit) | set(section.cathode_nets)
    found = (b for n in grids for b in circuit.at(n) if b.kind is PartKind.RESISTOR)
    return next((b for b in found if {b.a, b.b} & feet), None)


def _hanging(circuit: Circuit, section: Section, grids: frozenset[str]) -> frozenset[str]:
    """What a stage's own currents move: up to supplies, and to other tubes' electrodes.

    What a coil alone joins to a supply is that supply; at a cathode its few ohms are all there is.
    Of a converter that is its first grid alone: its law is that of one whose oscillator runs.
    """
    still = still_nets(circuit)
    if section.kind is SectionKind.CONVERTER:
        return grids - still
    ends = {n for s in circuit.sections() if s.tube != section.tube for n in _working(s)}
    start = {*grids, *_working(section)} - still - ends
    seen = _reached(circuit, start, still | ends, resistors=True)
    tied = _reached(circuit, still, (), resistors=False) - {*section.cathode_nets}
    return seen - tied


def _working(section: Section) -> tuple[str, ...]:
    """The nets at which a section draws or gives current."""
    return (*section.cathode_nets, *collecting(section))


def _reached(
    circuit: Circuit, start: Collection[str], ends: Collection[str], *, resistors: bool
) -> frozenset[str]:
    """What direct current gets to by coils and wiring, and by ``resistors`` where asked for."""

    def leads(branch: Branch, here: str) -> bool:
        passes = branch.traits.metal and (resistors or not branch.traits.steady)
        return passes and branch.closed and branch.other(here) not in ends

    return spread(circuit, start, leads)


def keeps_going(solution: Solution, stage: Running) -> bool:
    """Whether a stage is steep enough, as it stands at rest; a law that is not on file may be.

    What a crystal needs is not on the drawing: it is taken to have it.
    """
    if stage.crystal is not None:
        return True
    try:
        around = in_phase(Linearised(solution.circuit, solution), stage.section)
    except (Unsolvable, np.linalg.LinAlgError):
        return True
    return around is not None and around.gain.real >= 1


@dataclass(frozen=True, slots=True)
class Swing:
    """What a stage that capacitors and resistors keep going does to the nets around it.

    ``hertz`` is where its loop comes round in phase; ``grid`` is its own, which charges its
    capacitor at the tips of the swing.
    """

    section: Section
    nets: frozenset[str]
    grid: str
    hertz: float


def swinging(solution: Solution) -> tuple[Swing, ...]:
    """The stages that capacitors and resistors keep going, as they stand at rest."""
    found = []
    for driven in _clipping(solution.circuit):
        try:
            around = in_phase(Linearised(solution.circuit, solution), driven.section)
        except (Unsolvable, np.linalg.LinAlgError):
            continue
        if around is not None and around.gain.real >= 1:
            nets, grid = _swung(solution.circuit, driven), driven.section.electrodes["grid"]
            found.append(Swing(driven.section, nets, grid, around.hertz))
    return tuple(found)


@once
def unforetold(circuit: Circuit) -> frozenset[str]:
    """The nets at which a stage that oscillates has other volts than at rest."""
    own = {n for stage in running(circuit) for n in stage.nets}
    return frozenset(own | {n for d in _clipping(circuit) for n in _swung(circuit, d)})


def _clipping(circuit: Circuit) -> Iterator[Driven]:
    """Those without a lamp or thermistor to hold their swing: their mean is not that of rest."""
    for driven in by_parts(circuit):
        if not any(b.kind in LEVELLED for n in driven.nets for b in circuit.at(n)):
            yield driven


def _swung(circuit: Circuit, driven: Driven) -> frozenset[str]:
    return driven.nets | at_grid(circuit, driven.section) - set(LANDMARKS)
