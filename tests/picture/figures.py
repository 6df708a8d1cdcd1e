"""The layout measured on the SVG: what overlaps, crosses, bends, and how small it gets on A4."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from itertools import combinations
from math import hypot

from tests.picture.readback import recover
from tests.picture.sheet import read

MILLIMETRES = (277, 190)


@dataclass(frozen=True)
class Figures:
    """One drawing's; ``flags`` are names a wire ends at, a hundred leads."""

    text_on_text: int
    text_on_symbol: int
    text_on_wire: int
    symbol_on_symbol: int
    wire_through_symbol: int
    crossings: int
    bends: int
    flags: int
    aspect: float
    smallest_mm: float

    def row(self):
        return asdict(self)


def figures_of(svg):
    """The figures of a drawing."""
    sheet, symbols = read(svg)
    parts, _, _ = recover(svg)
    texts = [(n, t) for n, s in enumerate(symbols) for t in s.texts]
    texts += [(None, t) for t in sheet.texts]
    wires = [line for path in sheet.paths for line in path.lines]
    leads = sum(len(p.ends) for p in parts if p.kind not in ("flag", "gnd", "chassis", "earth"))
    width, height = (int(n) for n in re.search(r'viewBox="0 0 (\d+) (\d+)"', svg).groups())
    scale = min(MILLIMETRES[0] / width, MILLIMETRES[1] / height)
    return Figures(
        text_on_text=sum(1 for (_, a), (_, b) in combinations(texts, 2) if _boxes(a.box, b.box)),
        text_on_symbol=sum(
            1 for n, t in texts for m, s in enumerate(symbols)
            if any(_through(t.box, line) for p in s.paths if not p.bow for line in p.lines)
            and (n != m or not _lead_label(t))
        ),
        text_on_wire=sum(1 for _, t in texts for line in wires if _through(t.box, line)),
        symbol_on_symbol=_overlapping(symbols),
        wire_through_symbol=sum(1 for line in wires for s in symbols if _hits(line, s)),
        crossings=_crossings(wires),
        bends=sum(len(path.points) - 2 for path in sheet.paths),
        flags=round(100 * sum(1 for p in parts if p.kind == "flag") / max(leads, 1)),
        aspect=round(width / height, 2),
        smallest_mm=round(min(t.size for _, t in texts) * scale, 2),
    )  # fmt: skip


def _lead_label(text):
    return text.size < 8


def _boxes(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _through(box, line):
    """Whether a stroke enters a text's box, half a unit of grace allowed."""
    (x, y), (u, v) = line.a, line.b
    left, top, right, bottom = box[0] + 0.5, box[1] + 0.5, box[2] - 0.5, box[3] - 0.5
    if left >= right or top >= bottom:
        return False
    steps = max(2, int(line.length / 2))
    return any(
        left < x + (u - x) * n / steps < right and top < y + (v - y) * n / steps < bottom
        for n in range(steps + 1)
    )


def _body(drawn):
    """The box of a symbol's strokes, without the outermost end of each lead."""
    points = [p for path in drawn.paths for p in path.points if p not in drawn.ends]
    points += [(c.x + s * c.r, c.y + s * c.r) for c in drawn.circles for s in (-1, 1)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys)) if points else None


def _overlapping(symbols):
    boxes = [b for b in map(_body, symbols) if b is not None]
    return sum(1 for a, b in combinations(boxes, 2) if _boxes(a, b))


def _hits(line, drawn):
    """Whether a wire comes to a symbol's strokes anywhere but at the end of a lead."""
    ends = drawn.ends
    steps = max(1, int(line.length / 5))
    for n in range(steps + 1):
        p = (line.a[0] + (line.b[0] - line.a[0]) * n / steps,
             line.a[1] + (line.b[1] - line.a[1]) * n / steps)  # fmt: skip
        if drawn.touched(p, near=0.5) and all(hypot(p[0] - x, p[1] - y) > 3 for x, y in ends):
            return True
    return False


def _crossings(wires):
    level = [w for w in wires if w.a[1] == w.b[1]]
    upright = [w for w in wires if w.a[0] == w.b[0]]
    return sum(
        1 for h in level for v in upright
        if min(h.a[0], h.b[0]) < v.a[0] < max(h.a[0], h.b[0])
        and min(v.a[1], v.b[1]) < h.a[1] < max(v.a[1], v.b[1])
    )  # fmt: skip
