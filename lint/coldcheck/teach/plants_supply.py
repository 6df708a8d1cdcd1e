"""Mistakes in the mains side and the supplies."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.paths import NO_CHANGE, Change, dc_graph
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import magnitude
from coldcheck.teach.plant import Planted
from coldcheck.teach.plants_parts import across

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.model import Branch, Section
    from coldcheck.drawing.model import Chain, Part
    from coldcheck.teach.clean import Clean

CHARGED_VOLTS = 70.0
"""A capacitor above this is worth a bleeder: the touch limit for DC is 60 V."""

CHARGED_FARADS = 5e-6
TIMES = 10


def wires(clean: Clean, *landmarks: str) -> Iterator[Chain]:
    """The plain wires that name all of these points."""
    for chain in clean.chains:
        named = {p.text for p in chain.points if p is not None}
        if set(landmarks) <= named and not any(chain.links):
            yield chain


def earth_left_out(clean: Clean) -> Iterator[Planted]:
    """The wire from the protective earth to the chassis is left out."""
    for chain in wires(clean, "earth", "chassis"):
        text = clean.line_replaced(chain.span.line)
        what = "the chassis is not joined to the protective earth"
        yield Planted(("earth", "chassis"), text, what, ("mains.no-earth",))


def fuse_left_out(clean: Clean) -> Iterator[Planted]:
    """A wire stands where the mains fuse should be."""
    for part, branch in clean.parts(PartKind.FUSE):
        text = clean.shorted(part.name) if "line" in {branch.a, branch.b} else None
        if text:
            what = f"there is no fuse between the line and the set: {part.name} left out"
            near = ("line", "T1", "T1.pri", *clean.circuit.transformers, branch.a, branch.b)
            yield Planted((part.name,), text, what, ("mains.no-fuse",), near)


def fuse_in_neutral(clean: Clean) -> Iterator[Planted]:
    """Line and neutral are taken for one another."""
    if not any("line" in {b.a, b.b} for _, b in clean.parts(PartKind.FUSE)):
        return
    swap = {"line": "neutral", "neutral": "line"}
    lines = [re.sub(r"^(line|neutral)\b(?= -)", lambda m: swap[str(m[1])], t) for t in clean.lines]
    lines = [re.sub(r"(?<=- )(line|neutral)$", lambda m: swap[str(m[1])], t) for t in lines]
    fuses = tuple(p.name for p, b in clean.parts(PartKind.FUSE) if "line" in {b.a, b.b})
    if tuple(lines) != clean.lines:
        what = f"{fuses[0]} stands in the neutral"
        rules = ("mains.fuse-in-neutral", "mains.no-fuse", "mains.live-common")
        near = ("line", "neutral", *clean.circuit.transformers)
        yield Planted(fuses, clean.text(lines), what, rules, near)


def neutral_on_chassis(clean: Clean) -> Iterator[Planted]:
    """The neutral is used as the chassis."""
    points = set(clean.circuit.points)
    if {"neutral", "chassis"} <= points:
        text = clean.added("neutral -- chassis")
        what = "the neutral is joined to the chassis: it is live when the plug is turned"
        rules = ("mains.live-chassis", "mains.live-common")
        yield Planted(("chassis",), text, what, rules, ("neutral", "gnd"))


def bleeder_left_out(clean: Clean) -> Iterator[Planted]:
    """The resistor that drains a capacitor when all tubes are cold is left out."""
    for part, branch in clean.parts(PartKind.RESISTOR):
        ends = {branch.a, branch.b}
        left = [c for c in _charged(clean) if c.plus and _hangs(clean, c.plus, branch)]
        text = clean.opened(part.name) if left else None
        if text and GROUND in ends:
            what = f"without {part.name} nothing drains {', '.join(c.name for c in left)}"
            near = (*(c.name for c in _charged(clean)), *ends - {GROUND})
            yield Planted((part.name,), text, what, ("supply.no-bleeder",), near)


def _charged(clean: Clean) -> list[Branch]:
    """The large capacitors from a supply to gnd."""
    found = []
    for _, branch in clean.parts(PartKind.CAPACITOR):
        volts, farads = across(clean, branch), branch.value
        if volts is None or farads is None or GROUND not in {branch.a, branch.b}:
            continue
        if abs(volts) > CHARGED_VOLTS and magnitude(farads, "farad") > CHARGED_FARADS:
            found.append(branch)
    return found


def _hangs(clean: Clean, net: str, branch: Branch) -> bool:
    """Whether this branch is all that drains a net when the tubes are cold."""
    changes = (NO_CHANGE, Change(opened=frozenset((branch.name,))))
    before, after = (_reaches(dc_graph(clean.circuit, c), net) for c in changes)
    return before and not after


def _reaches(graph: nx.MultiGraph[str], net: str) -> bool:
    return bool(nx.has_path(graph, net, GROUND))


def first_capacitor_too_large(clean: Clean) -> Iterator[Planted]:
    """The capacitor after a tube rectifier is ten times as large."""
    for section in clean.circuit.sections():
        if section.kind is not SectionKind.RECTIFIER:
            continue
        for part, branch in _first(clean, section):
            farads = magnitude(branch.value, "farad") if branch.value is not None else 0.0
            old = re.search(r"\b[\d.]+\s*uF\b", clean.inside(part))
            text = (
                clean.part_replaced(part, old.group(), f"{farads * TIMES * 1e6:g} uF")
                if (old and farads > CHARGED_FARADS)
                else None
            )
            if text:
                what = f"{part.name} is {TIMES} times as large: {section.tube} has to charge it"
                rules = ("supply.first-capacitor-too-large", "supply.rectifier-overload")
                yield Planted((part.name,), text, what, rules, (section.tube, section.name))


def _first(clean: Clean, section: Section) -> Iterator[tuple[Part, Branch]]:
    return (
        (p, b) for p, b in clean.parts(PartKind.CAPACITOR) if {b.a, b.b} & set(section.cathode_nets)
    )


def choke_too_small(clean: Clean) -> Iterator[Planted]:
    """The choke of a choke-input supply has a tenth of its inductance."""
    starts = {
        n
        for s in clean.circuit.sections()
        if s.kind is SectionKind.RECTIFIER
        for n in s.cathode_nets
    }
    loaded = {n for _, b in clean.parts(PartKind.CAPACITOR) for n in (b.a, b.b)}
    for part, branch in clean.parts(PartKind.INDUCTOR):
        if not ({branch.a, branch.b} & (starts - loaded)) or branch.value is None:
            continue
        henries = magnitude(branch.value, "henry") / TIMES
        old = re.search(r"\b[\d.]+\s*H\b", clean.inside(part))
        text = clean.part_replaced(part, old.group(), f"{henries:g} H") if old else None
        if text:
            what = f"{part.name} has {henries:g} H: too little to keep its current flowing"
            yield Planted((part.name,), text, what, ("supply.choke-below-critical",))


def tap_left_out(clean: Clean) -> Iterator[Planted]:
    """The centre tap of the rectifier's winding goes nowhere."""
    for winding in clean.circuit.windings():
        tap = f"{winding.name}.ct"
        rectified = {
            n for s in clean.circuit.sections() if s.kind is SectionKind.RECTIFIER
            for n in (s.net(p) for p in s.plates)
        }  # fmt: skip
        if not rectified & set(winding.nets):
            continue
        for chain in clean.chains:
            if any(p is not None and p.text == tap for p in chain.points):
                text = clean.line_replaced(chain.span.line)
                what = f"{tap} is joined to nothing: the rectifier has no return path"
                rules = (
                    "supply.open-rectifier", "supply.no-return", "drawing.single-connection",
                    "tube.no-plate-supply", "drawing.incomplete",
                )  # fmt: skip
                near = (winding.name, *clean.circuit.tubes, *(n for n in winding.nets))
                yield Planted((tap,), text, what, rules, near)


KINDS: Mapping[str, Callable[[Clean], Iterable[Planted]]] = {
    "earth left out": earth_left_out,
    "mains fuse left out": fuse_left_out,
    "line and neutral exchanged": fuse_in_neutral,
    "neutral on the chassis": neutral_on_chassis,
    "bleeder left out": bleeder_left_out,
    "first capacitor tenfold": first_capacitor_too_large,
    "choke too small": choke_too_small,
    "winding's centre tap left out": tap_left_out,
}
