"""Stages that are meant to oscillate: their grid has no other drive than what they make themselves.

By windings of one core (Armstrong, Meissner, Hartley, a converter's first grid), by a coil with a
divider of capacitors (Colpitts, Clapp), or through capacitors and resistors alone (phase shift,
bridge); or by a crystal at the grid, which is taken to be one that does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.channels import behind
from coldcheck.anatomy.coupling import coupled, decoupled, givers, still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.latches import latches
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.cycle.defined import unknown_values
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.oscillation import collecting, pull
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.signal.oscillation import Around

STEEP_S = Threshold(
    "largest transconductance of a tube in an oscillator", 0.01, "S",
    Citation("practice", "small triodes and pentodes have 1 to 10 mS"),
)  # fmt: skip

INJECTION_F = 5e-12
"""A capacitor from an oscillator to its mixer has 1 to 5 pF (common practice)."""


@dataclass(frozen=True, slots=True)
class Wound:
    """A stage whose grid and whose plate, screen or cathode are on windings of one ``core``."""

    section: Section
    core: str


def wound(circuit: Circuit) -> Iterator[Wound]:
    """The stages that drive their own grid through the windings of one core, and by nothing else.

    A grid that a capacitor, a resistor or a stopper parts from its winding is on it as well. One
    that is on it straight, with nothing but the cathode on another, is no oscillator's: such a
    winding takes back on purpose.
    """
    for _, section in working(circuit):
        nets = at_grid(circuit, section)
        cores = _cores(circuit, nets)
        if crystals(circuit, nets):
            continue  # its loop goes through the crystal, which the network does not have
        if len(cores) != 1 or _brought(circuit, section, nets) or _given(circuit, section, cores):
            continue
        straight = cores <= _cores(circuit, {section.electrodes["grid"]})
        cathodes = () if straight else section.cathode_nets
        if cores <= _cores(circuit, _near(circuit, (*collecting(section), *cathodes))):
            yield Wound(section, next(iter(cores)))


def regenerating(circuit: Circuit) -> Iterator[Wound]:
    """The stages with a signal from elsewhere whose plate is on a tickler of their grid's coil.

    The tickler is a winding of its own, without iron, on the plate straight or by a capacitor. A
    capacitor to the grid's own coil takes back what the tube's does, and is none. Nor is one where
    another stage's plate is on the grid's coil: a winding may take back on purpose there.
    """
    started = {w.section.name for w in wound(circuit)}
    sections = {s.name for s in circuit.sections()}
    for _, section in working(circuit):
        plate, grid = section.net("plate"), section.net("grid")
        if plate is None or grid is None or section.name in started:
            continue
        fed = {plate, *(b.other(plate) for b in circuit.at(plate) if b.kind is PartKind.CAPACITOR)}
        heard = at_grid(circuit, section)
        if _brought(circuit, section, heard) & sections:
            continue
        for coil_set in circuit.coil_sets.values():
            tanks = [c.name for c in coil_set.coils if heard & set(c.nets)]
            ticklers = [c.name for c in coil_set.coils if (fed - set(LANDMARKS)) & set(c.nets)]
            if not coil_set.iron and len(tanks) == len(ticklers) == 1 and tanks != ticklers:
                yield Wound(section, coil_set.name)


def _given(circuit: Circuit, section: Section, cores: Collection[str]) -> bool:
    """Whether another stage gives a core its signal; at radio frequencies a bypass takes it."""
    radio = all(c in circuit.coil_sets and not circuit.coil_sets[c].iron for c in cores)
    nets = {n for s in circuit.sections() if s.name != section.name for n in collecting(s)}
    moved = {n for n in nets - still_nets(circuit) if not (radio and decoupled(circuit, n))}
    return bool(_cores(circuit, moved) & frozenset(cores))


def at_grid(circuit: Circuit, section: Section) -> frozenset[str]:
    """What a signal reaches from a grid; its own cathode, to which a leak may lead, ends it."""
    grid = section.net("grid")
    if grid is None:
        return frozenset()
    ends = {*still_nets(circuit), *section.cathode_nets, *_touched(circuit, grid)}
    return coupled(circuit, [grid], ends - {grid})


def _touched(circuit: Circuit, grid: str) -> set[str]:
    """Where a picofarad or so leads from a grid: it hands an oscillation on, and brings nothing."""
    small = (b for b in circuit.at(grid) if b.kind is PartKind.CAPACITOR)
    return {b.other(grid) for b in small if (b.farads or 1.0) <= INJECTION_F}


def _cores(circuit: Circuit, nets: Collection[str]) -> frozenset[str]:
    """The transformers and coils with a winding on one of the nets."""
    inside = {
        b.name: name for name, s in circuit.coil_sets.items() for _, b in s.branches
    } | {
        b.name: name for name, t in circuit.transformers.items() for w in t.windings
        for b in w.branches
    }  # fmt: skip
    return frozenset(inside[b.name] for n in nets for b in circuit.at(n) if b.name in inside)


def _brought(circuit: Circuit, section: Section, nets: Collection[str]) -> frozenset[str]:
    """What else than windings and itself brings a signal to a grid's nets."""
    windings = {b.name for n in nets for b in circuit.at(n) if b.kind is PartKind.WINDING}
    return frozenset(name for name, _ in givers(circuit, nets)) - windings - {section.name}


def crystals(circuit: Circuit, nets: Collection[str]) -> tuple[Branch, ...]:
    """The crystals on the nets."""
    found = {b.name: b for n in nets for b in circuit.at(n) if b.kind is PartKind.CRYSTAL}
    return tuple(found.values())


def by_crystal(circuit: Circuit) -> Iterator[tuple[Section, Branch]]:
    """The stages with a crystal at their grid to which nothing else brings a signal.

    From there it leads to gnd, the cathode, the plate or the screen; one in a filter has a coil
    that another stage drives.
    """
    for _, section in working(circuit):
        nets = at_grid(circuit, section)
        found = crystals(circuit, nets)
        cores = _cores(circuit, nets)
        if found and not (_brought(circuit, section, nets) or _given(circuit, section, cores)):
            yield section, found[0]


def fed_back(circuit: Circuit) -> Iterator[Section]:
    """The stages that a coil may keep going: by its windings, or with a divider of capacitors."""
    by_windings = [w.section for w in wound(circuit)]
    yield from by_windings
    for _, section in working(circuit):
        nets = at_grid(circuit, section)
        coil = any(b.kind is PartKind.INDUCTOR for n in nets for b in circuit.at(n))
        alone = not (
            _cores(circuit, nets) or _brought(circuit, section, nets) or crystals(circuit, nets)
        )
        if coil and alone and section not in by_windings:
            yield section


def pulled(circuit: Circuit, section: Section) -> Around | None:
    """What comes back to the grid of a stage as steep as they come, where that is known."""
    return _pulled(circuit, section.name)


@once
def _pulled(circuit: Circuit, name: str) -> Around | None:
    section = next(s for s in circuit.sections() if s.name == name)
    if _open_values(circuit, section):
        return None
    try:
        return pull(circuit, section, STEEP_S.value)
    except (Unsolvable, np.linalg.LinAlgError):
        return None


def _open_values(circuit: Circuit, section: Section) -> bool:
    """Whether a part around a stage has no value in the drawing."""
    near = _near(circuit, (*collecting(section), *section.cathode_nets))
    nets = at_grid(circuit, section) | near
    return any({b.a, b.b} & nets for b in unknown_values(circuit))


def _near(circuit: Circuit, nets: Iterable[str]) -> frozenset[str]:
    """The nets and what is one part away, landmarks left out."""
    found = {n for n in nets if n not in LANDMARKS}
    found |= {b.other(n) for n in found for b in circuit.at(n) if _joins(b)}
    return frozenset(found - set(LANDMARKS))


def _joins(branch: Branch) -> bool:
    return branch.kind in (PartKind.RESISTOR, PartKind.CAPACITOR)


def ring(circuit: Circuit, section: Section) -> tuple[Section, ...]:
    """The stages through which one drives its own grid, itself first; none where it does not.

    Through capacitors and resistors alone, from a plate or follower, with a capacitor on the way,
    so that nothing stays where it once was, and with nothing from outside.
    """
    names, sections = behind(circuit, section), {s.name: s for s in circuit.sections()}
    if section.name in {s.name for pair in latches(circuit) for s in pair}:
        return ()
    if section.name not in names or not names <= set(sections):
        return ()
    found = (section, *(sections[n] for n in sorted(names - {section.name})))
    nets = {n for s in found for n in at_grid(circuit, s)}
    alone = (PartKind.WINDING, PartKind.CRYSTAL)  # a crystal's resonance is not in the network
    coils = any(b.traits.coil or b.kind in alone for n in nets for b in circuit.at(n))
    plain = all(section.name in behind(circuit, s) for s in found)
    return found if plain and not coils and _comes_back(circuit, section) else ()


def _comes_back(circuit: Circuit, section: Section) -> bool:
    """Whether a plate, or another stage's cathode, is before a capacitor in a grid's network."""
    nets = at_grid(circuit, section)
    given = [
        n
        for n in nets
        for s, e in circuit.electrodes_at(n)
        if e == "plate" or (e in ("cathode", "f1", "f2") and s.name != section.name)
    ]
    return any(b.kind is PartKind.CAPACITOR for n in given for b in circuit.at(n))
