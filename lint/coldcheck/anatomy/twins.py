"""What a circuit contains twice: two channels, the halves of a push-pull stage, part beside part.

From two parts of a kind one goes on along both sides at once and pairs what is alike by kind, lead
and type of tube, never by value or name. It ends at points both sides share, at landmarks, and
where the sides differ. A part that would have to be paired with two others is of a chain: the
stages of a cascade are alike too, and no twins.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import behind, outputs
from coldcheck.anatomy.coupling import still_nets
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.once import once
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping
    from typing import TypeVar

    from coldcheck.circuit.model import Branch, Circuit, Section

    Pair = tuple[str, str]
    Thing = TypeVar("Thing", Branch, Section)
    Named = TypeVar("Named", str, Branch, Section)
    Content = tuple[tuple[str, ...], ...]

MIRRORED = frozenset({PartKind.WINDING, PartKind.HEATER})
"""Their halves lie head to tail, and are mirrored in a push-pull stage: which end is which is no
difference there."""


def valued(kind: PartKind) -> bool:
    """Whether a part is one whose value is compared."""
    return kind in (PartKind.RESISTOR, PartKind.CAPACITOR) or kind is PartKind.INDUCTOR


def aside(kind: PartKind) -> bool:
    """Whether a part on one side only changes nothing: a jack's switch, a signal written there."""
    return kind in (PartKind.JACK_CONTACT, PartKind.SIGNAL) or kind is PartKind.METER


class OtherwiseWiredError(Exception):
    """A part or point is its twin's twin and another's too."""


@dataclass(frozen=True, slots=True)
class Twins:
    """Two sides that are alike: the pairs of parts with a value, and those of tube sections."""

    parts: tuple[tuple[Branch, Branch], ...]
    sections: tuple[tuple[Section, Section], ...]


@dataclass(frozen=True, slots=True)
class _Walk:
    circuit: Circuit
    content: Mapping[str, Content]
    nets: dict[str, str] = field(default_factory=dict)
    parts: dict[str, Branch] = field(default_factory=dict)
    sections: dict[str, Section] = field(default_factory=dict)


def candidates(circuit: Circuit) -> Iterator[tuple[Branch, ...]]:
    """Parts of one kind between points with the same on them, two or more, in drawing order."""
    classes: dict[Hashable, list[Branch]] = defaultdict(list)
    for branch in circuit.branches.values():
        if valued(branch.kind) and branch.part is not None and branch.value is not None:
            classes[_mark(circuit, branch)].append(branch)
    yield from (tuple(found) for found in classes.values() if len(found) > 1)


def twins(circuit: Circuit, one: Branch, other: Branch) -> Twins | None:
    """All that goes with two parts on either side; ``None`` where they are none.

    Parts between the same two points are not twins, they are one part.
    """
    if {one.a, one.b} == {other.a, other.b}:
        return None
    for ends in ((other.a, other.b), (other.b, other.a)):
        walk = _Walk(circuit, contents(circuit))
        if role(one, one.a) != role(other, ends[0]):
            continue
        if all(_alike(walk, n, m) for n, m in zip((one.a, one.b), ends, strict=True)):
            try:
                _pair_parts(walk, one, other)
                _go(walk, [(one.a, ends[0]), (one.b, ends[1])])
            except OtherwiseWiredError:
                continue
            return _found(walk)
    return None


def independent(circuit: Circuit, one: Section, other: Section) -> bool:
    """Whether two sections do the same work side by side, and nobody chose between them.

    Neither drives the other, unless by the tail they share; and they hear something in common (the
    halves of a push-pull stage) or end at different outputs (stereo). Channels for different inputs
    that are mixed are voiced differently on purpose.
    """
    if tails(circuit, one) & tails(circuit, other):
        return True
    first, second = behind(circuit, one), behind(circuit, other)
    if other.name in first or one.name in second:
        return False
    return bool(first & second) or not outputs(circuit, one) & outputs(circuit, other)


def tails(circuit: Circuit, section: Section) -> set[str]:
    """A cathode's point and what a resistor leads to from it, where a signal can be on them."""
    cathode, still = section.net("cathode"), still_nets(circuit)
    if cathode is None or cathode in still:
        return set()
    return {cathode, *(b.other(cathode) for b in circuit.at(cathode) if b.traits.steady)} - still


@once
def contents(circuit: Circuit) -> dict[str, Content]:
    """Net -> what is on it, without names and values: kinds with the lead, tubes with electrode."""
    found: dict[str, list[tuple[str, ...]]] = defaultdict(list)
    for branch in circuit.branches.values():
        for net in () if aside(branch.kind) else (branch.a, branch.b):
            found[net].append((branch.kind.value, role(branch, net), _far(branch.other(net))))
    for net, sections in _occupants(circuit).items():
        found[net] += [(type_of(circuit, s), s.kind.value, e) for s, e in sections]
    return {net: tuple(sorted(on)) for net, on in found.items()}


@once
def _occupants(circuit: Circuit) -> dict[str, list[tuple[Section, str]]]:
    """Net -> the electrodes on it."""
    found: dict[str, list[tuple[Section, str]]] = defaultdict(list)
    for section in circuit.sections():
        for electrode, net in section.electrodes.items():
            found[net].append((section, electrode))
    return found


def type_of(circuit: Circuit, section: Section) -> str:
    """The name of the type of tube a section is of."""
    return circuit.tubes[section.tube].type.name


def _mark(circuit: Circuit, branch: Branch) -> Hashable:
    content = contents(circuit)
    ends = ((role(branch, n), n if n in LANDMARKS else content[n]) for n in (branch.a, branch.b))
    return branch.kind, frozenset(ends)


def role(branch: Branch, net: str) -> str:
    """Which lead of a part is on a net; "" where its leads are alike."""
    if branch.plus is not None:
        return "+" if net == branch.plus else "-"
    if valued(branch.kind) or branch.kind in MIRRORED:
        return ""
    return "a" if net == branch.a else "b"


def _far(net: str) -> str:
    return net if net in LANDMARKS else ""


def _alike(walk: _Walk, one: str, other: str) -> bool:
    """Whether two points may be twins: one and the same, or with the same on them."""
    if one == other:
        return True
    landmark = one in LANDMARKS or other in LANDMARKS
    return not landmark and walk.content.get(one) == walk.content.get(other)


def _go(walk: _Walk, todo: list[Pair]) -> None:
    while todo:
        one, other = todo.pop()
        if one == other or not taken(walk.nets, (one, other), one, other):
            continue
        todo += _beside(walk, one, other)


def taken(known: dict[str, Named], names: Pair, one: Named, other: Named) -> bool:
    """Take two for each other's twins, by name; whether that is new.

    Raises OtherwiseWiredError where either of them has another twin.
    """
    first, second = names
    if (known.get(first, other), known.get(second, one)) != (other, one):
        raise OtherwiseWiredError
    new = first not in known
    known.update({first: other, second: one})
    return new


def each_once(paired: Mapping[str, Thing]) -> Iterator[tuple[Thing, Thing]]:
    """The pairs of parts or sections, the one that was taken first in front."""
    seen: set[str] = set()
    for name, other in paired.items():
        if name not in seen:
            yield paired[other.name], other
        seen |= {name, other.name}


def _beside(walk: _Walk, one: str, other: str) -> Iterator[Pair]:
    """Pair what is on two points, and give the points it leads to."""
    for first, second in _matches(walk, one, other):
        ends = first.other(one), second.other(other)
        if ends != (other, one) and _alike(walk, *ends):
            _pair_parts(walk, first, second)
            yield ends
    for pair in sections_on(walk.circuit, one, other):
        yield from _pair_sections(walk, *pair)


def _pair_parts(walk: _Walk, one: Branch, other: Branch) -> None:
    if one is other or {one.a, one.b} == {other.a, other.b}:
        return
    taken(walk.parts, (one.name, other.name), one, other)


def _pair_sections(walk: _Walk, one: Section, other: Section) -> Iterator[Pair]:
    if not taken(walk.sections, (one.name, other.name), one, other):
        return
    for electrode, net in one.electrodes.items():
        its = other.net(electrode)
        if its is not None and _alike(walk, net, its):
            yield net, its


def sections_on(circuit: Circuit, one: str, other: str) -> Iterator[tuple[Section, Section]]:
    """Of each type, kind and electrode the one on a point with the one on its twin."""
    here, there = _by_electrode(circuit, one), _by_electrode(circuit, other)
    for key in [k for k in here if k in there]:
        if len(here[key]) == len(there[key]) == 1 and here[key] != there[key]:
            yield here[key][0], there[key][0]


def _by_electrode(circuit: Circuit, net: str) -> dict[tuple[str, str, str], list[Section]]:
    """What has electrodes on a net, by type of tube, kind of section and electrode."""
    found = defaultdict(list)
    for section, electrode in _occupants(circuit).get(net, ()):
        found[type_of(circuit, section), section.kind.value, electrode].append(section)
    return found


def _matches(walk: _Walk, one: str, other: str) -> list[tuple[Branch, Branch]]:
    """The parts on two points that can only be each other's twins."""
    here, there = walk.circuit.at(one), walk.circuit.at(other)
    return matched(walk.circuit, (one, other), here, there).pairs


@dataclass(frozen=True, slots=True)
class Matched:
    """The parts on two points that can only be each other's twins, and those left over."""

    pairs: list[tuple[Branch, Branch]]
    here: list[Branch]
    there: list[Branch]


def matched(
    circuit: Circuit, nets: Pair, here: list[Branch], there: list[Branch], *, anywhere: bool = False
) -> Matched:
    """Pair parts by kind and lead, and by where they lead: to gnd, to a shared point, to alike.

    ``anywhere``: what is left by kind and lead alone, wherever it leads.
    """
    one, other = nets
    shared = {b.other(one) for b in here} & {b.other(other) for b in there} | set(LANDMARKS)

    def loose(branch: Branch, net: str) -> Hashable:
        return branch.kind, role(branch, net)

    def rough(branch: Branch, net: str) -> Hashable:
        far = branch.other(net)
        return loose(branch, net), far if far in shared else ""

    def fine(branch: Branch, net: str) -> Hashable:
        return rough(branch, net), contents(circuit).get(branch.other(net))

    pairs: list[tuple[Branch, Branch]] = []
    for key in (rough, fine, loose) if anywhere else (rough, fine):
        first, second = _grouped(here, one, key), _grouped(there, other, key)
        only = [m for m in first if m in second and len(first[m]) == len(second[m]) == 1]
        pairs += [(first[m][0], second[m][0]) for m in only]
        here = [b for b in here if all(b is not p[0] for p in pairs)]
        there = [b for b in there if all(b is not p[1] for p in pairs)]
    return Matched(pairs, here, there)


def _grouped(
    branches: Iterable[Branch], net: str, key: Callable[[Branch, str], Hashable]
) -> dict[Hashable, list[Branch]]:
    found = defaultdict(list)
    for branch in branches:
        found[key(branch, net)].append(branch)
    return found


def _found(walk: _Walk) -> Twins:
    """What was paired, each pair once, in drawing order."""
    parts = tuple(p for p in each_once(walk.parts) if valued(p[0].kind))
    return Twins(parts, tuple(each_once(walk.sections)))
