"""Wires that may have been drawn wrongly: one too few, one too many, one to another point."""

from __future__ import annotations

from functools import partial
from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.loose import attachments, wired_points
from coldcheck.anatomy.suspect import Likely, Suspect
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.spelled_leads import point_of
from coldcheck.drawing.model import Chain
from coldcheck.drawing.redrawn import Wire, ends_moved, point_moved, unwired, wired

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.vicinity import Vicinity
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.model import Point


def loose_ends(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A wire left out: an end that hangs in the air to gnd, or to another such end."""
    loose = _loose(circuit, near)
    for net, name in loose.items():
        likely = Likely.USUAL if near.nets.get(net) == 0 else Likely.COMMON
        yield _joined(circuit, net, name, GROUND, likely, near)
    for (net, one), (_, other) in combinations(loose.items(), 2):
        yield _joined(circuit, net, one, other, Likely.USUAL, near)
    named = {p for p, n in circuit.points.items() if n in circuit.graph and "." not in p}
    for net, name in loose.items():
        for other in sorted(named - set(loose.values())):
            if _a_slip_apart(name, other) and other not in LANDMARKS:
                yield _joined(circuit, net, name, other, Likely.USUAL, near)


def _loose(circuit: Circuit, near: Vicinity) -> dict[str, str]:
    """Net -> name of the near ends that the drawing leaves in the air."""
    drawn = wired_points(circuit)
    found = {n: drawn[n] for n in near.nets if n in drawn and len(attachments(circuit, n)) < 2}
    for section in circuit.sections():
        if section.name in near.owners:
            own = [
                (e, n) for e, n in section.electrodes.items() if len(attachments(circuit, n)) < 2
            ]
            if len(own) < len(section.electrodes):
                found |= {n: f"{section.name}.{e}" for e, n in own if n not in LANDMARKS}
    return found


def _a_slip_apart(one: str, other: str) -> bool:
    """Whether two names are of one length and differ in one sign."""
    return len(one) == len(other) > 1 and sum(a != b for a, b in zip(one, other, strict=True)) == 1


def _joined(
    circuit: Circuit, net: str, one: str, other: str, likely: Likely, near: Vicinity
) -> Suspect:
    span = circuit.span(one)
    ends = (point_of(one, span), point_of(other, span))
    at = (one,) if other == GROUND else (one, other)
    return Suspect(
        at, span, f"{one} leads nowhere", f"wired to {other}",
        f"Look at the original again: {one} is likely meant to be wired to {other}",
        likely, near.nets.get(net, 1), partial(wired, circuit.drawing, *ends),
    )  # fmt: skip


def wires_too_many(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A wire that may be too much: one across a part, or from a near lead to elsewhere."""
    shorted = {b.a for b in circuit.branches.values() if b.a == b.b and b.owner in near.owners}
    for chain in circuit.drawing.statements:
        for k, link in enumerate(chain.links if isinstance(chain, Chain) else ()):
            ends = chain.points[k : k + 2] if isinstance(chain, Chain) and link is None else ()
            names = [p.text for p in ends if p is not None]
            nets = {circuit.points.get(n) for n in names}
            if len(names) < 2 or not (nets & shorted or _beside(near, ends)):
                continue
            likely = Likely.USUAL if nets & shorted else Likely.SELDOM
            yield Suspect(
                (names[0], names[1]), chain.span, f"a wire joins {names[0]} and {names[1]}",
                "without it", f"Look at the original again: is {names[0]} wired to {names[1]}?",
                likely, 1, partial(unwired, circuit.drawing, Wire(chain.span, k)),
            )  # fmt: skip


def _beside(near: Vicinity, ends: tuple[Point | None, ...]) -> bool:
    """Whether an end of a wire is a lead of what a finding names."""
    return any(p is not None and near.owners.get(_owner(p)) == 0 for p in ends)


def _owner(point: Point) -> str:
    stem = (point.lead or "").rpartition(".")[0]
    return f"{point.owner}.{stem}" if stem else point.owner


def moved_ends(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """An end of a near part, or of a near wire, on a neighbouring point instead."""
    for chain in circuit.drawing.statements:
        for k, link in enumerate(chain.links if isinstance(chain, Chain) else ()):
            ends = chain.points[k : k + 2] if isinstance(chain, Chain) else ()
            if None in ends:
                continue
            one, other = (p for p in ends if p is not None)
            if link is None:
                yield from _wire_moved(circuit, near, one, other)
                yield from _wire_moved(circuit, near, other, one)
            elif near.owners.get(link.name, 9) <= 1 and link.name in circuit.branches:
                yield from _part_moved(circuit, near, circuit.branches[link.name], (one, other))


def _targets(circuit: Circuit, near: Vicinity, not_on: set[str]) -> Iterator[str]:
    """The neighbouring points a lead may have been meant for, by name."""
    for net in (GROUND, *near.nets):
        names = circuit.names.get(net, ())
        if net not in not_on and names and ":" not in names[0]:
            yield GROUND if net == GROUND else names[0]


def _part_moved(
    circuit: Circuit, near: Vicinity, branch: Branch, ends: tuple[Point, Point]
) -> Iterator[Suspect]:
    assert branch.part is not None
    on = {circuit.points.get(p.text, p.text) for p in ends}
    for end, point in enumerate(ends):
        for name in _targets(circuit, near, on):
            yield Suspect(
                (branch.owner,), branch.part.span, f"{branch.owner} goes to {point.text}",
                f"to {name}", f"Look at the original again: {branch.owner} is likely meant to go "
                f"to {name} instead of {point.text}", Likely.SELDOM, near.owners[branch.owner],
                partial(ends_moved, circuit.drawing, branch.part.span, end,
                        point_of(name, point.span)),
            )  # fmt: skip


def _wire_moved(circuit: Circuit, near: Vicinity, kept: Point, moved: Point) -> Iterator[Suspect]:
    """A lead of what a finding names, wired to another point than drawn."""
    if near.owners.get(_owner(kept)) != 0:
        return
    on = {circuit.points.get(p.text, p.text) for p in (kept, moved)}
    for name in _targets(circuit, near, on):
        yield Suspect(
            (kept.text,), kept.span, f"{kept.text} is wired to {moved.text}", f"on {name}",
            f"Look at the original again: {kept.text} is likely meant to be wired to {name} "
            f"instead of {moved.text}", Likely.SELDOM, 0,
            partial(point_moved, circuit.drawing, moved.span, point_of(name, moved.span)),
        )  # fmt: skip
