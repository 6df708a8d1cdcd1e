"""A circuit recovered from an SVG: the nets, each as the leads that touch.

A wire's end on another's middle and three ends in one place touch only where there is a dot, or the
drawing is refused; wires that cross without one do not. Marks of a kind are one net, flags
of one name are one net.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import pairwise

from tests.picture.sheet import read
from tests.picture.symbols import recognise


class Nets:
    """Union-find over places and names."""

    def __init__(self):
        self.parent = {}

    def find(self, key):
        self.parent.setdefault(key, key)
        while self.parent[key] != key:
            self.parent[key] = self.parent[self.parent[key]]
            key = self.parent[key]
        return key

    def join(self, a, b):
        self.parent[self.find(a)] = self.find(b)


def recover(svg):
    """The parts of a drawing, its nets as counters of (part, lead), and net -> flags on it."""
    sheet, symbols = read(svg)
    parts = [recognise(drawn) for drawn in symbols]
    nets = Nets()
    _wire(sheet, parts, nets)
    found, flags = defaultdict(Counter), defaultdict(set)
    for part in parts:
        for lead, place in part.ends:
            net = nets.find(place)
            if part.kind == "flag":
                flags[net].add(part.words[0])
            elif part.kind in ("gnd", "chassis", "earth"):
                found[net]["mark", part.kind] = 1
            else:
                found[net][_called(part, lead)] += 1
    for net in list(flags):
        assert net in found, f"a flag {flags[net]} that leads nowhere"
    return parts, dict(found), dict(flags)


def _called(part, lead):
    """A lead by part; a winding is called alike by itself and in its transformer."""
    if part.kind == "transformer" and "." in lead:
        coil, _, lead = lead.rpartition(".")
        return "winding", f"{part.name}.{coil}", lead
    return part.kind, part.name, lead


def _wire(sheet, parts, nets):
    segments = [(n, line) for n, path in enumerate(sheet.paths) for line in path.lines]
    dots = {(c.x, c.y) for c in sheet.circles}
    touching = defaultdict(list)
    for n, path in enumerate(sheet.paths):
        nets.join(("wire", n), path.points[0])
        for p in (path.points[0], path.points[-1]):
            touching[p].append(("wire", n))
    for m, part in enumerate(parts):
        for _, place in part.ends:
            touching[place].append(("part", m))
            if part.kind in ("gnd", "chassis", "earth"):
                nets.join(place, ("mark", part.kind))
            elif part.kind == "flag":
                nets.join(place, ("flag", part.words[0]))
    _meet(segments, dots, touching, nets)
    _refuse_overlaps(segments)


def _meet(segments, dots, touching, nets):
    for place, things in touching.items():
        for kind, n in things:
            if kind == "wire":
                nets.join(place, ("wire", n))
        assert len(things) < 3 or place in dots, f"three ends meet without a dot at {place}"
    for place in set(touching) | dots:
        through = {n for n, line in segments if line.distance(place) < 0.01}
        inside = through - {n for kind, n in touching.get(place, ()) if kind == "wire"}
        if inside and place in touching:
            assert place in dots, f"an end on a wire without a dot at {place}"
        if place in dots:
            for n in inside:
                nets.join(place, ("wire", n))


def _refuse_overlaps(segments):
    """No wire runs on another."""
    level, upright = defaultdict(list), defaultdict(list)
    for _, line in segments:
        (x, y), (u, v) = line.a, line.b
        assert x == u or y == v, f"a slanting wire {line}"
        if y == v:
            level[y].append(sorted((x, u)))
        else:
            upright[x].append(sorted((y, v)))
    for rows in (level, upright):
        for row in rows.values():
            row.sort()
            for (_, end), (start, _) in pairwise(row):
                assert start >= end, f"a wire on a wire at {row}"
