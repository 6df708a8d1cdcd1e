"""Wires that may have been drawn wrongly: one too few, one too many, one to another point."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.loose import attachments, in_the_air, wired_points
from coldcheck.anatomy.misfed import fed_past_capacitor
from coldcheck.anatomy.ordinary import Place, place_of
from coldcheck.anatomy.published import wants_bias
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.roads import wired_to
from coldcheck.anatomy.supplies import negative_lines, rectified
from coldcheck.anatomy.suspect import Likely, Suspect
from coldcheck.anatomy.tail import leaks_past_a_tail
from coldcheck.anatomy.unused_dividers import unused_dividers
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.spelled_leads import key_of, owners_of, point_of
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Chain, JackLine, PotLine
from coldcheck.drawing.redrawn import Wire, ends_moved, point_moved, unwired, wired
from coldcheck.drawing.units import magnitude
from coldcheck.drawing.wording import listed
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.vicinity import Vicinity
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.drawing.model import Drawing, Part, Point


def loose_ends(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A wire left out: an end that hangs in the air to gnd, or to a point named almost so."""
    loose = _loose(circuit, near)
    for net, name in loose.items():
        likely = Likely.USUAL if near.nets.get(net) == 0 else Likely.COMMON
        yield _joined(circuit, net, name, GROUND, likely, near)
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
    """A wire that may be too much: one across a part."""
    shorted = {
        b.a: b.owner for b in circuit.branches.values() if b.a == b.b and b.owner in near.owners
    }
    for wire, one, other in _wires(circuit):
        names = (one.text, other.text)
        nets = {circuit.points.get(n) for n in names}
        if nets & set(shorted):
            yield Suspect(
                (next(shorted[n] for n in nets if n in shorted), *names), wire.chain,
                f"a wire joins {names[0]} and {names[1]}", "without it",
                 f"Look at the original again: is {names[0]} wired to {names[1]}?",
                Likely.USUAL, 1, partial(unwired, circuit.drawing, wire),
            )  # fmt: skip


def grounded_taps(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A wire from a named point on a near winding to gnd, as if the point were a centre tap."""
    windings = {w.name for w in circuit.windings() if w.name in near.owners}
    leads = [(one, other) for _, one, other in _wires(circuit)]
    on = {b.text for pair in leads for a, b in (pair, pair[::-1]) if _owner(a) in windings}
    for wire, one, other in _wires(circuit):
        name = next((p.text for p in (one, other) if p.text in on), None)
        if name is not None and GROUND in (one.text, other.text) and name != GROUND:
            yield Suspect(
                (name,), wire.chain, f"{name} is wired to gnd", "without that wire",
                f"Look at the original again: is {name} wired to gnd?", Likely.PLAIN, 1,
                partial(unwired, circuit.drawing, wire),
            )  # fmt: skip


def tied_filaments(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A wire from a filament's winding to gnd, past the resistor that was to make the bias."""
    nets = {n for s in circuit.sections() if s.name in near.owners for n in s.cathode_nets}
    windings = {w.name for w in circuit.windings() if not w.primary and nets & set(w.nets)}
    for wire, one, other in _wires(circuit):
        names = (one.text, other.text)
        lead = next((n for n in names if n.rpartition(".")[0] in windings), None)
        if lead is not None and GROUND in names:
            yield Suspect(
                (lead,), wire.chain, f"{lead} is wired to gnd", "without that wire",
                f"Take the wire from {lead} to gnd away, and let the filament stand on its "
                "cathode resistor", Likely.USUAL, 1, partial(unwired, circuit.drawing, wire),
            )  # fmt: skip


def _owner(point: Point) -> str:
    stem = (point.lead or "").rpartition(".")[0]
    return f"{point.owner}.{stem}" if stem else point.owner


def taken_for_another(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A lead written where another lead of the same thing, which hangs in the air, is meant."""
    owners = owners_of(circuit)
    spare = {name: [k for k in dict.fromkeys(owner.leads.values()) if in_the_air(circuit, k)]
             for name, owner in owners.items()}  # fmt: skip
    for chain in (s for s in circuit.drawing.statements if isinstance(s, Chain)):
        for point in chain.points:
            if point is None or near.owners.get(_owner(point), 9) > 1:
                continue
            key, part = key_of(owners, point), _part_at(chain, point)
            for lead in spare.get(point.owner, ()):
                if _of_one_kind(key, lead):
                    wire = part or "one of the wires"
                    yield Suspect(
                        (*((part,) if part else ()), key, lead), point.span,
                        f"{lead} is wired to nothing, and {key} twice", f"with {wire} on {lead}",
                        f"Look at the original again: is {lead} meant where {key} is written"
                        + (f", at {part}?" if part else "?"),
                        Likely.USUAL, near.owners[_owner(point)],
                        partial(point_moved, circuit.drawing, point.span,
                                point_of(lead, point.span)),
                    )  # fmt: skip


def _part_at(chain: Chain, point: Point) -> str:
    """The only part that a statement draws at a point; nothing where there is none, or two."""
    k = chain.points.index(point)
    near = [link.name for link in chain.links[max(k - 1, 0) : k + 1] if link is not None]
    return near[0] if len(near) == 1 else ""


def _of_one_kind(key: str, lead: str) -> bool:
    """No heater for an electrode, no lead of one winding for one of another."""
    warm = ("h1", "h2", "f1", "f2", "tap", "shield")
    ends = [k.rpartition(".")[2] for k in (key, lead)]
    stems = [k.rpartition(".")[0] for k in (key, lead)]
    return stems[0] == stems[1] and not set(ends) & set(warm) and ":" not in key + lead


def moved_ends(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """An end of a near part, or of a near wire, on a neighbouring point instead."""
    for _, link, one, other in _links(circuit):
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
    if branch.plus is not None and any(rectified(circuit, n) for n in (branch.a, branch.b)):
        return  # a supply without its first capacitor is only lower: that mends nothing
    on = {circuit.points.get(p.text, p.text) for p in ends}
    for end, point in enumerate(ends):
        likely = _misplaced(circuit, branch, ends, end)
        fellows = _fellows(circuit, branch, on)
        for name in dict.fromkeys((*fellows, *_targets(circuit, near, on))):
            suits = _suits(likely, name, fellows) or _lit(circuit, branch, ends[1 - end], name)
            way, steps = (end, point.text, name), near.owners[branch.owner]
            yield _goes_to(circuit, branch.part, way, suits or Likely.SELDOM, steps)


def _lit(circuit: Circuit, branch: Branch, kept: Point, name: str) -> Likely | None:
    """How likely a lamp's end belongs to ``name``: across a winding of its own volts it does."""
    if branch.kind is not PartKind.LAMP or branch.part is None or branch.part.voltage is None:
        return None
    ends = {circuit.points.get(n, n) for n in (kept.text, name)}
    volts = (w.volts for w in circuit.windings() if {w.nets[0], w.nets[-1]} == ends)
    near = any(v is not None and abs(magnitude(v / branch.part.voltage, "") - 1) < SAME_VOLTS
               for v in volts)  # fmt: skip
    return Likely.COMMON if near else None


SAME_VOLTS = 0.15
"""A lamp of 6.3 V is not one for a winding of 5 V."""


def _suits(likely: Likely | None, name: str, fellows: dict[str, bool]) -> Likely | None:
    """How likely a misplaced end belongs to ``name``.

    Before all where a part of the same place leads (the other grid's leak, to the bias), else gnd.
    """
    if likely is None or (name != GROUND and name not in fellows):
        return None
    first = fellows.get(name, False) if any(fellows.values()) else name == GROUND
    return Likely(likely + 1) if first else likely


def _fellows(circuit: Circuit, branch: Branch, on: set[str]) -> dict[str, bool]:
    """Where the other parts of that kind and value lead, by name: this one may belong there.

    With it whether one of them stands in the same place of its stage.
    """
    every = (b for b in circuit.branches.values() if b.kind == branch.kind)
    alike = [b for b in every if b.value == branch.value and b.name != branch.name]
    place, found = place_of(circuit, branch), dict[str, bool]()
    for other in alike:
        same = place is not None and place_of(circuit, other) == place
        for net in {other.a, other.b} - on:
            name = GROUND if net == GROUND else next(iter(circuit.names[net]), "")
            found[name] = found.get(name, False) or (same and not circuit.electrodes_at(net))
    return {name: found[name] for name in sorted(found) if name}


def _misplaced(
    circuit: Circuit, branch: Branch, ends: tuple[Point, Point], end: int
) -> Likely | None:
    """Whether a part's end is where none of its kind goes: a grid's leak on a supply, say."""
    kept, moved = (circuit.points.get(p.text, p.text) for p in (ends[1 - end], ends[end]))
    if branch.kind is PartKind.SOURCE:
        return Likely.COMMON if _lights(circuit, kept, GROUND) and moved != GROUND else None
    if branch.kind != PartKind.RESISTOR or moved == GROUND:
        return None
    place = place_of(circuit, branch)
    fed = any(
        b.plus == moved or (b.kind == PartKind.SOURCE and b.a == moved) for b in circuit.at(moved)
    )
    leak = place in (Place.SMALL_LEAK, Place.POWER_LEAK) and fed and not _has_foot(circuit, kept)
    cathode = any(e == "cathode" for _, e in circuit.electrodes_at(kept))
    strange = fed or any(e in ("grid", "plate") for _, e in circuit.electrodes_at(moved))
    return Likely.COMMON if leak or (cathode and strange) or kept == moved else None


def _lights(circuit: Circuit, one: str, other: str) -> bool:
    """Whether a heater lies between two nets, a switch before it or not: its feed is on both."""
    return any(
        b.kind is PartKind.HEATER and b.other(net) == other
        for net in wired_to(circuit, one)
        for b in circuit.at(net)
    )


def _has_foot(circuit: Circuit, net: str) -> bool:
    """Whether a resistor leads from a grid's side to gnd: one from a supply is a divider's then."""
    return any(b.kind is PartKind.RESISTOR and b.other(net) == GROUND for b in circuit.at(net))


def _wire_moved(circuit: Circuit, near: Vicinity, kept: Point, moved: Point) -> Iterator[Suspect]:
    """A lead of what a finding names, wired to another supply point than drawn."""
    taps = kept.lead in ("screen", "g2") or "." in (kept.lead or "")
    if near.owners.get(_owner(kept)) != 0 or not taps or not _is_supply(circuit, moved):
        return
    on = {circuit.points.get(p.text, p.text) for p in (kept, moved)}
    named = {p.text: p for p in _points(circuit) if _is_supply(circuit, p)}
    for name in sorted(named):
        if circuit.points.get(name, name) not in on:
            yield Suspect(
                (kept.text,), kept.span, f"{kept.text} is wired to {moved.text}", f"on {name}",
                f"Look at the original again: {kept.text} is likely meant to be wired to {name} "
                f"instead of {moved.text}", Likely.SELDOM, 0,
                partial(point_moved, circuit.drawing, moved.span, point_of(name, moved.span)),
            )  # fmt: skip


def wrong_side(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """What belongs behind a coupling capacitor and is drawn ahead of it: a jack, a grid's leak."""
    jacks = {line.name for line in circuit.drawing.statements if isinstance(line, JackLine)}
    for link, end, kept, moved in _ends(circuit):
        if link is None and kept.owner in jacks and kept.lead == "tip":
            yield from _jack_behind(circuit, near, kept, moved)
        elif link is not None and link.kind is PartKind.RESISTOR:
            yield from _leak_behind(circuit, near, link, moved, end)


def misfed_plates(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A plate's feed drawn behind the capacitor that takes the signal away from the plate."""
    misfed = [m for m in fed_past_capacitor(circuit) if m.section.name in near.owners]
    for link, end, _, moved in _ends(circuit) if misfed else ():
        for found in misfed:
            at = circuit.points.get(moved.text, moved.text)
            if link is not None and link.name == found.feed.owner and at == found.far:
                steps = near.owners[found.section.name]
                side = f", the plate's side of {found.capacitor.owner}"
                to = End(moved.text, circuit.names[found.near][0], side)
                yield _end_on(circuit, link, end, to, Likely.USUAL, steps)


def _behind(circuit: Circuit, point: Point) -> list[tuple[str, str]]:
    """The nets one capacitor away, with the names they have; none that is a landmark."""
    net = circuit.points.get(point.text, "")
    if net in LANDMARKS:
        return []
    held = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR) if net else ()
    nets = dict.fromkeys(b.other(net) for b in held)
    return [(n, circuit.names[n][0]) for n in nets if n not in LANDMARKS and circuit.names.get(n)]


def _jack_behind(circuit: Circuit, near: Vicinity, tip: Point, at: Point) -> Iterator[Suspect]:
    if circuit.points.get(at.text) not in near.nets:
        return
    for _, name in _behind(circuit, at):
        to = End(at.text, name, f", behind the capacitor, instead of {at.text}")
        yield _lead_on(circuit, tip, at, to, Likely.USUAL)


def _leak_behind(
    circuit: Circuit, near: Vicinity, part: Part, moved: Point, end: int
) -> Iterator[Suspect]:
    """A leak to gnd or a bias whose upper end is on the driver's side of a grid that has none."""
    for net, name in _behind(circuit, moved):
        if net in near.nets and _grid_without_return(circuit, net):
            to = End(moved.text, name, ", the grid's side of the capacitor")
            yield _end_on(circuit, part, end, to, Likely.USUAL, near.nets[net])


def _grid_without_return(circuit: Circuit, net: str) -> bool:
    """Whether a point leads to a grid, and by metal to nothing that holds it."""
    nets = list(reach(circuit, [net]))
    grids = any(e == "grid" for n in nets for _, e in circuit.electrodes_at(n))
    return grids and not set(nets) & set(LANDMARKS)


def past_the_tail(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """Leaks of grids on gnd where the cathodes stand on a tail: they belong on the bias resistor.

    Those of a pair go together: one of them alone leaves the other half as it is.
    """
    wrong = {leak.owner: foot for s in circuit.sections() if s.name in near.owners
             for leak, foot in leaks_past_a_tail(circuit, s)}  # fmt: skip
    ends = {
        link.name: (link, end)
        for _, link, *points in _links(circuit) if link is not None and link.name in wrong
        for end, point in enumerate(points) if point.text == GROUND
    }  # fmt: skip
    for foot in dict.fromkeys(wrong.values()):
        moved = [(*ends[name], foot) for name in wrong if wrong[name] == foot and name in ends]
        if moved:
            yield _leaks_moved(circuit, moved)


def _leaks_moved(circuit: Circuit, moved: list[tuple[Part, int, str]]) -> Suspect:
    names, foot = [link.name for link, _, _ in moved], moved[0][2]
    are, lifted = ("is", "the cathode") if len(names) == 1 else ("are", "the cathodes")
    return Suspect(
        tuple(names), moved[0][0].span, f"{listed(names)} {are} on gnd", f"on {foot}",
        f"Look at the original again: {listed(names)} {are} likely meant to be on {foot}, which "
        f"is lifted with {lifted}",
        Likely.PLAIN, 1, partial(_with_ends_moved, circuit.drawing, moved),
    )  # fmt: skip


def _with_ends_moved(drawing: Drawing, moved: list[tuple[Part, int, str]]) -> Drawing:
    for link, end, name in moved:
        drawing = ends_moved(drawing, link.span, end, point_of(name, link.span))
    return drawing


def unused_points(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """What is on gnd, where a divided voltage is made that nothing uses: heaters, a grid's leak.

    Or what is fed from the divider's upper end, and is meant to have less.
    """
    yield from _fed_from_above(circuit)
    names = [d.name for d in unused_dividers(circuit)]
    ends = [End(GROUND, name, ", on which nothing hangs", also=(name,)) for name in names]
    leads = _heater_leads(circuit, near) if names else set()
    for link, end, kept, moved in _ends(circuit) if names else ():
        if moved.text != GROUND:
            continue
        if link is None and kept.text in leads:
            yield from (_lead_on(circuit, kept, moved, to, Likely.PLAIN) for to in ends)
        elif link is not None and _holds_a_grid(circuit, link, kept, near):
            yield from (_end_on(circuit, link, end, to, Likely.PLAIN, 1) for to in ends)


def _fed_from_above(circuit: Circuit) -> Iterator[Suspect]:
    """Resistors from the supply of a divider that nothing hangs on, to a plate or screen."""
    for divider in unused_dividers(circuit):
        source = divider.upper.other(circuit.points[divider.name])
        for link, end, kept, moved in _ends(circuit):
            if link is None or link.kind is not PartKind.RESISTOR:
                continue
            from_there = circuit.points.get(moved.text, moved.text) == source
            at = circuit.electrodes_at(circuit.points.get(kept.text, kept.text))
            fed = [s.name for s, e in at if e in ("plate", "screen")]
            if from_there and fed:
                also = (divider.name, *fed)
                to = End(moved.text, divider.name, ", on which nothing hangs", also)
                yield _end_on(circuit, link, end, to, Likely.PLAIN, 1)


def _heater_leads(circuit: Circuit, near: Vicinity) -> set[str]:
    """The leads of the windings that heat the tubes of what was found."""
    tubes = {s.tube for s in circuit.sections() if s.name in near.owners}
    lines = (x for x in heater_lines(circuit) if any(t.name in tubes for t in x.tubes))
    windings = [w for line in lines for w in line.windings]
    return {f"{w.name}.{lead}" for w in windings for lead, _ in w.leads}


def _holds_a_grid(circuit: Circuit, link: Part, kept: Point, near: Vicinity) -> bool:
    if link.kind is not PartKind.RESISTOR or link.name not in circuit.branches:
        return False
    place = place_of(circuit, circuit.branches[link.name])
    leak = place in (Place.SMALL_LEAK, Place.POWER_LEAK)
    return leak and bool(_grids_on(circuit, circuit.points.get(kept.text, "")) & near.owners.keys())


def tied_to_themselves(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """The grid of an upper tube tied to its own cathode: it belongs on the plate below."""
    below = {s.name: plate for s in circuit.sections() if s.name in near.owners
             if (plate := _plate_below(circuit, s)) is not None}  # fmt: skip
    for link, end, kept, moved in _ends(circuit) if below else ():
        grids, cathodes = (_on(circuit, p, e) for p, e in ((kept, "grid"), (moved, "cathode")))
        for name in sorted(grids & cathodes & below.keys()) if link is not None else ():
            assert link is not None
            to = End(moved.text, below[name], also=(name,))
            yield _end_on(circuit, link, end, to, Likely.PLAIN, 1)


def _on(circuit: Circuit, point: Point, electrode: str) -> set[str]:
    """The sections with that electrode right on a point."""
    at = circuit.electrodes_at(circuit.points.get(point.text, ""))
    return {s.name for s, e in at if e == electrode}


def _plate_below(circuit: Circuit, section: Section) -> str | None:
    """The plate that is one resistor below the cathode of an upper tube, by name."""
    cathode = section.cathode_nets[0] if section.cathode_nets else GROUND
    for branch in circuit.at(cathode) if cathode not in LANDMARKS else ():
        if branch.kind is PartKind.RESISTOR:
            for other, electrode in circuit.electrodes_at(branch.other(cathode)):
                if electrode == "plate" and other.name != section.name:
                    return f"{other.name}.plate"
    return None


def heater_shunts(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A resistor across some heaters of a string, that belongs across those on its other side."""
    heaters = {n for t in circuit.tubes.values() if t.heater for n in t.heater.nets}
    for link, end, kept, moved in _ends(circuit):
        if link is None or link.kind is not PartKind.RESISTOR or near.owners.get(link.name, 9) > 1:
            continue
        joint, far = (circuit.points.get(p.text, p.text) for p in (kept, moved))
        beside = [b.other(joint) for b in circuit.at(joint) if b.kind is PartKind.HEATER]
        others = [n for n in dict.fromkeys(beside) if n not in (far, joint)]
        if joint in heaters and far in beside and len(others) == 1:
            name = next(iter(circuit.names.get(others[0], ())), "")
            if name:
                yield _goes_to(circuit, link, (end, moved.text, name), Likely.USUAL, 0)


def unused_bias(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A control's end on gnd that grids hang on, where a bias line is made that none hangs on."""
    pots = {line.name for line in circuit.drawing.statements if isinstance(line, PotLine)}
    names = _unused_lines(circuit)
    for _, one, other in _wires(circuit) if names else ():
        for lead, moved in ((one, other), (other, one)):
            if moved.text != GROUND or lead.owner not in pots:
                continue
            if _grids_on(circuit, circuit.points[f"{lead.owner}.wiper"]) & near.owners.keys():
                ends = (End(GROUND, name, NO_GRID, also=(lead.owner or "",)) for name in names)
                yield from (_lead_on(circuit, lead, moved, to, Likely.USUAL) for to in ends)


def leaks_off_the_bias(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A grid's leak on gnd, where a bias line is made that no grid hangs on."""
    names = _unused_lines(circuit)
    for link, end, kept, moved in _ends(circuit) if names else ():
        if link is None or link.kind is not PartKind.RESISTOR or moved.text != GROUND:
            continue
        at = circuit.electrodes_at(circuit.points.get(kept.text, ""))
        own = {s.name for s, e in at if e == "grid" and wants_bias(circuit, s)}
        for name in names if own & near.owners.keys() else ():
            yield _end_on(circuit, link, end, End(GROUND, name, NO_GRID), Likely.USUAL, 1)


def _unused_lines(circuit: Circuit) -> list[str]:
    """Names of the bias lines that no grid hangs on."""
    lines = [n for n in negative_lines(circuit) if not _grids_on(circuit, n)]
    return [circuit.names[n][0] for n in lines if circuit.names.get(n)]


def _grids_on(circuit: Circuit, net: str) -> set[str]:
    """The sections whose grids a net leads to by metal."""
    nets = [n for n in reach(circuit, [net], LANDMARKS) if n not in LANDMARKS]
    return {s.name for n in nets for s, e in circuit.electrodes_at(n) if e == "grid"}


def _links(circuit: Circuit) -> Iterator[tuple[Wire, Part | None, Point, Point]]:
    """Every part, or plain wire, that is drawn between two points; its place and its ends."""
    for chain in circuit.drawing.statements:
        for k, link in enumerate(chain.links if isinstance(chain, Chain) else ()):
            one, other = chain.points[k : k + 2] if isinstance(chain, Chain) else (None, None)
            if one is not None and other is not None:
                yield Wire(chain.span, k), link, one, other


def _ends(circuit: Circuit) -> Iterator[tuple[Part | None, int, Point, Point]]:
    """Every end of those: the part, which end it is, the other end's point and its own."""
    for _, link, one, other in _links(circuit):
        yield link, 0, other, one
        yield link, 1, one, other


def _wires(circuit: Circuit) -> Iterator[tuple[Wire, Point, Point]]:
    """The plain wires among them."""
    return ((wire, one, other) for wire, link, one, other in _links(circuit) if link is None)


def _points(circuit: Circuit) -> Iterator[Point]:
    for chain in circuit.drawing.statements:
        if isinstance(chain, Chain):
            yield from (p for p in chain.points if p is not None)


@dataclass(frozen=True, slots=True)
class End:
    """Where an end or a lead is (``at``) and may have been meant to be (``to``).

    ``why`` goes on from the place in the remedy; ``also`` are places the slip is about as well.
    """

    at: str
    to: str
    why: str = ""
    also: tuple[str, ...] = ()

    def meant(self, name: str) -> str:
        """The remedy."""
        return f"Look at the original again: {name} is likely meant to be on {self.to}{self.why}"


NO_GRID = ", which holds no grid now"


def _end_on(circuit: Circuit, part: Part, end: int, on: End, likely: Likely, steps: int) -> Suspect:
    """An end of a part on another point."""
    to = point_of(on.to, part.span)
    return Suspect(
        (part.name, *on.also), part.span, f"{part.name} is on {on.at}", f"on {on.to}",
        on.meant(part.name), likely, steps,
        partial(ends_moved, circuit.drawing, part.span, end, to),
    )  # fmt: skip


def _goes_to(
    circuit: Circuit, part: Part, way: tuple[int, str, str], likely: Likely, steps: int
) -> Suspect:
    """An end of a part that goes from one point to another: which end, where it is, where to."""
    end, at, name = way
    to = point_of(name, part.span)
    return Suspect(
        (part.name,), part.span, f"{part.name} goes to {at}", f"to {name}",
        f"Look at the original again: {part.name} is likely meant to go to {name} instead of {at}",
        likely, steps, partial(ends_moved, circuit.drawing, part.span, end, to),
    )  # fmt: skip


def _lead_on(circuit: Circuit, lead: Point, moved: Point, on: End, likely: Likely) -> Suspect:
    """A lead's wire on another point than ``moved``."""
    to = point_of(on.to, moved.span)
    return Suspect(
        (lead.text, *on.also), lead.span, f"{lead.text} is wired to {on.at}", f"on {on.to}",
        on.meant(lead.text), likely, 1, partial(point_moved, circuit.drawing, moved.span, to),
    )  # fmt: skip


def _is_supply(circuit: Circuit, point: Point) -> bool:
    """Whether a point has a name of its own and is held: gnd, or a line with a capacitor on it."""
    net = circuit.points.get(point.text)
    if point.lead is not None or point.pin is not None or net is None:
        return False
    return net == GROUND or any(b.plus is not None for b in circuit.at(net))
