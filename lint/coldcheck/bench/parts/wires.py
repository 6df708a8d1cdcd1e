"""Every lead and socket pin of a drawing, each with the point it is on and what it meets there."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeGuard

from coldcheck.anatomy.neighbourhood import is_own
from coldcheck.bench.chart.points import shown_name, socket_pins
from coldcheck.bench.parts.items import Sort, items
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.lines import without_comment
from coldcheck.drawing.model import Compound, CompoundLine, SignalLine
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.parts.items import Item
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.model import Statement


@dataclass(frozen=True, slots=True)
class Lead:
    """One lead of a part.

    label
        ``+``, ``anode``, ``wiper``, ``ht.1``; the pin's number at a socket.
    electrode
        What is on the pin.
    point
        The landmark or the designer's name for where it is, if there is one.
    joins
        The other leads there; none are listed at ``gnd`` and its like, where half the set meets.
    use
        What a pin without a wire is: as the chart says it.
    """

    label: str
    electrode: str
    point: str
    joins: tuple[str, ...]
    use: str = ""


@dataclass(frozen=True, slots=True)
class Wired:
    """A part, as the drawing writes it where it is on a wire, and its leads."""

    name: str
    written: str
    leads: tuple[Lead, ...]


@dataclass(frozen=True, slots=True)
class _End:
    """A lead before it is known what it meets; ``net`` is ``None`` where nothing is on it."""

    label: str
    electrode: str
    net: str | None
    called: str
    use: str = ""


def wires(circuit: Circuit) -> tuple[Wired, ...]:
    """The parts in the order of the catalogue, sockets and transformers first."""
    found = sorted(items(circuit), key=lambda i: i.sort not in _FIRST)
    boxes = {line.name: line for line in circuit.drawing.statements if _boxed(line)}
    inner = {x.part.name for line in boxes.values() for x in line.inside}
    ends = {
        item.name: (item.written or f"{item.name} {item.value}", tuple(_ends(circuit, item)))
        for item in found
        if item.name not in inner
    }
    for name, box in boxes.items():
        words = " ".join(without_comment(circuit.drawing.line(box.span)).split()[1:])
        ends[name] = (words, tuple(_box(circuit, box)))
    meets: dict[str, list[str]] = {}
    for line in circuit.drawing.statements:
        if isinstance(line, SignalLine):
            meets.setdefault(circuit.points[line.name], []).append("the signal")
    for _, own in ends.values():
        for end in own:
            if end.net is not None:
                meets.setdefault(end.net, []).append(end.called)
    return tuple(
        Wired(name, written, tuple(_lead(circuit, end, meets) for end in own))
        for name, (written, own) in ends.items()
    )


def _boxed(line: Statement) -> TypeGuard[CompoundLine]:
    """Whether it is one box with leads of its own, and no two parts that only share a case."""
    return isinstance(line, CompoundLine) and line.sort is not Compound.OPTOCOUPLER


def _box(circuit: Circuit, line: CompoundLine) -> Iterator[_End]:
    for lead in line.leads:
        called = f"{line.name}.{lead}"
        yield _End(lead, "", circuit.points.get(called), called)


_FIRST = (Sort.TUBE, Sort.TRANSFORMER, Sort.OUTPUT)


def _lead(circuit: Circuit, end: _End, meets: Mapping[str, list[str]]) -> Lead:
    if end.net is None:
        return Lead(end.label, end.electrode, "", (), end.use or "unwired")
    mark = next((n for n in LANDMARKS if circuit.points.get(n) == end.net), None)
    if mark is not None:
        return Lead(end.label, end.electrode, mark, ())
    others = list(meets[end.net])
    others.remove(end.called)
    name = shown_name(circuit, end.net)
    made_up = is_own(name)
    use = "" if others else "alone"
    return Lead(end.label, end.electrode, name if made_up else "", tuple(others), use)


def _ends(circuit: Circuit, item: Item) -> Iterator[_End]:
    if item.sort is Sort.TUBE:
        for pin in socket_pins(circuit, circuit.tubes[item.name]):
            called = f"{item.name}:{pin.label} {pin.lead}".rstrip()
            yield _End(pin.label, pin.lead, None if pin.use else pin.net, called, pin.use)
        return
    branch = circuit.branches.get(item.name)
    if item.sort not in _DECLARED and branch is not None:
        for label, net in _two(item.sort, branch):
            called = item.name if label in _EITHER else f"{item.name} {label}"
            yield _End(label, "", net, called)
        return
    for lead, net in _declared(circuit, item):
        yield _End(lead, "", net, f"{item.name}.{lead}")


_DECLARED = (Sort.TRANSFORMER, Sort.OUTPUT, Sort.COIL, Sort.CONTROL)
_EITHER = ("one end", "other end")


def _two(sort: Sort, branch: Branch) -> tuple[tuple[str, str], tuple[str, str]]:
    """The two leads of a part on the wire."""
    if branch.plus is not None:
        minus = branch.other(branch.plus)
        return ("+", branch.plus), ("-", minus)
    if sort is Sort.SOURCE:
        return ("+", branch.a), ("-", branch.b)
    if branch.traits.one_way:
        return ("anode", branch.a), ("cathode", branch.b)
    if sort is Sort.JACK:
        return ("tip", branch.a), ("sleeve", branch.b)
    return (_EITHER[0], branch.a), (_EITHER[1], branch.b)


def _declared(circuit: Circuit, item: Item) -> Iterator[tuple[str, str]]:
    """The leads of what has a statement of its own, in the order they are known."""
    if item.sort is Sort.TRANSFORMER:
        yield from next(w for w in circuit.windings() if w.name == item.name).leads
        return
    if item.sort is Sort.COIL:
        yield from next(c for c in circuit.coils() if c.name == item.name).leads
        return
    if item.sort is Sort.OUTPUT:
        yield from circuit.outputs[item.name].leads
        return
    if item.sort is Sort.CONTROL:
        yield from ((x, circuit.points[f"{item.name}.{x}"]) for x in ("top", "wiper", "bottom"))
        return
    start = f"{item.name}."
    for point, net in circuit.points.items():
        if point.startswith(start):
            yield point.removeprefix(start), net
