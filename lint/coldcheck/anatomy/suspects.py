"""Slips of the pen that could be behind findings: the drawing with one of them undone.

Only what a copyist does is here: a decade in a value, two leads exchanged, a part turned round, a
lead on another point, a wire too few or too many. A larger rating, or a part that was never
drawn, only masks what is wrong.
"""

from __future__ import annotations

from functools import partial
from itertools import combinations
from math import log10
from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.ordinary import Place, oddness, place_of
from coldcheck.anatomy.published import published_for
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.supplies import held_up
from coldcheck.anatomy.suspect import Likely, Suspect
from coldcheck.anatomy.suspect_lifts import lift_decades
from coldcheck.anatomy.suspect_wires import (
    grounded_taps,
    heater_shunts,
    leaks_off_the_bias,
    loose_ends,
    misfed_plates,
    moved_ends,
    past_the_tail,
    taken_for_another,
    tied_filaments,
    tied_to_themselves,
    unused_bias,
    unused_points,
    wires_too_many,
    wrong_side,
)
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.spelled_leads import key_of, owners_of, point_of
from coldcheck.circuit.throws import decks
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.redrawn import heated_by, on_other_mains, revalued, rewritten, turned, wound
from coldcheck.drawing.units import engineering, magnitude, quantity, si
from coldcheck.drawing.values import SYMBOLS
from coldcheck.solve.solution import WARM

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.vicinity import Vicinity
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.drawing.model import Drawing, Point, Span
    from coldcheck.drawing.units import Quantity
    from coldcheck.solve.solution import TubeReading

FACTORS = (10.0, 0.1, 1e3, 1e-3, 100.0, 0.01)
FAR = 30.0
"""Two and three decades are slips only where the value is a decade out."""

NEAR_THE_SHEET = 0.45
"""Decades from a published value that are near it: a shared resistor has half, others bias more."""

AT_THE_EDGE = 0.15
"""Decades outside what is ordinary that are no oddness yet: 27 kohm where 33 is the least."""

USUAL_SUPPLY = (100.0, 500.0)
"""Volts of a supply's winding, or of its half where it is tapped, that are found in most sets.

One within is not suspected: with half of it everything goes away, since nothing works as hard.
"""

TWICE = 2.0
"""Values nearer to one another than this are not worth exchanging."""

LOW_VOLTS = 30.0
"""Below this a winding is for heaters, whose halves are not mistaken for one another with harm."""

SAME = 0.1
"""Voltages of a winding and of what it is for that differ by less are one."""


def suspects(case: Case, near: Vicinity, *, signals: bool = True) -> list[Suspect]:
    """Every slip considered around some places, the likeliest and nearest first.

    ``signals``: something was found that alternating currents have to do with.
    """
    circuit = case.circuit
    makers = (
        exchanged_values, turned_round, exchanged_leads, wrong_windings,
        loose_ends, wires_too_many, taken_for_another, wrong_side,
        misfed_plates, past_the_tail, unused_bias, leaks_off_the_bias, tied_filaments,
        grounded_taps, unused_points, tied_to_themselves, heater_shunts, moved_ends,
    )  # fmt: skip
    found = [*decades(case, near, signals=signals)]
    found += [s for make in makers for s in make(circuit, near)]
    found += exchanged_electrodes(case, near)
    found += odd_lifts(case, near)
    return sorted(found, key=lambda s: (-s.likely, s.steps))


def _drawn(circuit: Circuit, near: Vicinity) -> Iterator[tuple[Branch, int]]:
    """The parts on wires that are near, with the steps to them."""
    for branch in circuit.branches.values():
        if branch.part is not None and branch.owner in near.owners:
            yield branch, near.owners[branch.owner]


def decades(case: Case, near: Vicinity, *, signals: bool = True) -> Iterator[Suspect]:
    """A decade, or a k, lost or doubled.

    Where nothing that was found has to do with signals, what only they flow in is left out.
    """
    circuit = case.circuit
    for branch, steps in _drawn(circuit, near):
        unit = branch.traits.unit
        if branch.value is None or unit is None or not _has_decades(branch.kind):
            continue
        if steps and not signals and _is_still(case, branch):
            continue
        value = magnitude(branch.value, unit)
        for factor in FACTORS:
            likely = _suits(circuit, branch, value, factor)
            if likely is not None and (likely > Likely.SELDOM or _matters(circuit, branch, steps)):
                yield _revalued(circuit, branch, value, factor, likely, steps)


LITTLE_V, LITTLE_A = 1e-3, 1e-8
"""What a part's tolerance moves at most, where it is without direct current."""


def _is_still(case: Case, branch: Branch) -> bool:
    """Whether a part's value changes no mean voltage or current of the warm state."""
    place = place_of(case.circuit, branch)
    if branch.kind is PartKind.CAPACITOR:
        return place in (None, Place.COUPLING, Place.CATHODE_BYPASS)
    if place in (Place.SMALL_LEAK, Place.POWER_LEAK):
        return False  # what a grid may leak through it is judged without flowing
    warm = case.solutions.get(WARM)
    spread = None if warm is None or not warm.converged else warm.spread()
    if branch.kind is not PartKind.RESISTOR or spread is None or branch.name not in spread.causes:
        return False
    return not spread.moves(branch.name, LITTLE_V, LITTLE_A)


def odd_lifts(case: Case, near: Vicinity) -> Iterator[Suspect]:
    """A decade in the divider of a heater line that is lifted by far too little or too much."""
    for branch, factor in lift_decades(case, [n for n, steps in near.owners.items() if not steps]):
        value = branch.ohms
        if value is not None and branch.part is not None:
            yield _revalued(case.circuit, branch, value, factor, Likely.PLAIN, 1)


def _has_decades(kind: PartKind) -> bool:
    """Whether a kind comes in values over many decades, so that one may be lost."""
    match kind:
        case PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR:
            return True
        case PartKind.ZENER:
            return True
        case PartKind.SOURCE:
            return False  # nobody writes 300 V for a battery of 30
        case (
            PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.LAMP
            | PartKind.SPEAKER
            | PartKind.HEATER
        ):
            return False
        case PartKind.DIODE | PartKind.LED | PartKind.FUSE | PartKind.WINDING | PartKind.SIGNAL:
            return False
        case (
            PartKind.SWITCH
            | PartKind.CONTACT
            | PartKind.JACK
            | PartKind.JACK_CONTACT
            | PartKind.PLUG
        ):
            return False
        case (
            PartKind.RELAY
            | PartKind.METER
            | PartKind.ARRESTER
            | PartKind.THYRISTOR
            | PartKind.TRIGGER
            | PartKind.VIBRATOR
            | PartKind.CRYSTAL
        ):
            return False
        case PartKind.CHANNEL | PartKind.GATE | PartKind.BASE:
            return False
        case _:
            assert_never(kind)


def _matters(circuit: Circuit, branch: Branch, steps: int) -> bool:
    """Whether another ordinary value of a part can be behind what is found some steps away."""
    if branch.kind == PartKind.RESISTOR:
        return place_of(circuit, branch) not in (Place.GRID_STOPPER, Place.POWER_PLATE)
    return steps == 0 or branch.kind in (PartKind.SOURCE, PartKind.ZENER)


def _suits(circuit: Circuit, branch: Branch, value: float, factor: float) -> Likely | None:
    """How likely it is that so many times the value was meant; ``None`` if it is odder."""
    sheet = published_for(circuit, branch)
    if sheet is not None:
        return _by_the_sheet(value, factor, sheet)
    before, after = (oddness(circuit, branch, v) for v in (value, value * factor))
    far = not 1 / FAR < factor < FAR
    if before is None or after is None:
        return None if far else Likely.AT_TIMES
    if after > before or (far and before < 1.0):
        return None
    if before > AT_THE_EDGE:
        return Likely.PLAIN if after == 0 else Likely.USUAL
    return Likely.SELDOM


def _by_the_sheet(value: float, factor: float, sheet: float) -> Likely | None:
    """How likely, where a data sheet has a value for that place: near it, and far as drawn."""
    if abs(log10(value / sheet)) < NEAR_THE_SHEET:
        return None
    return Likely.PLAIN if abs(log10(value * factor / sheet)) < NEAR_THE_SHEET else None


def _revalued(
    circuit: Circuit, branch: Branch, value: float, factor: float, likely: Likely, steps: int
) -> Suspect:
    unit = branch.traits.unit
    assert branch.part is not None
    assert unit is not None
    meant = engineering(value * factor, SYMBOLS[unit])
    new = quantity(value * factor, unit)
    return Suspect(
        (branch.owner,), branch.part.span,
        f"{branch.owner} is {engineering(value, SYMBOLS[unit])}", f"with {meant}",
        f"Look at the original again: {branch.owner} is likely meant to be {meant}",
        likely, steps, partial(revalued, circuit.drawing, branch.part.span, new), decade=True,
    )  # fmt: skip


def exchanged_values(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """Two resistors of a divider, each in the other's place."""
    drawn = [(b, k) for b, k in _drawn(circuit, near) if b.kind is PartKind.RESISTOR]
    for (one, steps), (other, more) in combinations(drawn, 2):
        middle = ({one.a, one.b} & {other.a, other.b}) - set(LANDMARKS)
        if len(middle) == 1 and _far_apart(one, other):
            point = next(iter(middle))
            divider = _divides(circuit, {b.other(point) for b in (one, other)}, point)
            yield _exchanged(circuit, one, other, divider, min(steps, more))


def _divides(circuit: Circuit, ends: set[str], middle: str) -> bool:
    """Whether two resistors divide a supply: from a rail to gnd, and nothing else feeds between.

    No stage's grid or cathode is on any of their ends.
    """
    at = [e for n in (*ends, middle) if n not in LANDMARKS for _, e in circuit.electrodes_at(n)]
    others = (b for b in circuit.at(middle) if b.kind is not PartKind.CAPACITOR)
    feeds = [b for b in others if b.other(middle) not in ends and not b.traits.coil]
    rails = [n for n in ends - set(LANDMARKS) if held_up(circuit, n)]
    return bool(ends & set(LANDMARKS) and rails) and not feeds and not {"grid", "cathode"} & set(at)


def _far_apart(one: Branch, other: Branch) -> bool:
    """Whether exchanging two resistors makes a difference worth a look."""
    if one.value is None or other.value is None:
        return False
    ratio = magnitude(one.value, "ohm") / magnitude(other.value, "ohm")
    return not 1 / TWICE < ratio < TWICE


def _exchanged(circuit: Circuit, one: Branch, other: Branch, divider: bool, steps: int) -> Suspect:
    assert one.part is not None
    assert other.part is not None
    assert one.value is not None
    assert other.value is not None
    both = f"{one.owner} and {other.owner}"
    first, second = (engineering(magnitude(v, "ohm"), "ohm") for v in (one.value, other.value))
    redrawn = partial(_revalued_both, circuit, (one.part.span, other.value),
                      (other.part.span, one.value))  # fmt: skip
    return Suspect(
        (one.owner, other.owner), one.part.span,
        f"{one.owner} is {first} and {other.owner} {second}", "exchanged",
        f"Look at the original again: {both} are likely in each other's place",
        Likely.PLAIN if divider else Likely.SELDOM, steps, redrawn,
    )  # fmt: skip


def _revalued_both(
    circuit: Circuit, one: tuple[Span, Quantity], other: tuple[Span, Quantity]
) -> Drawing:
    return revalued(revalued(circuit.drawing, *one), *other)


def turned_round(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """Diodes and sources drawn the wrong way round (a capacitor so is a finding of its own)."""
    for branch, steps in _drawn(circuit, near):
        turnable = branch.traits.one_way or (
            branch.kind is PartKind.SOURCE and not _biases(circuit, branch)
        )
        if turnable and branch.part is not None:
            yield Suspect(
                (branch.owner,), branch.part.span,
                f"{branch.owner} is drawn this way round", "the other way round",
                f"Turn {branch.owner} round", Likely.USUAL, steps,
                partial(turned, circuit.drawing, branch.part.span),
            )  # fmt: skip


def _biases(circuit: Circuit, branch: Branch) -> bool:
    """Whether a source holds a grid below gnd: turned round it would drive it positive."""
    plus, minus = branch.a, branch.b  # a source is positive at ``a``
    nets = [n for n in reach(circuit, [minus], LANDMARKS) if n not in LANDMARKS]
    on = {e for n in nets for _, e in circuit.electrodes_at(n)}
    return plus in LANDMARKS and "grid" in on and not {"plate", "screen"} & on


def exchanged_electrodes(case: Case, near: Vicinity) -> Iterator[Suspect]:
    """Two electrodes of a tube for one another, or those of its two sections."""
    circuit = case.circuit
    sections = {s.name: s for s in circuit.sections() if near.owners.get(s.name, 9) <= 1}
    for section in sections.values():
        for one, other in _doubtful(case, section):
            pair, steps = (
                (f"{section.name}.{one}", f"{section.name}.{other}"),
                near.owners[section.name],
            )
            seldom = {one, other} == {"plate", "grid"} or (
                "grid" in (one, other) and _is_of_a_pair(circuit, section)
            )
            likely = Likely.COMMON if seldom else Likely.USUAL
            yield from _leads(circuit, (section.name,), pair, likely, steps)
    for first, second in combinations(sections.values(), 2):
        if first.tube == second.tube:
            steps = min(near.owners[first.name], near.owners[second.name])
            for lead in ("grid", "plate", "cathode"):
                pair = (f"{first.name}.{lead}", f"{second.name}.{lead}")
                sides = lead == "grid" and _is_of_a_pair(circuit, first)
                sides = sides and first.cathode_nets == second.cathode_nets
                likely = Likely.USUAL if sides else Likely.AT_TIMES
                yield from _leads(circuit, (first.tube,), pair, likely, steps)


def _is_of_a_pair(circuit: Circuit, section: Section) -> bool:
    """Whether another section has the same cathode: it is the grids of such that are exchanged."""
    own = section.cathode_nets
    return any(s.name != section.name and s.cathode_nets == own for s in circuit.sections()
               if own and GROUND not in own)  # fmt: skip


LITTLE_MA = 0.02


def _doubtful(case: Case, section: Section) -> Iterator[tuple[str, str]]:
    """Pairs of electrodes whose voltages and currents may be those of an exchange."""
    warm = case.solutions.get(WARM)
    found = None if warm is None else warm.readings.get(section.name)
    have = set(section.electrodes)
    mixes = section.kind in (SectionKind.CONVERTER, SectionKind.MIXER)
    screens = {"plate", "screen"} <= have and not mixes  # a mixer's screen takes more by design
    if screens and (found is None or _screen_leads(found)):
        yield "plate", "screen"
    if not section.kind.amplifies:
        ends = [(p, "cathode") for p in section.plates if "cathode" in have]
        yield from ends if found is None or found.plate_ma < LITTLE_MA else ()
        return
    dead = found is None or found.plate_ma < LITTLE_MA or (found.grid_v or 0.0) > 0
    for pair in (("grid", "cathode"), ("plate", "cathode"), ("plate", "grid"), ("grid", "screen")):
        if dead and set(pair) <= have:
            yield pair


def _screen_leads(found: TubeReading) -> bool:
    """Whether the screen does what the plate should: more current, or above it by far."""
    plate, screen = found.plate_v or 0.0, found.screen_v or 0.0
    return (found.screen_ma or 0.0) > 0.5 * found.plate_ma or screen > plate + 20.0


def exchanged_leads(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """Leads of a pot, a switch, an output transformer or of windings for one another."""
    pots = {b.owner for b in circuit.branches.values() if b.kind == PartKind.POT}
    beside = {*pots, *(w.name for w in circuit.windings()), *(c.name for c in circuit.coils())}
    beside |= {switch for switch, _ in decks(circuit)}
    yield from _transistors(circuit, near)
    for name, pairs in (*_lead_pairs(circuit, pots), *_coil_pairs(circuit)):
        steps = near.owners.get(name, 9)
        if steps == 0 or (steps == 1 and name in beside):
            for pair in pairs:
                owners = dict.fromkeys((name, *(lead.rpartition(".")[0] for lead in pair)))
                yield from _leads(circuit, (*owners,), pair, Likely.COMMON, steps)


def _lead_pairs(circuit: Circuit, pots: set[str]) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    for pot in sorted(pots):
        yield pot, [(f"{pot}.wiper", f"{pot}.top"), (f"{pot}.wiper", f"{pot}.bottom")]
    for name, output in circuit.outputs.items():
        ends = {lead for lead, _ in output.leads}
        # the taps first: exchanged plates do the same, and turn the feedback round as well
        wanted = [("u1", "u2"), ("p1", "p2"), ("p1", "ct"), ("ct", "p2"), ("u1", "p1"),
                  ("u2", "p2"), *((p, s) for p in ("p1", "p2") for s in ("s1", "s2"))]  # fmt: skip
        yield name, [(f"{name}.{a}", f"{name}.{b}") for a, b in wanted if {a, b} <= ends]
    for winding in circuit.windings():
        ends = {lead for lead, _ in winding.leads}
        if "ct" in ends and (si(winding.volts, "volt") or 0.0) > LOW_VOLTS:
            name = winding.name
            yield name, [(f"{name}.1", f"{name}.ct"), (f"{name}.ct", f"{name}.2")]
    yield from _taps(circuit)
    yield from _poles(circuit)


def _poles(circuit: Circuit) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The far sides of the two poles of a switch with one throw: two supplies behind one lever."""
    poles: dict[str, list[Branch]] = {}
    for (switch, _), contacts in decks(circuit).items():
        if len(contacts) == 1:
            poles.setdefault(switch, []).append(contacts[0])
    for switch, (one, *others) in poles.items():
        if len(others) == 1:
            ends = (_lead_at(circuit, switch, pole.b) for pole in (one, *others))
            yield switch, [(next(ends), next(ends))]


def _lead_at(circuit: Circuit, switch: str, net: str) -> str:
    """The lead of a switch that is on a net."""
    return next(p for p, n in circuit.points.items() if n == net and p.startswith(f"{switch}."))


def _taps(circuit: Circuit) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The taps of two windings: one is held at gnd, the other makes a bias or a lift."""
    tapped = [w for w in circuit.windings() if not w.primary and "ct" in dict(w.leads)
              and _may_be_lifted(w)]  # fmt: skip
    for one, other in combinations(tapped, 2):
        pair = (f"{one.name}.ct", f"{other.name}.ct")
        yield one.name, [pair]
        yield other.name, [(pair[1], pair[0])]


def _may_be_lifted(winding: Winding) -> bool:
    """Whether a winding is for heaters, or its tap is not on gnd, where a supply's belongs."""
    volts = si(winding.volts, "volt") or 0.0
    return 0.0 < volts <= LOW_VOLTS or (volts > 0 and dict(winding.leads)["ct"] not in LANDMARKS)


def _transistors(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """Any two leads of a transistor or regulator that a finding names."""
    for name, one in circuit.transistors.items():
        if near.owners.get(name) == 0:
            for first, second in combinations(one.nets, 2):
                pair = (f"{name}.{first}", f"{name}.{second}")
                yield from _leads(circuit, (name,), pair, Likely.USUAL, 0)


def _hot(circuit: Circuit, *nets: str) -> int:
    return sum(bool(circuit.electrodes_at(n)) for n in nets)


def _coil_pairs(circuit: Circuit) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    """The like leads of two coils of one can, first those that lead to no electrode."""
    for coil_set in circuit.coil_sets.values():
        for one, other in combinations(coil_set.coils, 2):
            its, nets = dict(one.leads), dict(other.leads)
            leads = sorted(its.keys() & nets, key=lambda x: (_hot(circuit, its[x], nets[x]), x))
            yield one.name, [(f"{one.name}.{x}", f"{other.name}.{x}") for x in leads]


def _leads(
    circuit: Circuit, at: tuple[str, ...], pair: tuple[str, str], likely: Likely, steps: int
) -> Iterator[Suspect]:
    """The wiring with two leads exchanged, where that makes a difference."""
    one, other = pair
    nets = {circuit.points.get(key) for key in pair}
    if len(nets) < 2:
        return
    what = f"{one} and {other}"
    yield Suspect(
        at, circuit.span(at[0]), f"{what} are wired so", "exchanged",
        f"Exchange {what}", likely, steps, partial(_swapped, circuit, {one: other, other: one}),
    )  # fmt: skip


def _swapped(circuit: Circuit, instead: dict[str, str]) -> Drawing:
    owners = owners_of(circuit)

    def other(point: Point) -> Point:
        key = key_of(owners, point)
        return point_of(instead[key], point.span) if key in instead else point

    return rewritten(circuit.drawing, other)


def wrong_windings(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    """A primary for other mains, a winding of another voltage, a heater on another winding."""
    touched = {w.name.partition(".")[0] for w in circuit.windings() if w.name in near.owners}
    for winding in circuit.windings():
        if winding.primary and winding.name.partition(".")[0] in touched:
            yield from _primary(circuit, winding, near.owners.get(winding.name, 1))
        elif near.owners.get(winding.name, 9) == 0 or (
            winding.name in near.owners and (si(winding.volts, "volt") or 0.0) > LOW_VOLTS
        ):
            yield from _otherwise_wound(circuit, winding, near.owners[winding.name])
    yield from _heaters(circuit, near)


def _otherwise_wound(circuit: Circuit, winding: Winding, steps: int) -> Iterator[Suspect]:
    """A half taken for the whole or the reverse, a decade: what is usual for a supply is not."""
    old = si(winding.volts, "volt")
    if old is None or winding.taken:
        return
    halves = 2 if "ct" in {lead for lead, _ in winding.leads} else 1
    for volts in (2 * old, old / 2, 10 * old, old / 10):
        odd = not _usual_supply(old / halves) and _usual_supply(volts / halves)
        if old <= LOW_VOLTS or odd:
            yield _wound(circuit, winding, volts, Likely.SELDOM, steps)


def _usual_supply(volts: float) -> bool:
    return USUAL_SUPPLY[0] <= volts <= USUAL_SUPPLY[1]


def _primary(circuit: Circuit, winding: Winding, steps: int) -> Iterator[Suspect]:
    """Drawn for other mains than those there are: the winding's figure, or the mains' own."""
    if circuit.mains is None or not circuit.mains.voltage.m:
        return
    if winding.volts is None or winding.taken or not winding.volts.m:
        return
    volts, mains = magnitude(winding.volts, "volt"), magnitude(circuit.mains.voltage, "volt")
    if abs(volts / mains - 1) < 2 * SAME:
        return
    yield _wound(circuit, winding, mains, Likely.PLAIN, steps)
    yield Suspect(
        (winding.name,), circuit.mains.span, f"the mains are {mains:g} V",
        f"at {volts:g} V, which {winding.name} is wound for,",
        f"Use a transformer for {mains:g} V, or the mains that {winding.name} is wound for",
        Likely.COMMON, steps, partial(on_other_mains, circuit.drawing, winding.volts),
    )  # fmt: skip


def _wound(circuit: Circuit, winding: Winding, volts: float, likely: Likely, steps: int) -> Suspect:
    old = si(winding.volts, "volt") or 0.0
    return Suspect(
        (winding.name,), winding.span, f"{winding.name} is for {old:g} V", f"with {volts:g} V",
        f"Look at the original again: {winding.name} is likely meant to be for {volts:g} V",
        likely, steps, partial(wound, circuit.drawing, winding.span, quantity(volts, "volt")),
    )  # fmt: skip


def _heaters(circuit: Circuit, near: Vicinity) -> Iterator[Suspect]:
    sections = {s.tube for s in circuit.sections() if s.name in near.owners}
    for tube in circuit.tubes.values():
        heater = tube.heater
        if heater is None or heater.winding is None:
            continue
        if tube.name not in sections and heater.winding not in near.owners:
            continue
        for winding in circuit.windings():
            if winding.volts is None:
                continue
            fits = abs(magnitude(winding.volts / heater.volts, "") - 1) < SAME
            if fits and not winding.primary and winding.name != heater.winding:
                yield Suspect(
                    (tube.name,), tube.span, f"the heater of {tube.name} is on {heater.winding}",
                    f"on {winding.name}", f"Wire the heater of {tube.name} to {winding.name}",
                    Likely.COMMON, 1, partial(heated_by, circuit.drawing, tube.span, winding.name),
                )  # fmt: skip
    yield from _exchanged_heaters(circuit, sections)


def _exchanged_heaters(circuit: Circuit, sections: set[str]) -> Iterator[Suspect]:
    """Two tubes, each on the heater winding of the other: both are for the same volts."""
    heated = [t for t in circuit.tubes.values() if t.heater is not None and t.heater.winding]
    for one, other in combinations(heated, 2):
        assert one.heater is not None
        assert other.heater is not None
        first, second = str(one.heater.winding), str(other.heater.winding)
        alike = abs(magnitude(one.heater.volts / other.heater.volts, "") - 1) < SAME
        if first == second or not alike or not {one.name, other.name} & sections:
            continue
        yield Suspect(
            (one.name, other.name), one.span,
            f"the heater of {one.name} is on {first} and that of {other.name} on {second}",
            "exchanged",
            f"Wire the heater of {one.name} to {second} and that of {other.name} to {first}",
            Likely.COMMON, 1, partial(_heated_both, circuit, (one.span, second),
                                      (other.span, first)),
        )  # fmt: skip


def _heated_both(circuit: Circuit, one: tuple[Span, str], other: tuple[Span, str]) -> Drawing:
    return heated_by(heated_by(circuit.drawing, *one), *other)
