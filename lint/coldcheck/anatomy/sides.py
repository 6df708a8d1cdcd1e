"""Two sides of a circuit laid over each other, and the lead or part that does not fit.

:mod:`~coldcheck.anatomy.twins` starts from parts and stops where two sides differ. Here two tube
sections are laid over each other, electrode by electrode; what is on their points is paired by kind
and lead, and what cannot be paired, or ends elsewhere than its twin, is kept.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import field, replace
from itertools import combinations, islice
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.twins import (
    aside,
    by_electrode,
    contents,
    independent,
    role,
    type_of,
    valued,
)
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
    from typing import TypeVar

    from coldcheck.circuit.model import Branch, Circuit, Section

    Named = TypeVar("Named", Branch, Section)

TRIED = 60
"""Pairs of sections that are laid over each other, so that a large drawing costs no more."""

APART = 2
"""What two points may differ by and still be each other's twins: a lead that went from one to the
other is one too many here and one too few there."""


class NoSidesError(Exception):
    """A part, point or section would be paired with two others: these are no two sides."""


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
    except NoSidesError:
        return None
    return overlay


def _pair_sections(overlay: _Overlay, one: Section, other: Section) -> None:
    known = overlay.sections.get(one.name, other), overlay.sections.get(other.name, one)
    if known != (other, one):
        raise NoSidesError
    if one.name in overlay.sections:
        return
    overlay.sections.update({one.name: other, other.name: one})
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
    if (overlay.nets.get(one, other), overlay.nets.get(other, one)) != (other, one):
        raise NoSidesError
    if one not in overlay.nets:
        overlay.nets.update({one: other, other: one})
        overlay.todo.append((one, other))


def _go_on(overlay: _Overlay, one: str, other: str) -> None:
    """Pair what is on two points, and bind the points behind."""
    for first, second in _matches(overlay, one, other):
        ends = first.other(one), second.other(other)
        if ends == (other, one):
            continue
        _pair_parts(overlay, first, second)
        if ends[0] != ends[1] and _near(overlay.circuit, *ends) and _free(overlay, *ends):
            _bind(overlay, *ends)
    here, there = (by_electrode(overlay.circuit, n) for n in (one, other))
    for key in [k for k in here if k in there]:
        if len(here[key]) == len(there[key]) == 1 and here[key] != there[key]:
            _pair_sections(overlay, here[key][0], there[key][0])


def _free(overlay: _Overlay, one: str, other: str) -> bool:
    """Whether neither point has another twin already."""
    return overlay.nets.get(one, other) == other and overlay.nets.get(other, one) == one


def _pair_parts(overlay: _Overlay, one: Branch, other: Branch) -> None:
    if (overlay.parts.get(one.name, other), overlay.parts.get(other.name, one)) != (other, one):
        raise NoSidesError
    overlay.parts.update({one.name: other, other.name: one})


def _matches(overlay: _Overlay, one: str, other: str) -> list[tuple[Branch, Branch]]:
    """The parts on two points that can only be each other's twins; what is left is kept."""
    circuit = overlay.circuit
    here = [b for b in circuit.at(one) if not aside(b.kind) and other not in (b.a, b.b)]
    there = [b for b in circuit.at(other) if not aside(b.kind) and one not in (b.a, b.b)]
    shared = {b.other(one) for b in here} & {b.other(other) for b in there} | set(LANDMARKS)

    def loose(branch: Branch, net: str) -> Hashable:
        return branch.kind, role(branch, net)

    def rough(branch: Branch, net: str) -> Hashable:
        far = branch.other(net)
        return loose(branch, net), far if far in shared else ""

    def fine(branch: Branch, net: str) -> Hashable:
        return rough(branch, net), contents(circuit).get(branch.other(net))

    found: list[tuple[Branch, Branch]] = []
    for key in (rough, fine, loose):
        new = list(_only(here, there, (one, other), key))
        found += new
        here = [b for b in here if all(b is not p[0] for p in new)]
        there = [b for b in there if all(b is not p[1] for p in new)]
    overlay.left.extend(Lone(b, one, other) for b in here)
    overlay.left.extend(Lone(b, other, one) for b in there)
    return found


def _only(
    here: Iterable[Branch],
    there: Iterable[Branch],
    nets: tuple[str, str],
    key: Callable[[Branch, str], Hashable],
) -> Iterator[tuple[Branch, Branch]]:
    """Those of which there is one with this key on either side."""
    groups: tuple[defaultdict[Hashable, list[Branch]], ...] = defaultdict(list), defaultdict(list)
    for group, branches, net in zip(groups, (here, there), nets, strict=True):
        for branch in branches:
            group[key(branch, net)].append(branch)
    for mark, first in groups[0].items():
        second = groups[1].get(mark, ())
        if len(first) == len(second) == 1:
            yield first[0], second[0]


def _kept(overlay: _Overlay) -> Sides:
    branches, sections = overlay.circuit.branches, {s.name: s for s in overlay.circuit.sections()}
    parts = tuple((branches[n], b) for n, b in _each_once(overlay.parts))
    lone = {e.part.owner: e for e in overlay.left if e.part.name not in overlay.parts and _own(e)}
    return Sides(
        parts,
        tuple((sections[n], s) for n, s in _each_once(overlay.sections)),
        tuple(_strayed(overlay, parts)),
        tuple(lone.values()),
        sum(_unlike(overlay, n, s) for n, s in _each_once(overlay.sections)),
    )


def _own(lone: Lone) -> bool:
    return valued(lone.part.kind) and lone.part.part is not None


def _each_once(paired: Mapping[str, Named]) -> Iterator[tuple[str, Named]]:
    """Of two that are each other's twins the one of the first side, with its twin."""
    seen: set[str] = set()
    for name, other in paired.items():
        if name not in seen:
            yield name, other
        seen |= {name, other.name}


def _unlike(overlay: _Overlay, name: str, other: Section) -> int:
    """How many electrodes of two sections are on points that are no twins."""
    one = next(s for s in overlay.circuit.sections() if s.name == name)
    fits = [
        net == other.net(electrode) or overlay.nets.get(net) == other.net(electrode)
        for electrode, net in one.electrodes.items()
    ]
    return fits.count(False)


def _strayed(overlay: _Overlay, parts: Iterable[tuple[Branch, Branch]]) -> Iterator[Strayed]:
    held = _held_by_both(overlay, parts)
    for first, second in parts:
        ends = _other_ends(overlay, first, second)
        if ends is not None and (wanted := _wanted(overlay, *ends, held)) is not None:
            yield Strayed(first, second, *ends, wanted)


def _held_by_both(overlay: _Overlay, parts: Iterable[tuple[Branch, Branch]]) -> frozenset[str]:
    """The points at which both sides hang: a rail, a common cathode."""
    ends = [e for p in parts if (e := _other_ends(overlay, *p)) is not None]
    sections = {s.name: s for s in overlay.circuit.sections()}
    ends += [
        (net, other)
        for name, twin in overlay.sections.items()
        for electrode, net in sections[name].electrodes.items()
        if (other := twin.net(electrode)) is not None
    ]
    return frozenset(one for one, other in ends if one == other)


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


def _side_by_side(circuit: Circuit, found: Sides) -> bool:
    """Whether neither side drives the other, unless by a part that ends on the wrong side."""
    joined = (s for s in found.strayed if s.end == s.other_end)
    away = {b.owner for s in joined for b in (s.first, s.second)}
    bare = _without(circuit, away) if away else circuit
    return all(independent(bare, *pair) for pair in found.sections if pair[0].kind.amplifies)


def _without(circuit: Circuit, owners: set[str]) -> Circuit:
    """The circuit without some parts, for questions to its graph."""
    graph = circuit.graph.copy()
    away = [b for b in circuit.branches.values() if b.owner in owners]
    graph.remove_edges_from([(b.a, b.b, b.name) for b in away])
    kept = {n: b for n, b in circuit.branches.items() if b.owner not in owners}
    return replace(circuit, graph=graph, branches=kept)
