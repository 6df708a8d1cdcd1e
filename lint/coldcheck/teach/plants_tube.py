"""Mistakes at the other electrodes, the output, and in names."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.teach.plant import Planted
from coldcheck.teach.plants_grid import amplifying
from coldcheck.teach.plants_parts import around

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Section
    from coldcheck.teach.clean import Clean

WORKING_MA = 0.05
SWAPS = (("plate", "cathode"), ("grid", "plate"), ("grid", "cathode"), ("screen", "plate"))
WATTS_FROM = 2.0


def works(clean: Clean, section: Section) -> bool:
    """Whether the section draws plate current."""
    reading = clean.solutions["warm"].readings.get(section.name)
    return reading is not None and reading.plate_ma > WORKING_MA


def electrode_open(clean: Clean, electrode: str, rules: tuple[str, ...]) -> Iterator[Planted]:
    """The part that feeds an electrode, or returns a cathode, is left out."""
    lost = clean.unreturned if electrode == "cathode" else clean.unfed
    for section in amplifying(clean):
        net = section.net(electrode)
        if net is None or not works(clean, section):
            continue
        for part, branch in clean.parts(PartKind.RESISTOR, PartKind.INDUCTOR):
            text = clean.opened(part.name) if net in {branch.a, branch.b} else None
            if text and lost(text, f"{section.name}.{electrode}"):
                what = f"without {part.name} the {electrode} of {section.name} has no DC path"
                near = (section.name, section.tube, *around(clean, branch))
                yield Planted((part.name,), text, what, rules, near)


def cathode_open(clean: Clean) -> Iterator[Planted]:
    """The cathode resistor is left out."""
    rules = (
        "tube.no-cathode-path", "tube.cut-off", "drawing.single-connection", "drawing.incomplete",
    )  # fmt: skip
    yield from electrode_open(clean, "cathode", rules)


def plate_open(clean: Clean) -> Iterator[Planted]:
    """The plate resistor is left out."""
    rules = ("tube.no-plate-supply", "drawing.single-connection", "drawing.incomplete")
    yield from electrode_open(clean, "plate", rules)


def screen_open(clean: Clean) -> Iterator[Planted]:
    """The screen resistor is left out."""
    rules = ("tube.no-screen-supply", "drawing.single-connection", "drawing.incomplete")
    yield from electrode_open(clean, "screen", rules)


def leads_exchanged(clean: Clean) -> Iterator[Planted]:
    """Two leads of one tube section are taken for one another."""
    for section in amplifying(clean):
        if not works(clean, section):
            continue
        for one, other in SWAPS:
            if section.net(one) in (None, section.net(other)) or section.net(other) is None:
                continue
            lines = [exchanged(t, f"{section.name}.{one}", f"{section.name}.{other}")
                     for t in clean.lines]  # fmt: skip
            if tuple(lines) == clean.lines:
                continue
            what = f"{one} and {other} of {section.name} are exchanged"
            at = (section.name, section.tube, f"{section.name}.{one}", f"{section.name}.{other}")
            mark = f"{section.name}.{one}/{other}"
            near = [n for e in (one, other) for b in clean.circuit.at(section.net(e) or "")
                    for n in (b.name, b.owner)]  # fmt: skip
            yield Planted(at, clean.text(lines), what, ("*",), tuple(dict.fromkeys(near)), mark)


def exchanged(line: str, one: str, other: str) -> str:
    """A line with two names taken for one another, remarks apart."""
    code, mark, remark = line.partition("#")
    found = {one: other, other: one}
    pattern = rf"(?<![\w.])({re.escape(one)}|{re.escape(other)})(?![\w.])"
    return re.sub(pattern, lambda m: found[m[0]], code) + mark + remark


def cathode_shorted(clean: Clean) -> Iterator[Planted]:
    """A wire stands for the cathode resistor of a power tube."""
    for section in amplifying(clean):
        reading = clean.solutions["warm"].readings.get(section.name)
        net = section.net("cathode")
        if reading is None or reading.plate_w < WATTS_FROM or (reading.cathode_v or 0) < 3:
            continue
        for part, branch in clean.parts(PartKind.RESISTOR):
            text = clean.shorted(part.name) if {branch.a, branch.b} == {net, "gnd"} else None
            if text:
                what = f"a wire stands for {part.name}: {section.name} has no bias"
                rules = ("tube.plate-dissipation", "tube.cathode-current", "grid.no-bias",
                         "drawing.shorted-part")  # fmt: skip
                near = (section.name, section.tube, *around(clean, branch))
                yield Planted((part.name,), text, what, rules, near)


def load_left_out(clean: Clean) -> Iterator[Planted]:
    """The speaker is left out and nothing else loads the output transformer."""
    for part, branch in clean.parts(PartKind.SPEAKER):
        text = clean.opened(part.name)
        others = [b for n in {branch.a, branch.b} - {"gnd"} for b in clean.circuit.at(n)
                  if b.kind is PartKind.RESISTOR]  # fmt: skip
        if text and not others:
            what = f"without {part.name} the output transformer has no load"
            near = (*clean.circuit.outputs, *around(clean, branch))
            rules = ("output.open-secondary", "drawing.single-connection")
            yield Planted((part.name,), text, what, rules, near)


def wrong_speaker(clean: Clean) -> Iterator[Planted]:
    """The speaker on an output transformer has a fifth of its impedance."""
    leads = {net for o in clean.circuit.outputs.values() for _, net in o.leads}
    for part, branch in clean.parts(PartKind.SPEAKER):
        if not {branch.a, branch.b} & (leads - {"gnd"}):
            continue
        old = re.search(r"\b[\d.]+ ohm\b", clean.inside(part))
        if old is None:
            continue
        new = f"{float(old.group().split()[0]) / 5:g} ohm"
        text = clean.part_replaced(part, old.group(), new)
        if text:
            what = f"{part.name} has {new} on a transformer made for {old.group()}"
            near = (*clean.circuit.outputs, *clean.circuit.tubes, *around(clean, branch))
            yield Planted((part.name,), text, what, ("output.wrong-load",), near)


def point_misspelt(clean: Clean) -> Iterator[Planted]:
    """A point of the builder's own is written with two letters exchanged at one place."""
    every = [p.text for c in clean.chains for p in c.points if p is not None]
    taken = {*every}
    done: set[str] = set()
    for chain in clean.chains:
        for point in chain.points:
            if point is None or point.lead or point.pin or len(point.owner) < 3:
                continue
            name = point.owner
            new = name[:-2] + name[-1] + name[-2]
            if name in done or new in taken or name in ("gnd", "chassis", "earth", "line"):
                continue
            if not name.isalpha() or new == name or name == "neutral":
                continue
            if every.count(name) < 2:  # a name that stands once joins nothing
                continue
            done.add(name)
            text = clean.replaced(point.span, new)
            what = f"{name} is written {new} at one place"
            yield Planted((new,), text, what, ("*",), tuple(_all_near(clean, name)))


def _all_near(clean: Clean, name: str) -> Iterator[str]:
    yield name
    net = clean.circuit.points.get(name)
    for branch in clean.circuit.at(net) if net else ():
        yield from (branch.name, branch.owner, *around(clean, branch))


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "cathode resistor left out": cathode_open,
    "plate resistor left out": plate_open,
    "screen resistor left out": screen_open,
    "leads exchanged": leads_exchanged,
    "cathode resistor shorted": cathode_shorted,
    "speaker left out": load_left_out,
    "speaker of a fifth the impedance": wrong_speaker,
    "point misspelt": point_misspelt,
}
