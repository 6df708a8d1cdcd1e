"""Which symbol some strokes are, and what each of its leads is, told by shape alone.

The shapes are those of IEC 60617 and IEEE 315 as one learns them, written here a second time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot


@dataclass
class Part:
    """A symbol read: its kind, its name, its words, and lead -> place.

    Leads of parts whose ends are alike have no name: they are ``""`` in ``ends``.
    """

    kind: str
    name: str
    words: list[str]
    ends: list[tuple[str, tuple[float, float]]] = field(default_factory=list)


def recognise(drawn):
    """The part that a symbol's strokes show."""
    ends = drawn.ends
    name = " ".join(t.text for t in drawn.texts if t.bold)
    words = [t.text for t in drawn.texts if not t.bold]
    for look in (
        _transistor,
        _tube,
        _mark,
        _transformer,
        _end_of_wire,
        _bridge,
        _stabiliser,
        _several,
        _two,
    ):
        found = look(drawn, ends)
        if found is not None:
            kind, leads = found
            return Part(kind, name, words, leads)
    raise AssertionError(f"no symbol known looks like this: {name} {words} {drawn}")


def _rectangles(drawn):
    return [p for p in drawn.paths if p.closed and len(p.points) == 4]


def _triangles(drawn):
    return [p for p in drawn.paths if p.closed and len(p.points) == 3]


def _bows(drawn):
    return [p for p in drawn.paths if p.bow and not p.closed]


def _label(drawn, end, reach=16):
    """The small text nearest to the end of a lead."""
    small = [t for t in drawn.texts if not t.bold and t.size < 8]
    if not small:
        return ""

    def far(text):
        left, top, right, bottom = text.box
        dx = max(left - end[0], 0, end[0] - right)
        dy = max(top - end[1], 0, end[1] - bottom)
        return hypot(dx, dy)

    near = min(small, key=far)
    return near.text if far(near) < reach else ""


# Tubes


def _tube(drawn, ends):
    envelope = [c for c in drawn.circles if c.r > 25]
    capsules = [p for p in drawn.paths if p.closed and p.bow]
    if not envelope and (not capsules or len(ends) == 2):
        return None
    leads = [(f"{_electrode(drawn, end)}:{_label(drawn, end)}", end) for end in ends]
    cold = any(3 < c.r < 5 for c in drawn.circles)
    return ("regulator" if cold else "tube"), leads


def _transistor(drawn, ends):
    """An envelope with a solid arrow in it; its leads are told by their letters."""
    arrows = _triangles(drawn)
    if not any(c.r > 25 for c in drawn.circles) or len(arrows) != 1:
        return None
    return "transistor", [(_label(drawn, end), end) for end in ends]


def _electrode(drawn, end):
    """What a lead comes to inside the envelope."""
    own = next(p for p in drawn.paths if not p.closed and end in (p.points[0], p.points[-1]))
    inner = own.points[-1] if own.points[0] == end else own.points[0]
    if any(3 < c.r < 5 and hypot(inner[0] - c.x, inner[1] - c.y) < 6 for c in drawn.circles):
        return "cathode"
    touching = [
        p for p in drawn.paths
        if p is not own and any(line.distance(inner) < 0.7 for line in p.lines)
    ]  # fmt: skip
    for path in touching:
        if not path.closed and len(path.points) == 4:
            return "cathode"
        if not path.closed and len(path.points) == 3:
            return "filament"
        if len(path.points) == 2 and not path.closed:
            return _bar(drawn, path, inner)
    return "loose"


def _bar(drawn, path, inner):
    (line,) = path.lines
    row = [
        p for p in drawn.paths
        if len(p.points) == 2 and not p.closed and p.points[0][1] == p.points[1][1] == inner[1]
        and abs(p.lines[0].length - 7) < 0.2
    ]  # fmt: skip
    if len(row) == 3 and abs(line.length - 7) < 0.2:
        return "grid"
    return "pin" if abs(line.length - 6) < 0.2 else "plate"


# Marks and flags


def _mark(drawn, ends):
    if drawn.texts or len(ends) != 1 or len(drawn.paths) < 4:
        return None
    slant = sum(
        1
        for p in drawn.paths
        for line in p.lines
        if abs(line.a[0] - line.b[0]) > 1 < abs(line.a[1] - line.b[1])
    )
    if slant == 3:
        return "chassis", [("", ends[0])]
    return ("earth" if drawn.circles else "gnd"), [("", ends[0])]


def _end_of_wire(drawn, ends):
    if len(ends) != 1:
        return None
    if len(_triangles(drawn)) == 1 and len(drawn.texts) == 1:
        return "flag", [("", ends[0])]
    if len(drawn.circles) == 1 and drawn.circles[0].r < 3:
        return "terminal", [("", ends[0])]
    if len(drawn.circles) == 1 and len(_bows(drawn)) == 2:
        return "signal", [("", ends[0])]
    return None


# Coils


def _transformer(drawn, ends):
    if len(ends) < 2:
        return None
    bows = _bows(drawn)
    long = [
        p.lines[0] for p in drawn.paths
        if len(p.points) == 2 and not p.bow and abs(p.points[0][0] - p.points[1][0]) < 0.1
        and p.lines[0].length > 40
    ]  # fmt: skip
    core = any(abs(abs(a.a[0] - b.a[0]) - 4.4) < 0.1 for a in long for b in long)
    dots = [c for c in drawn.circles if abs(c.r - 1.8) < 0.05]
    if not bows or not dots:
        return None
    level = all(abs(line.a[1] - line.b[1]) < 0.1 for e in ends for line in _own(drawn, e).lines)
    leads = []
    for path in bows:
        mine = [e for e in ends if _comes_to(drawn, e, path)]
        mine.sort(key=lambda e: e[1])
        dot = min(dots, key=lambda c: min(hypot(c.x - x, c.y - y) for x, y in path.points))
        first = abs(dot.y - path.points[0][1]) < abs(dot.y - path.points[-1][1])
        upper = path.points[0][1] < path.points[-1][1]
        dotted = mine[0] if first == upper else mine[-1]
        coil = _coil_name(drawn, mine) if core or level else ""
        marks = {end: "*" if end == dotted else "" for end in mine}
        leads += [(coil + _label(drawn, end) + mark, end) for end, mark in marks.items()]
    return ("transformer" if core or level else "winding"), leads


def _coil_name(drawn, ends):
    """What stands first between the leads of a coil; output transformers name the leads only."""
    side, top, bottom = ends[0][0], ends[0][1], ends[-1][1]
    beside = [
        t for t in drawn.texts
        if not t.bold and t.size > 8 and top < t.y < bottom + 5 and abs(t.x - side) < 15
    ]  # fmt: skip
    return min(beside, key=lambda t: t.y).text + "." if beside else ""


def _comes_to(drawn, end, path):
    return any(line.distance(p) < 1 for line in path.lines for p in _own(drawn, end).points)


def _own(drawn, end):
    """The stroke that ends there: level at coils without a core, upright at a winding by itself."""
    return next(p for p in drawn.paths if not p.closed and end in (p.points[0], p.points[-1]))


def _bridge(drawn, ends):
    """A diamond on its corner with a diode in it; which corner is which stands beside it."""
    boxes = _rectangles(drawn)
    if len(ends) != 4 or len(boxes) != 1 or len(_triangles(drawn)) != 1:
        return None
    if any(x == u or y == v for (x, y), (u, v) in pairwise(boxes[0].points)):
        return None  # its sides lie and stand
    (apex, way), marks = _pointing(drawn), {end: _label(drawn, end) for end in ends}
    plus = max(ends, key=lambda e: e[0] * way)
    assert marks[plus] == "+"
    assert apex * way > boxes[0].points[0][0] * way
    return "bridge", [(marks[end], end) for end in ends]


def _pointing(drawn):
    """Where a lying triangle's apex is, and 1 for right, -1 for left."""
    xs = [x for x, _ in _triangles(drawn)[0].points]
    apex = next(x for x in xs if xs.count(x) == 1)
    return apex, 1 if apex == max(xs) else -1


def _stabiliser(drawn, ends):
    """A large box with three leads and nothing in it but their names."""
    boxes = _rectangles(drawn)
    if len(ends) != 3 or len(boxes) != 1 or drawn.circles or len(drawn.paths) != 4:
        return None
    if max(line.length for line in boxes[0].lines) < 50 or len({x for x, _ in ends}) != 3:
        return None  # a jack has its leads on one side
    return "stabiliser", [(_label(drawn, end), end) for end in ends]


# What has two leads, or three


def _several(drawn, ends):
    boxes = _rectangles(drawn)
    arrows = _triangles(drawn)
    if len(ends) >= 3 and len(arrows) == 1:
        wiper = min(ends, key=lambda e: min(hypot(e[0] - x, e[1] - y) for x, y in arrows[0].points))
        outer = (min(x for x, _ in ends), max(x for x, _ in ends))
        taps = [e for e in ends if len(ends) > 3 and e != wiper and e[0] in outer]
        if taps:
            top, bottom = sorted((e for e in ends if e not in (wiper, *taps)), key=lambda e: e[1])
            named = [(_label(drawn, e), e) for e in taps]
            return "pot", [("top", top), ("wiper", wiper), ("bottom", bottom), *named]
        top, bottom = sorted((e for e in ends if e != wiper), key=lambda e: (e[1], e[0]))
        return "pot", [("top", top), ("wiper", wiper), ("bottom", bottom)]
    if boxes and any(line.length > 24 for line in boxes[0].lines) and len(ends) >= 2 and not arrows:
        width = min(line.length for line in boxes[0].lines)
        if width > 20 and len({x for x, _ in ends}) == 1:
            return "jack", [(_label(drawn, e), e) for e in ends]
    if not boxes and not arrows and not _bows(drawn) and _bends(drawn):
        return "heater", [(_label(drawn, e), e) for e in ends]
    small = [c for c in drawn.circles if abs(c.r - 1.5) < 0.05]
    if len(ends) >= 3 and len(small) == len(ends):
        return "pole", _throws(drawn, ends, small)
    if len(ends) == 2 and len(small) == 2 and any(_label(drawn, e) for e in ends):
        marked = next(e for e in ends if _label(drawn, e))
        other = next(e for e in ends if e != marked)
        return "pole", [("common", other), (_label(drawn, marked), marked)]
    return None


def _throws(drawn, ends, small):
    lone = [e for e in ends if sum(1 for f in ends if f[0] == e[0]) == 1]
    return [("common" if e in lone else _label(drawn, e), e) for e in ends]


def _bends(drawn):
    """Whether a heater's bent wire is there: one or two lines of three places, nothing else."""
    bent = [p for p in drawn.paths if not p.closed and len(p.points) == 3]
    straight = [p for p in drawn.paths if not p.closed and len(p.points) == 2]
    return bool(bent) and not drawn.circles and len(bent) + len(straight) == len(drawn.paths)


def _two(drawn, ends):
    if len(ends) != 2:
        return None
    kind, lead = _kind_and_first(drawn, ends)
    if lead is None:
        return kind, [("", end) for end in ends]
    return kind, [("a" if end == lead else "b", end) for end in ends]


def _kind_and_first(drawn, ends):
    boxes, triangles, bows = _rectangles(drawn), _triangles(drawn), _bows(drawn)
    rings = [c for c in drawn.circles if abs(c.r - 1.5) < 0.05]
    lines = [p for p in drawn.paths if len(p.points) == 2 and not p.closed]
    if any(abs(c.r - 8.5) < 0.1 for c in drawn.circles):
        return "lamp", None
    if any(abs(c.r - 10) < 0.1 for c in drawn.circles) and len(lines) == 3 and not boxes:
        return "meter", None
    if len(boxes) == 1 and len(drawn.paths) == 3 and _across(boxes[0], ends):
        return "relay", None
    if len(boxes) == 1 and len(drawn.paths) == 5 and _across(boxes[0], ends):
        return "crystal", None
    if any(p.closed and p.bow for p in drawn.paths):
        arrows = any(len(p.points) == 3 and not p.closed for p in drawn.paths)
        return ("photocell" if arrows else "barretter"), None
    if len(triangles) == 2:
        return "arrester", None
    if triangles:
        return _diode(drawn, triangles[0], ends)
    if boxes and rings:
        return "jack", None
    if len(rings) == 2:
        return "switch", None
    if len(boxes) == 2:
        return "speaker", None
    if boxes:
        through = any(p.lines[0].length == 40 for p in lines)
        slant = any(len(p.points) == 3 and not p.closed for p in drawn.paths)
        return ("fuse" if through else "thermistor" if slant else "resistor"), None
    zigzag = [p for p in drawn.paths if len(p.points) == 8 and not p.closed]
    if zigzag:
        slant = any(len(p.points) == 3 and not p.closed for p in drawn.paths)
        return ("thermistor" if slant else "resistor"), None
    return _plates_or_coil(drawn, bows, lines, ends)


def _across(box, ends):
    """Whether a box is longer across its leads than along them."""
    xs, ys = [x for x, _ in box.points], [y for _, y in box.points]
    wide = max(xs) - min(xs) > max(ys) - min(ys)
    return wide == (abs(ends[0][0] - ends[1][0]) < abs(ends[0][1] - ends[1][1]))


def _diode(drawn, triangle, ends):
    apex = max(
        triangle.points, key=lambda p: sum(hypot(p[0] - q[0], p[1] - q[1]) for q in triangle.points)
    )
    anode = max(ends, key=lambda e: hypot(e[0] - apex[0], e[1] - apex[1]))
    kinked = any(len(p.points) == 4 and not p.closed for p in drawn.paths)
    arrows = any(len(p.points) == 3 and not p.closed for p in drawn.paths)
    return ("zener" if kinked else "led" if arrows else "diode"), anode


def _plates_or_coil(drawn, bows, lines, ends):
    plus = [p for p in lines if abs(p.lines[0].length - 5.6) < 0.1]
    long = [p for p in lines if abs(p.lines[0].length - 18) < 0.1]
    half = [p for p in lines if abs(p.lines[0].length - 9) < 0.1]
    if bows and len(bows) == 2 and all(len(p.points) == 2 for p in bows) and not long:
        return "fuse", None
    if bows and len(bows[0].points) == 5:
        return "inductor", None
    if bows and len(bows[0].points) == 2 and not long:
        return "link", None
    first = None
    if plus:
        (x, y), (u, v) = plus[0].points
        middle = ((x + u) / 2, (y + v) / 2)
        first = min(ends, key=lambda e: hypot(e[0] - middle[0], e[1] - middle[1]))
    if len(long) == 2 and len(half) == 2:
        return "source", first
    assert long, f"no part with two leads looks like this: {drawn}"
    return "capacitor", first
