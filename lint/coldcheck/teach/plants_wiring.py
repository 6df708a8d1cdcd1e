"""Mistakes of the wiring: a wire forgotten, two leads of a transformer or a string exchanged."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.teach.plant import Planted
from coldcheck.teach.plants_grid import amplifying, behind
from coldcheck.teach.plants_heater import heated
from coldcheck.teach.plants_parts import around
from coldcheck.teach.plants_tube import WATTS_FROM, exchanged

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.teach.clean import Clean


LOW_VOLTS = 30.0
"""Below this a winding is for heaters and lamps."""


def wire_left_out(clean: Clean) -> Iterator[Planted]:
    """A line that is nothing but wire is left out, where no other kind does that already."""
    windings = {w.name for w, _ in heated(clean)}
    for chain in clean.chains:
        named = [p.text for p in chain.points if p is not None]
        if any(chain.links) or not _counts(clean, named, windings):
            continue
        text = clean.line_replaced(chain.span.line)
        what = f"the wire {' -- '.join(named)} is left out"
        near = [n for name in named for n in _around_point(clean, name)]
        at = tuple(n for n in named if n != GROUND)
        yield Planted(at, text, what, ("*",), tuple(dict.fromkeys(near)), " -- ".join(named))


def _counts(clean: Clean, named: list[str], windings: set[str]) -> bool:
    """Whether a wire is of use and not the business of another kind; shields are none."""
    shields = [n for n in named if ":" in n or ".diode" in n or _spare_winding(clean, n)]
    others = ("earth", "chassis", *(f"{s.name}.grid" for s in amplifying(clean)))
    other = [n for n in named if n in others or n.rpartition(".")[0] in windings]
    tied = {clean.circuit.points.get(n) for n in named}
    spare = [s for s in amplifying(clean) if s.name in clean.solutions["warm"].readings
             and not clean.solutions["warm"].readings[s.name].conducts]  # fmt: skip
    unused = [n for n in named if n.partition(".")[0] in {s.name for s in spare}]
    idle = [n for n in named if _idle_secondary(clean, n)] if GROUND in named else []
    return not (shields or other or unused or idle) and len(tied) == 1


def _spare_winding(clean: Clean, name: str) -> bool:
    """Whether a lead is of a low-voltage winding that heats no tube of the drawing."""
    winding = next((w for w in clean.circuit.windings() if w.name == name.rpartition(".")[0]), None)
    heats = any(w.name == name.rpartition(".")[0] for w, _ in heated(clean))
    if winding is None or winding.volts is None:
        return False
    return not heats and winding.volts.m_as("volt") < LOW_VOLTS


def _idle_secondary(clean: Clean, name: str) -> bool:
    """Whether a lead is of a speaker winding without feedback: it may just as well float."""
    owner, _, lead = name.partition(".")
    output = clean.circuit.outputs.get(owner)
    wound = {end: net for end, net, _ in output.secondary_leads} if output is not None else {}
    if lead not in wound:
        return False
    nets = {*wound.values()} - {GROUND}
    return all(
        b.kind in (PartKind.SPEAKER, PartKind.WINDING) for n in nets for b in clean.circuit.at(n)
    )


def _around_point(clean: Clean, name: str) -> Iterator[str]:
    """The point's parts and tubes; at gnd only the lead's own owner."""
    yield from (name, name.partition(".")[0], name.rpartition(".")[0])
    if name == "neutral":
        yield "line"
    owner = name.partition(".")[0]
    if owner in clean.circuit.outputs or f"{owner}.wiper" in clean.circuit.points:
        own = [b for b in clean.circuit.branches.values() if b.owner == owner]
        yield from (n for b in own for n in behind(clean, b))
    net = clean.circuit.points.get(name)
    if net is not None and net != GROUND:
        yield from clean.circuit.names.get(net, ())
        for branch in clean.circuit.at(net):
            yield from (branch.name, branch.owner)
        yield from (n for s, _ in clean.circuit.electrodes_at(net) for n in (s.name, s.tube))


def taps_exchanged(clean: Clean) -> Iterator[Planted]:
    """The screen taps of an output transformer are taken for one another."""
    for name, output in clean.circuit.outputs.items():
        if not any(lead == "u1" for lead, _ in output.leads):
            continue
        lines = [exchanged(t, f"{name}.u1", f"{name}.u2") for t in clean.lines]
        what = f"the screens are on the taps of {name} that belong to the other tube"
        near = tuple(s.name for s in amplifying(clean) if s.net("screen"))
        yield Planted((name,), clean.text(lines), what, ("output.taps-swapped",), near)


def primary_turned(clean: Clean) -> Iterator[Planted]:
    """The plates are on the wrong ends of an output transformer that feeds back."""
    for name, output in clean.circuit.outputs.items():
        leads = dict(output.leads)
        back = [b for n in {leads["s1"], leads["s2"]} - {GROUND} for b in clean.circuit.at(n)
                if b.kind is PartKind.RESISTOR and GROUND not in (b.a, b.b)]  # fmt: skip
        if not back or "ct" not in leads:
            continue
        lines = list(clean.lines)
        for pair in (("p1", "p2"), ("u1", "u2")):
            lines = [exchanged(t, *(f"{name}.{end}" for end in pair)) for t in lines]
        what = f"{name} is turned round: its feedback adds to the signal"
        near = tuple(n for b in back for n in (b.name, *around(clean, b)))
        yield Planted((name,), clean.text(lines), what, ("signal.positive-feedback",), near)


def string_reversed(clean: Clean) -> Iterator[Planted]:
    """The first and the last heater of a series string change places."""
    for chain in clean.chains:
        heaters = [p for p in chain.links if p is not None and p.kind is PartKind.HEATER]
        if len(heaters) < 3:
            continue
        first, last = heaters[0].name, heaters[-1].name
        text = clean.lines[chain.span.line - 1]
        parts = re.split(rf"\[({first}|{last})\b", text)
        swap = {first: f"[{last}", last: f"[{first}"}
        new = "".join(swap.get(part, part) for part in parts)
        what = f"{first} and {last} have changed places in the heater string"
        rules = ("heater.string-order", "heater.cathode-stress")
        tubes = tuple(clean.circuit.tubes)
        yield Planted((last, first), clean.line_replaced(chain.span.line, new), what, rules, tubes)


def screen_resistor_shorted(clean: Clean) -> Iterator[Planted]:
    """A wire stands for the screen resistor of an output tube."""
    for section in amplifying(clean):
        reading = clean.solutions["warm"].readings.get(section.name)
        screen = section.net("screen")
        if reading is None or screen is None or reading.plate_w < WATTS_FROM:
            continue
        if len(clean.circuit.at(screen)) > 1:  # a supply point, not a screen's own lead
            continue
        taps = {net for o in clean.circuit.outputs.values() for _, net in o.leads}
        for part, branch in clean.parts(PartKind.RESISTOR):
            if branch.other(screen) in taps:  # a screen on a tap may do without
                continue
            text = clean.shorted(part.name) if screen in {branch.a, branch.b} else None
            if text and GROUND not in {branch.a, branch.b}:
                what = f"a wire stands for {part.name}: the screen of {section.name} is not guarded"
                rules = ("output.no-screen-resistor", "signal.screen-overload")
                yield Planted((part.name,), text, what, rules, (section.name, section.tube))


def balancing_left_out(clean: Clean) -> Iterator[Planted]:
    """One of the resistors that share the voltage of capacitors in series is left out."""
    for part, branch in clean.parts(PartKind.RESISTOR):
        ends = {branch.a, branch.b}
        over = [b for _, b in clean.parts(PartKind.CAPACITOR) if {b.a, b.b} == ends and b.plus]
        series = [b for n in ends - {GROUND} for _, b in clean.parts(PartKind.CAPACITOR)
                  if n in (b.a, b.b) and {b.a, b.b} != ends and b.plus]  # fmt: skip
        middle = [b for b in series if over and b.plus != over[0].plus]
        text = clean.opened(part.name) if middle else None
        if text:
            what = f"without {part.name} nothing makes {over[0].name} share the voltage"
            rules = ("capacitor.series-unbalanced", "supply.no-bleeder", "capacitor.over-voltage")
            near = (*(b.name for b in (*over, *middle)), *ends - {GROUND})
            yield Planted((part.name,), text, what, rules, near)


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "wire left out": wire_left_out,
    "screen taps exchanged": taps_exchanged,
    "output transformer turned round": primary_turned,
    "heater string out of order": string_reversed,
    "screen resistor shorted": screen_resistor_shorted,
    "balancing resistor left out": balancing_left_out,
}
