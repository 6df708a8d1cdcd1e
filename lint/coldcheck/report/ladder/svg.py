"""The ladder as SVG: one file, nothing from outside, the same bytes for the same drawing."""

from __future__ import annotations

from itertools import groupby
from math import ceil, floor, log10
from typing import TYPE_CHECKING

from coldcheck.bench.ladder.ladder import rung_range
from coldcheck.records import dataclass
from coldcheck.report.ladder import words
from coldcheck.report.shared.html_page import text as escaped
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.bench.ladder.ladder import Column, Ladder, Link, Rung, Window

TOP, HIGH, FOOT, LEFT, RIGHT = 74.0, 640.0, 34.0, 52.0, 12.0
"""Above the volts, their height, the tubes' names below; the scale's figures, the right edge."""

NETS, LANE, GAP, WIDEST = 212.0, 34.0, 14.0, 1500.0
"""Width of a state's nets with their names, of one tube section, and between two states; what
states side by side may take before they go on in a row below."""

LINE, VOLTS_X, NAMES_X, LETTERS = 12.0, 88.0, 93.0, 22
"""Height of a name, where its volts end, where it begins, and what goes on one line of it."""

NOTE, NOTE_LETTERS = 15.0, 5.6
"""Height of a line of notes; width of one of its letters, rather more than on average."""

NARROWEST = 380.0
"""Width of one small state: a telephone shows it as it is."""

REACH = 0.4
"""A window's end is shown as far away as this share of what the nets span, else an arrow."""


@dataclass(frozen=True, slots=True)
class _Scale:
    low: float
    high: float

    def y(self, level: float) -> float:
        """Where a voltage is, at the edge where it is beyond it."""
        inside = min(max(level, self.low), self.high)
        return TOP + HIGH * (self.high - inside) / (self.high - self.low)

    def holds(self, level: float | None) -> bool:
        """Whether it is on the sheet."""
        return level is not None and self.low <= level <= self.high


def render(found: Ladder) -> str:
    """The whole picture; every text from the drawing is escaped."""
    scale, rows = _scale(found.columns), _in_rows(found.columns)
    wide = max(NARROWEST, *(LEFT + RIGHT + _wide(row) for row in rows))
    notes = [line for note in _notes(found) for line in _folded(note, wide)]
    foot = 50.0 + ROW * len(rows)
    tall = foot + NOTE * (len(notes) + 1)
    title = escaped(words.heading(found))
    body = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {tall:.0f}" '
        f'width="{wide:.0f}" height="{tall:.0f}" role="img" '
        'font-family="Liberation Sans, Arial, sans-serif" font-size="10.5" fill="#000">',
        f"<title>{title}: ladder of potentials</title>",
        f'<rect width="{wide:.0f}" height="{tall:.0f}" fill="#fff"/>',
        f'<text x="12" y="24" font-size="16" font-weight="bold">{title}</text>',
        f'<text x="12" y="42">Ladder of {escaped(found.file)}: height is volts to gnd</text>',
    ]
    for number, row in enumerate(rows):
        body += [f'<g transform="translate(0 {ROW * number:.0f})">', *_row(row, scale), "</g>"]
    body += [_text(12, foot + NOTE * (n + 1), line) for n, line in enumerate(notes)]
    return "\n".join([*body, "</svg>", ""])


ROW = TOP + HIGH + FOOT + 16 - 50


def _in_rows(columns: Sequence[Column]) -> list[Sequence[Column]]:
    """Side by side as far as the sheet is wide; where one row will not do, in even ones."""
    for count in range(1, len(columns) + 1):
        each = ceil(len(columns) / count)
        rows = [columns[n : n + each] for n in range(0, len(columns), each)]
        if max(map(_wide, rows)) <= WIDEST:
            return rows
    return [[column] for column in columns]


def _wide(row: Sequence[Column]) -> float:
    return sum(_width(c) for c in row) + GAP * (len(row) - 1)


def _row(row: Sequence[Column], scale: _Scale) -> Iterator[str]:
    yield from _axis(scale)
    x = LEFT
    for column in row:
        yield from _column(column, x, _width(column), scale)
        x += _width(column) + GAP


def _notes(found: Ladder) -> Iterator[str]:
    yield from words.notes(found)
    yield from words.LEGEND
    yield words.CAUTION


def _folded(note: str, wide: float) -> Iterator[str]:
    room, line = int((wide - 24) / NOTE_LETTERS), ""
    for word in clean(note).split():
        if line and len(line) + 1 + len(word) > room:
            yield line
            line = f"  {word}"
        else:
            line = f"{line} {word}" if line else word
    yield line


def _scale(columns: Sequence[Column]) -> _Scale:
    """All nets, and the windows' ends that are near."""
    low, high = rung_range(columns)
    span = max(high - low, 1.0)
    heaters = [x.window for c in columns for x in c.links if x.window is not None]
    ends = [v for w in heaters for v in (w.least, w.most) if v is not None]
    near = [v for v in ends if low - REACH * span <= v <= high + REACH * span]
    low, high = min([low, *near]), max([high, *near])
    edge = 0.03 * max(high - low, 1.0)
    return _Scale(low - edge, high + edge)


def _step(scale: _Scale) -> float:
    """The volts between two lines of the grid: 1, 2 or 5 times a power of ten."""
    rough = (scale.high - scale.low) / 9
    decade = 10.0 ** floor(log10(rough))
    return next(m * decade for m in (1.0, 2.0, 5.0, 10.0) if m * decade >= rough)


def _levels(scale: _Scale) -> list[float]:
    step = _step(scale)
    return [n * step for n in range(ceil(scale.low / step), floor(scale.high / step) + 1)]


def _axis(scale: _Scale) -> Iterator[str]:
    for level in _levels(scale):
        yield _text(LEFT - 8, scale.y(level) + 4, f"{level:g} V", anchor="end")


def _grid(column: Column, x: float, width: float, scale: _Scale) -> Iterator[str]:
    """The lines of the scale, left out behind the names."""
    for level in _levels(scale):
        y, colour = scale.y(level), "#000" if level == 0 else "#ccc"
        yield _line(x - 4, y, x + 46, y, colour, 0.8)
        if column.links:
            yield _line(x + NETS - 6, y, x + width, y, colour, 0.8)


def _width(column: Column) -> float:
    return NETS + LANE * len(column.links) + (8 if column.links else 0)


def _column(column: Column, x: float, width: float, scale: _Scale) -> Iterator[str]:
    yield (
        f'<rect x="{x:.1f}" y="{TOP - 20:.1f}" width="{width:.1f}" height="{HIGH + 20 + FOOT:.1f}" '
        'fill="none" stroke="#888" stroke-width="0.8"/>'
    )
    yield _text(x + 8, TOP - 6, column.state, weight="bold")
    yield from _grid(column, x, width, scale)
    if column.reason:
        yield _text(x + 8, TOP + 20, f"not solved: {column.reason}"[:60])
        return
    yield from _rungs(column.rungs, x, scale)
    for number, link in enumerate(column.links):
        yield from _lane(link, x + NETS + LANE * number + 12, scale)


def _rungs(rungs: Sequence[Rung], x: float, scale: _Scale) -> Iterator[str]:
    groups = _together(rungs, scale)
    wanted = [sum(scale.y(r.dc) for r in group) / len(group) for group in groups]
    for group, place in zip(groups, spread(wanted), strict=True):
        for rung in group:
            y = scale.y(rung.dc)
            top, foot = scale.y(rung.high), scale.y(rung.low)
            yield f"<g><title>{escaped(_told(rung))}</title>"
            if foot - top >= 1:
                yield (
                    f'<rect x="{x + 17:.1f}" y="{top:.1f}" width="6" height="{foot - top:.1f}" '
                    'fill="#fff" stroke="#000" stroke-width="0.8"/>'
                )
            yield _line(x + 10, y, x + 30, y, "#000", 1.8)
            yield _line(x + 30, y, x + 45, place - 3.5, "#888", 0.6)
            yield "</g>"
        head, names = _label(group)
        yield _text(x + VOLTS_X, place, head, anchor="end")
        yield _text(x + NAMES_X, place, names)


def _together(rungs: Sequence[Rung], scale: _Scale) -> list[list[Rung]]:
    """Rungs that share a label: one each, unless there are more than the height has room for."""
    if len(rungs) <= MOST:
        return [[r] for r in rungs]
    size = HIGH / MOST
    return [list(g) for _, g in groupby(rungs, key=lambda r: floor(scale.y(r.dc) / size))]


MOST = int(HIGH / LINE) - 1


def spread(wanted: Sequence[float]) -> list[float]:
    """Places for labels from the top, ``LINE`` apart, each as near its own as the others allow."""
    blocks: list[list[float]] = []  # sum of the first places wanted, and how many labels
    for place in wanted:
        blocks.append([place, 1.0])
        while len(blocks) > 1 and _overlap(blocks[-2], blocks[-1]):
            total, count = blocks.pop()
            blocks[-1][0] += total - LINE * blocks[-1][1] * count
            blocks[-1][1] += count
    placed: list[float] = []
    for total, count in blocks:
        size = LINE * count
        first = min(max(total / count, TOP + 8), TOP + HIGH + LINE - size)
        if placed:
            first = max(first, placed[-1] + LINE)
        placed += [first + LINE * n for n in range(int(count))]
    return [p + 3.5 for p in placed]


def _overlap(above: Sequence[float], below: Sequence[float]) -> bool:
    return above[0] / above[1] + LINE * above[1] > below[0] / below[1]


def _label(group: Sequence[Rung]) -> tuple[str, str]:
    """The volts, and as many names as there is room for."""
    names = [n for r in group for n in r.names]
    head = f"{volts(group[0].dc)} V"
    if len(group) > 1:
        head = f"{group[0].dc:.0f}..{group[-1].dc:.0f} V"
    kept = len(names)
    while kept > 1 and len(_names(names, kept)) > LETTERS:
        kept -= 1
    said = _names(names, kept)
    return head, said if len(said) <= LETTERS + 3 else f"{said[: LETTERS + 2]}…"


def _names(names: Sequence[str], kept: int) -> str:
    more = f" +{len(names) - kept}" if kept < len(names) else ""
    return f"{', '.join(names[:kept])}{more}"


def _told(rung: Rung) -> str:
    return f"{', '.join(rung.names)}: {volts(rung.dc)} V, {volts(rung.low)} to {volts(rung.high)} V"


def _lane(link: Link, x: float, scale: _Scale) -> Iterator[str]:
    """One section from its cathode to its plate, its heater's window beside it."""
    yield f"<g><title>{escaped(_said(link))}</title>"
    if link.window is not None:
        yield from _window(link.window, x + 14, scale)
    k = scale.y(link.cathode)
    if link.plate is not None:
        p = scale.y(link.plate)
        yield _line(x, k, x, p, "#000", 0.8)
        yield _line(x - 7, p, x + 7, p, "#000", 3)
    if link.screen is not None:
        y = scale.y(link.screen)
        yield _line(x - 7, y, x + 7, y, "#000", 1.4, "3 2")
    if link.grid is not None:
        y = scale.y(link.grid)
        yield _line(x - 9, y, x - 2, y, "#000", 1.4)
    yield f'<circle cx="{x:.1f}" cy="{k:.1f}" r="3.2"/>'
    out = link.window is not None and link.window.outside
    place = TOP + HIGH + 15
    yield _text(x + 6, place, link.section, anchor="middle", weight="bold" if out else "")
    if out:
        yield _text(x + 6, place + 14, "! outside", anchor="middle", weight="bold")
    yield "</g>"


def _window(window: Window, x: float, scale: _Scale) -> Iterator[str]:
    """The lift allowed as a box, open where no limit is; where the line is as a black bar."""
    if window.least is not None or window.most is not None:
        top = scale.y(scale.high if window.most is None else window.most)
        foot = scale.y(scale.low if window.least is None else window.least)
        if foot > top:
            yield (
                f'<rect x="{x - 5:.1f}" y="{top:.1f}" width="10" height="{foot - top:.1f}" '
                'fill="#e4e4e4" stroke="#888" stroke-width="0.6"/>'
            )
        yield from _end(window.most, x, scale, up=True, closes=window.sets_most)
        yield from _end(window.least, x, scale, up=False, closes=window.sets_least)
    if window.at is None or window.low is None or window.high is None:
        yield _text(x, TOP + HIGH - 4, "floats", anchor="middle")
        return
    top, foot = scale.y(window.high), scale.y(window.low)
    tall = max(foot - top, 2.0)
    colour = "#c8102e" if window.outside else "#000"
    yield (f'<rect x="{x - 1.5:.1f}" y="{top:.1f}" width="3" height="{tall:.1f}" fill="{colour}"/>')
    at = scale.y(window.at)
    yield _line(x - 5, at, x + 5, at, colour, 1.2)


def _end(level: float | None, x: float, scale: _Scale, *, up: bool, closes: bool) -> Iterator[str]:
    """An end of a window: a stroke, thick where it closes the window; an arrow beyond the sheet."""
    if level is None:
        return
    y = scale.y(level)
    if scale.holds(level):
        yield _line(x - 6, y, x + 6, y, "#000", 3.2 if closes else 1)
        return
    tip, base = (y - 2, y + 6) if up else (y + 2, y - 6)
    yield f'<path d="M{x - 5:.1f} {base:.1f}L{x:.1f} {tip:.1f}L{x + 5:.1f} {base:.1f}z"/>'


def _said(link: Link) -> str:
    said = f"{link.section} {link.type}: cathode {volts(link.cathode)} V"
    said += "" if link.plate is None else f", plate {volts(link.plate)} V"
    window = link.window
    if window is None:
        return said
    at = "floats" if window.at is None else f"at {volts(window.at)} V"
    least = "any" if window.least is None else f"{volts(window.least)} V"
    most = "any" if window.most is None else f"{volts(window.most)} V"
    return f"{said}; heater bus {window.line} {at}, allowed from {least} to {most}"


def _line(
    x1: float, y1: float, x2: float, y2: float, colour: str, width: float, dash: str = ""
) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" '
        f'stroke-width="{width:g}"{dashes}/>'
    )


def _text(x: float, y: float, said: str, *, anchor: str = "", weight: str = "") -> str:
    more = f' text-anchor="{anchor}"' if anchor else ""
    more += f' font-weight="{weight}"' if weight else ""
    return f'<text x="{x:.1f}" y="{y:.1f}"{more}>{escaped(said)}</text>'
