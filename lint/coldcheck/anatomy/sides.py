"""Two sides of a circuit laid over each other, and the lead or part that does not fit.

:mod:`~coldcheck.anatomy.twins` starts from parts and stops where two sides differ. Here two tube
sections are laid over each other, electrode by electrode; what is on their points is paired by kind
and lead, and what cannot be paired, or ends elsewhere than its twin, is kept.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import field
from itertools import combinations, islice
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.twins import (
    OtherwiseWiredError,
    aside,
    contents,
    each_once,
    independent,
    matched,
    sections_on,
    taken,
    type_of,
    valued,
)
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

    Parts = tuple[Branch, Branch]


TRIED = 60
"""Pairs of sections that are laid over each other, so that a large drawing costs no more."""

APART = 2
"""What two points may differ by and still be each other's twins: a lead that went from one to the
other is one too many here and one too few there."""


@dataclass(frozen=True, slots=True)
class Strayed:
    """Two parts that are each other's twins, and the one end of each that does not fit.

    ``wanted`` is where the second would end, were it as the first is.
    """

    first: Branch
    second: Branch
    end: str
    other_end: str
    wanted: str


@dataclass(frozen=True, slots=True)
class Lone:
    """A part at a point of one side, and that point's twin, which has no such part."""

    part: Branch
    net: str
    twin: str


@dataclass(frozen=True, slots=True)
class Sides:
    """What fits on two sides: pairs of parts and of tube sections. And what does not."""

    parts: tuple[tuple[Branch, Branch], ...]
    sections: tuple[tuple[Section, Section], ...]
    strayed: tuple[Strayed, ...]
    lone: tuple[Lone, ...]
    unlike: int
    """Electrodes on points that are no twins."""


@dataclass(frozen=True, slots=True)
class _Overlay:
    circuit: Circuit
    nets: dict[str, str] = field(default_factory=dict)
    parts: dict[str, Branch] = field(default_factory=dict)
    sections: dict[str, Section] = field(default_factory=dict)
    todo: deque[tuple[str, str]] = field(default_factory=deque)
    left: list[Lone] = field(default_factory=list)


@once
def sides(circuit: Circuit) -> tuple[Sides, ...]:
    """All that can be laid over each other, each once, in drawing order.

    Only sections that work side by side (:func:`~coldcheck.anatomy.twins.independent`), as the
    circuit would be without the parts that do not fit.
    """
    found: dict[frozenset[str], Sides] = {}
    for one, other in islice(_candidates(circuit), TRIED):
        overlay = _laid(circuit, one, other)
        if overlay is not None and frozenset(overlay.sections) not in found:
            found[frozenset(overlay.sections)] = _kept(overlay)
    return tuple(s for s in found.values() if _side_by_side(circuit, s))


def _candidates(circuit: Circuit) -> Iterator[tuple[Section, Section]]:
    amplifying = [s for s in circuit.sections() if s.kind.amplifies]
    for one, other in combinations(amplifying, 2):
        if one.kind is other.kind and type_of(circuit, one) == type_of(circuit, other):
            yield one, other


def _laid(circuit: Circuit, one: Section, other: Section) -> _Overlay | None:
    overlay = _Overlay(circuit)
    try:
        _pair_sections(overlay, one, other)
        while overlay.todo:
            _go_on(overlay, *overlay.todo.popleft())
    except OtherwiseWiredError:
        return None
    return overlay


def _pair_sections(overlay: _Overlay, one: Section, other: Section) -> None:
    if not taken(overlay.sections, (one.name, other.name), one, other):
        return
    for electrode, net in one.electrodes.items():
        its = other.net(electrode)
        if its is not None and net != its and _near(overlay.circuit, net, its):
            _bind(overlay, net, its)


def _near(circuit: Circuit, one: str, other: str) -> bool:
    """Whether two points may be twins, but for a lead or two."""
    if one in LANDMARKS or other in LANDMARKS:
        return False
    here, there = (Counter(contents(circuit).get(n, ())) for n in (one, other))
    return bool(here & there) and sum(((here - there) + (there - here)).values()) <= APART


def _bind(overlay: _Overlay, one: str, other: str) -> None:
    if taken(overlay.nets, (one, other), one, other):
        overlay.todo.append((one, other))


def _go_on(overlay: _Overlay, one: str, other: str) -> None:
    """Pair what is on two points, and bind the points behind."""
    for first, second in _matches(overlay, one, other):
        ends = first.other(one), second.other(other)
        if ends == (other, one):
            continue
        taken(overlay.parts, (first.name, second.name), first, second)
        if ends[0] != ends[1] and _near(overlay.circuit, *ends) and _free(overlay, *ends):
            _bind(overlay, *ends)
    for pair in sections_on(overlay.circuit, one, other):
        _pair_sections(overlay, *pair)


def _free(overlay: _Overlay, one: str, other: str) -> bool:
    """Whether neither point has another twin already."""
    return overlay.nets.get(one, other) == other and overlay.nets.get(other, one) == one


def _matches(overlay: _Overlay, one: str, other: str) -> list[tuple[Branch, Branch]]:
    """The parts on two points that can only be each other's twins; what is left is kept."""
    circuit = overlay.circuit
    here = [b for b in circuit.at(one) if not aside(b.kind) and other not in (b.a, b.b)]
    there = [b for b in circuit.at(other) if not aside(b.kind) and one not in (b.a, b.b)]
    found = matched(circuit, (one, other), here, there, anywhere=True)
    overlay.left.extend(Lone(b, one, other) for b in found.here)
    overlay.left.extend(Lone(b, other, one) for b in found.there)
    return found.pairs


def _kept(overlay: _Overlay) -> Sides:
    parts, sections = tuple(each_once(overlay.parts)), tuple(each_once(overlay.sections))
    lone = {e.part.owner: e for e in overlay.left if e.part.name not in overlay.parts and _own(e)}
    return Sides(
        parts,
        sections,
        tuple(_strayed(overlay, parts, sections)),
        tuple(lone.values()),
        sum(_unlike(overlay, *pair) for pair in sections),
    )


def _own(lone: Lone) -> bool:
    return valued(lone.part.kind) and lone.part.part is not None


def _unlike(overlay: _Overlay, one: Section, other: Section) -> int:
    """How many electrodes of two sections are on points that are no twins."""
    fits = [
        net == other.net(electrode) or overlay.nets.get(net) == other.net(electrode)
        for electrode, net in one.electrodes.items()
    ]
    return fits.count(False)


def _strayed(
    overlay: _Overlay, parts: Iterable[Parts], sections: Iterable[tuple[Section, Section]]
) -> Iterator[Strayed]:
    held = _held_by_both(overlay, parts, sections)
    for first, second in parts:
        ends = _other_ends(overlay, first, second)
        if ends is not None and (wanted := _wanted(overlay, *ends, held)) is not None:
            yield Strayed(first, second, *ends, wanted)


def _held_by_both(
    overlay: _Overlay, parts: Iterable[Parts], sections: Iterable[tuple[Section, Section]]
) -> frozenset[str]:
    """The points at which both sides hang: a rail, a common cathode."""
    ends = (_other_ends(overlay, *p) for p in parts)
    by_part = {e[0] for e in ends if e is not None and e[0] == e[1]}
    pairs = ((n, other.net(e)) for one, other in sections for e, n in one.electrodes.items())
    return frozenset(by_part | {net for net, its in pairs if net == its})


def _other_ends(overlay: _Overlay, one: Branch, other: Branch) -> tuple[str, str] | None:
    """The ends of two parts across from those that are twins."""
    straight, crossed = ((other.a, other.b), (other.b, other.a))
    for near, far in (straight, crossed):
        if overlay.nets.get(one.a) == near:
            return one.b, far
        if overlay.nets.get(one.b) == far:
            return one.a, near
    return None


def _wanted(overlay: _Overlay, end: str, other_end: str, held: frozenset[str]) -> str | None:
    """Where the second part would end, were it as the first is; ``None`` where all fits."""
    twin = overlay.nets.get(end)
    if twin == other_end:
        return None
    if end == other_end:
        return twin
    if twin is not None or other_end in overlay.nets:
        return end if twin is None else twin
    still = still_nets(overlay.circuit)
    return end if {end, other_end} <= still and {end, other_end} & held else None


def _in_a_row(circuit: Circuit, found: Sides, strayed: Strayed) -> bool:
    """Whether one side goes on from the other's output, and that one from a stage before it.

    A chain of equal stages, of frequency dividers for instance: through diodes no drive is seen.
    """
    ends = {strayed.end, strayed.other_end} - still_nets(circuit)
    plates = {n for pair in found.sections for s in pair if (n := s.net("plate")) is not None}
    return len(ends) == len(ends - plates) + 1 == 2


def _side_by_side(circuit: Circuit, found: Sides) -> bool:
    """Whether neither side drives the other, unless by a part that ends on the wrong side."""
    if any(_in_a_row(circuit, found, s) for s in found.strayed):
        return False
    joined = (s for s in found.strayed if s.end == s.other_end)
    away = {b.owner for s in joined for b in (s.first, s.second)}
    bare = circuit.without(away) if away else circuit
    return all(independent(bare, *pair) for pair in found.sections if pair[0].kind.amplifies)
