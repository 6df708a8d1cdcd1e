"""Mistakes around grids."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.anatomy.working import parked
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.teach.plant import Planted
from coldcheck.teach.plants_parts import around
from coldcheck.teach.plants_supply import wires

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Section
    from coldcheck.teach.clean import Clean

BIASED_VOLTS = 20.0
"""DC across a coupling capacitor from which shorting it is a mistake."""

LEAK_FROM = 1e5
TIMES = 30
"""A leak this many times as large is beyond every data sheet's limit."""


def amplifying(clean: Clean) -> Iterator[Section]:
    """The sections with grids that work."""
    for section in clean.circuit.sections():
        if section.kind.amplifies and section.net("grid") is not None:
            yield section


def leak_left_out(clean: Clean) -> Iterator[Planted]:
    """The one part that returns a grid is left out."""
    for section in amplifying(clean):
        net = section.net("grid") or ""
        for part, branch in clean.parts(PartKind.RESISTOR):
            text = clean.opened(part.name)
            if text and clean.without_path(text, net) and not _serves_more(clean, branch):
                what = f"without {part.name} the grid of {section.name} has no return"
                rules = ("grid.no-return", "drawing.single-connection", "drawing.incomplete")
                near = (section.tube, section.name, f"{section.name}.grid", net)
                yield Planted((part.name,), text, what, rules, (*near, *around(clean, branch)))


def _serves_more(clean: Clean, branch: Branch) -> bool:
    """Whether the part carries a supply and not only a grid."""
    amps = clean.solutions["warm"].current(branch.name)
    return amps is None or amps.peak > 1e-4


def leak_too_large(clean: Clean) -> Iterator[Planted]:
    """A power tube's grid leak is thirty times as large."""
    for section in amplifying(clean):
        if section.kind is not SectionKind.PENTODE or _plate_watts(clean, section) < 2.0:
            continue
        for part, branch in clean.parts(PartKind.RESISTOR):
            ohms = magnitude(branch.value, "ohm") if branch.value is not None else 0.0
            if ohms < LEAK_FROM or not _returns(clean, section, branch):
                continue
            old = re.search(r"\b\d+(?:\.\d+)?[kM]\d*\b", clean.inside(part))
            new = f"{ohms * TIMES / 1e6:g}M"
            text = clean.part_replaced(part, old.group(), new) if old else None
            if text:
                what = f"{part.name} is {new}: far more than {section.tube} may have at its grid"
                near = (section.tube, section.name, f"{section.name}.grid")
                yield Planted((part.name,), text, what, ("grid.leak-too-high",), near)


def _plate_watts(clean: Clean, section: Section) -> float:
    reading = clean.solutions["warm"].readings.get(section.name)
    return 0.0 if reading is None else reading.plate_w


def _returns(clean: Clean, section: Section, branch: Branch) -> bool:
    grid = section.net("grid") or ""
    near = {grid} | {b.other(grid) for b in clean.circuit.at(grid) if b.kind is PartKind.RESISTOR}
    return bool({branch.a, branch.b} & (near - {"gnd"}))


def coupling_shorted(clean: Clean) -> Iterator[Planted]:
    """A wire stands where a coupling capacitor should be."""
    grids = {s.net("grid") for s in amplifying(clean)} - {"gnd"}
    for part, branch in clean.parts(PartKind.CAPACITOR):
        high, low = clean.dc(branch.a), clean.dc(branch.b)
        if high is None or low is None or abs(high - low) < BIASED_VOLTS:
            continue
        if not _near_grid(clean, branch, grids) or "gnd" in {branch.a, branch.b}:
            continue
        text = clean.shorted(part.name)
        if text:
            what = f"a wire stands for {part.name}: direct voltage reaches the grid behind it"
            rules = (
                "grid.positive", "grid.positive-while-cold", "tube.plate-dissipation",
                "tube.screen-dissipation", "tube.cathode-current", "resistor.over-power",
                "tube.cut-off",
            )  # fmt: skip
            yield Planted((part.name,), text, what, rules, behind(clean, branch))


def _near_grid(clean: Clean, branch: Branch, grids: set[str | None]) -> bool:
    for net in (branch.a, branch.b):
        others = {b.other(net) for b in clean.circuit.at(net) if b.kind is PartKind.RESISTOR}
        if net in grids or others & grids:
            return True
    return False


def behind(clean: Clean, branch: Branch) -> tuple[str, ...]:
    """What is around a part, and around its neighbours: the grid is often behind a stopper."""
    near = list(around(clean, branch))
    for net in (branch.a, branch.b):
        for other in clean.circuit.at(net):
            if other.kind is PartKind.RESISTOR:
                near += around(clean, other)
    return tuple(dict.fromkeys(near))


def grid_wire_left_out(clean: Clean) -> Iterator[Planted]:
    """The plain wire to a grid is left out."""
    for section in amplifying(clean):
        lead = f"{section.name}.grid"
        for chain in wires(clean, lead):
            line = clean.lines[chain.span.line - 1]
            if line.count(f"{section.name}.") > 1 and parked(clean.circuit, section):
                continue  # the whole spare goes with its line: it is out of the way either way
            text = clean.line_replaced(chain.span.line)
            if clean.without_path(text, lead):
                what = f"nothing leads to the grid of {section.name} any more"
                rules = ("grid.no-return", "tube.unused-section",
                         "drawing.single-connection", "drawing.incomplete")  # fmt: skip
                yield Planted((lead,), text, what, rules, (section.name, section.tube))


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "grid return left out": leak_left_out,
    "grid leak too large": leak_too_large,
    "coupling capacitor shorted": coupling_shorted,
    "wire to a grid left out": grid_wire_left_out,
}
