"""Which nets direct current can get to, through conductors and through the tubes themselves."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.supplies import rectifying_diodes
from coldcheck.circuit.kinds import TRAITS, Passage
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Section

CONDUCTORS = frozenset(
    k for k, t in TRAITS.items() if t.metal or t.passage is Passage.CLAMPS or t.steered
)
"""Kinds direct current can pass, whatever the value; diodes and sources are looked at apart."""

SUPPLIES = frozenset(k for k, t in TRAITS.items() if t.supplies)
CATHODES = ("cathode", "f1", "f2")
CONDUCTS_TO_NONE = tuple(n for n in LANDMARKS if n not in ("line", "neutral"))


FEEDS_OHM = 10e3
"""From here up a resistor feeds no heater or regulator: 150 mA would lose 1.5 kV in it. It lifts
their line, or lights a lamp."""


@once
def feeding(circuit: Circuit) -> Circuit:
    """The circuit without resistors that are too large to feed a heater or a regulator."""
    large = {
        b.name
        for b in circuit.branches.values()
        if b.kind is PartKind.RESISTOR and (b.ohms or 0.0) >= FEEDS_OHM
    }
    return circuit.without(large)


def passes(branch: Branch) -> bool:
    """Whether direct current passes in the operating state."""
    return branch.kind in CONDUCTORS and branch.closed


def reach(
    circuit: Circuit,
    start: Iterable[str],
    stop: Collection[str] = (),
    extra: Collection[PartKind] = (),
) -> Iterator[str]:
    """Every net reached from ``start``, nearest first; ``stop`` nets are not passed.

    ``extra`` names kinds of branches that count as well (a source, a diode). Lazy: who has
    seen enough stops.
    """
    seen = dict.fromkeys(start)
    todo = deque(seen)
    while todo:
        net = todo.popleft()
        yield net
        if net in stop:
            continue
        for branch in circuit.at(net):
            far = branch.other(net)
            if far not in seen and (passes(branch) or branch.kind in extra):
                seen[far] = None
                todo.append(far)


@dataclass(frozen=True, slots=True)
class Ways:
    """The circuit with an index of what hangs on each net; made once for a rule."""

    circuit: Circuit
    electrodes: Mapping[str, tuple[tuple[Section, str], ...]]
    supplies: frozenset[str]

    @classmethod
    def of(cls, circuit: Circuit) -> Ways:
        """Index a circuit; O(electrodes + branches)."""
        found: dict[str, list[tuple[Section, str]]] = {}
        for section in circuit.sections():
            for electrode, net in section.electrodes.items():
                found.setdefault(net, []).append((section, electrode))
        index = {net: tuple(pairs) for net, pairs in found.items()}
        return cls(circuit, index, frozenset(_supplies(circuit)) - frozenset(CONDUCTS_TO_NONE))

    def fed(self, net: str, seen: frozenset[str] = frozenset()) -> bool:
        """Whether DC gets from a supply to a net: a source, rectifier, the mains, a winding's AC.

        A supply may stand behind another tube (the upper one of a stack feeds the lower).
        """
        nets = []
        for far in reach(self.circuit, [net], CONDUCTS_TO_NONE):
            if far not in CONDUCTS_TO_NONE:
                if far in self.supplies:
                    return True
                nets.append(far)
        uppers = self._behind(nets, CATHODES)
        return any(
            self.fed(s.electrodes["plate"], seen | uppers.keys())
            for s in uppers.values()
            if s.name not in seen and s.electrodes.get("plate") not in (None, *nets)
        )

    def returned(self, nets: Collection[str], seen: frozenset[str] = frozenset()) -> bool:
        """Whether cathode current finds its way to gnd, if need be through the tube below."""
        found = []
        for net in reach(self.circuit, nets, (), SUPPLIES):
            if net in (GROUND, "neutral"):
                return True
            found.append(net)
        lowers = self._behind(found, ("plate",))
        return any(
            self.returned(s.cathode_nets, seen | lowers.keys())
            for s in lowers.values()
            if s.name not in seen and not set(s.cathode_nets) & set(found)
        )

    def held(self, section: Section, net: str) -> bool:
        """Whether DC gets from a grid to gnd, to its own cathode, or to another tube.

        A directly coupled grid takes its voltage from the other tube's plate or cathode.
        """
        holds = ("plate", *CATHODES)
        for far in reach(self.circuit, [net], (), (PartKind.SOURCE,)):
            if far == GROUND or far in section.cathode_nets:
                return True
            there = self.electrodes.get(far, ())
            if any(s.name != section.name and e in holds for s, e in there):
                return True
        return False

    def _behind(self, nets: Iterable[str], electrodes: Collection[str]) -> dict[str, Section]:
        """The amplifying sections with one of these electrodes on one of these nets, by name."""
        pairs = (pair for net in nets for pair in self.electrodes.get(net, ()))
        return {s.name: s for s, e in pairs if e in electrodes and s.kind in AMPLIFYING}


def _supplies(circuit: Circuit) -> Iterator[str]:
    """The nets that a supply is on: a source, a mains winding, a rectifier, the mains.

    A winding that heats tubes is none: what it lifts its heaters by comes from elsewhere. Nor is
    a diode that no AC gets to (one that holds a grid at its cathode).
    """
    yield from ("line", "neutral")
    heating = {n for t in circuit.tubes.values() if t.heater is not None for n in t.heater.nets}
    for winding in circuit.windings():
        if not heating & set(winding.nets):
            yield from winding.nets
    sources = (b for b in circuit.branches.values() if b.kind is PartKind.SOURCE)
    for branch in (*sources, *rectifying_diodes(circuit)):
        yield from (branch.a, branch.b)
    for section in circuit.sections():
        if section.kind is SectionKind.RECTIFIER:
            yield from section.electrodes.values()
