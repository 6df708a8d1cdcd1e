"""An SVG as a reader with a ruler sees it: lines, arcs, circles, texts, and what is drawn together.

Nothing of the program that drew it is used, no class, no identifier: only where ink is. Bold type
tells a name from a value, as it does on paper. Lengths are in units of the file; 10 are a cell.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from itertools import pairwise
from math import hypot

CELL = 10
_SVG = "{http://www.w3.org/2000/svg}"
_TOKEN = re.compile(r"[MLAZ]|-?\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Line:
    """A straight stroke."""

    a: tuple[float, float]
    b: tuple[float, float]

    @property
    def length(self):
        return hypot(self.a[0] - self.b[0], self.a[1] - self.b[1])

    def distance(self, p):
        """From a point to the stroke."""
        (x, y), (u, v) = self.a, self.b
        dx, dy = u - x, v - y
        size = dx * dx + dy * dy
        t = 0 if not size else max(0, min(1, ((p[0] - x) * dx + (p[1] - y) * dy) / size))
        return hypot(p[0] - x - t * dx, p[1] - y - t * dy)


@dataclass(frozen=True)
class Path:
    """Strokes in one go; ``bow``: with arcs (drawn here as their chords); ``closed``: a figure."""

    points: tuple[tuple[float, float], ...]
    closed: bool = False
    bow: bool = False

    @property
    def lines(self):
        ends = (*self.points, self.points[0]) if self.closed else self.points
        return [Line(a, b) for a, b in pairwise(ends)]


@dataclass(frozen=True)
class Circle:
    x: float
    y: float
    r: float


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    text: str
    bold: bool
    size: float
    anchor: str

    @property
    def box(self):
        width = (
            sum(0.3 if c in "iljtf.,:;|!()[]' /I-\u00a0" else 0.58 for c in self.text) * self.size
        )
        left = self.x - {"start": 0, "middle": width / 2, "end": width}[self.anchor]
        return (left, self.y - 0.7 * self.size, left + width, self.y + 0.05 * self.size)


@dataclass
class Drawn:
    """What is drawn together: the strokes and words of one symbol, or of the sheet between."""

    paths: list[Path] = field(default_factory=list)
    circles: list[Circle] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    def touched(self, p, but=None, near=0.6):
        """Whether a stroke other than ``but`` comes to a point."""
        for path in self.paths:
            if path is not but and any(line.distance(p) < near for line in path.lines):
                return True
        return any(abs(hypot(p[0] - c.x, p[1] - c.y) - c.r) < near for c in self.circles)

    @property
    def ends(self):
        """The loose ends on whole cells: where leads end."""
        return sorted(
            p
            for path in self.paths
            if not path.closed and not path.bow
            for p in (path.points[0], path.points[-1])
            if p[0] % CELL == 0 == p[1] % CELL and not self.touched(p, path)
        )


def read(svg):
    """The symbols of a sheet, and the sheet itself without them."""
    root = ET.fromstring(svg)
    sizes, bold = _fonts(root.find(f"{_SVG}style").text)
    sheet, symbols = Drawn(), []
    for element in root:
        if element.tag == f"{_SVG}g":
            symbols.append(Drawn())
            for part in element:
                _take(symbols[-1], part, sizes, bold)
        else:
            _take(sheet, element, sizes, bold)
    return sheet, symbols


def _fonts(style):
    """Class -> size of its letters, and the classes in bold type."""
    sizes, bold = {}, set()
    for name, rules in re.findall(r"\.(\w+) \{([^}]*)\}", style):
        size = re.search(r"font-size: ([\d.]+)px", rules)
        if size:
            sizes[name] = float(size[1])
        if "bold" in rules:
            bold.add(name)
    return sizes, bold


def _take(drawn, element, sizes, bold):
    kind = element.tag.removeprefix(_SVG)
    if kind == "path":
        drawn.paths += _paths(element.get("d"))
    elif kind == "circle":
        drawn.circles.append(Circle(*(float(element.get(k)) for k in ("cx", "cy", "r"))))
    elif kind == "text":
        name = element.get("class")
        place = float(element.get("x")), float(element.get("y"))
        anchor = element.get("text-anchor", "start")
        drawn.texts.append(Text(*place, element.text, name in bold, sizes[name], anchor))


def _paths(d):
    tokens = _TOKEN.findall(d)
    found, points, bow, at = [], [], False, 0
    while at < len(tokens):
        command = tokens[at]
        if command == "M" and points:
            found.append(Path(tuple(points), False, bow))
            points, bow = [], False
        if command in "ML":
            points.append((float(tokens[at + 1]), float(tokens[at + 2])))
            at += 3
        elif command == "A":
            points.append((float(tokens[at + 6]), float(tokens[at + 7])))
            bow, at = True, at + 8
        else:
            found.append(Path(tuple(points), True, bow))
            points, bow, at = [], False, at + 1
    return found + ([Path(tuple(points), False, bow)] if points else [])
