"""A picture as SVG, a file of its own or inside a page: black strokes on white, all inside.

What stands for a part or a net says so (``data-part``, ``data-net``), so that a page can point
at it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.changed import NOTHING, items_of
from coldcheck.picture.devices import Symbol
from coldcheck.picture.grid import SIZES, Anchor, Tone, Word
from coldcheck.picture.model import Standard
from coldcheck.picture.sheet import HEAD
from coldcheck.report.picture.pen import CELL, number, spot_text
from coldcheck.report.picture.strokes import strokes_of
from coldcheck.report.shared.html_page import text
from coldcheck.report.shared.signal_words import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Item
    from coldcheck.picture.changed import Changed
    from coldcheck.picture.model import Panel, Picture, Wire

A4 = (277, 190)
"""What a printer leaves of A4, lying, in millimetres."""

_STROKES = {
    "path, circle": "fill: none; stroke: #000; stroke-width: 1.2; stroke-linejoin: round;",
    "path": "stroke-linecap: round;",
    ".envelope": "stroke-width: 1;",
    ".plate": "stroke-width: 2.2;",
    ".grid": "stroke-width: 1.6;",
    ".plus": "stroke-width: 1;",
    ".ink, .dot": "fill: #000;",
    ".dot": "stroke: none;",
    "text": 'font-family: Arial, "Liberation Sans", Helvetica, sans-serif; fill: #000;',
    "rect.badge": "fill: #fff; stroke: #000; stroke-width: 1;",
    "text.badge": "font-size: 10px; font-weight: bold;",
}
_TYPE = {
    Tone.NAME: "font-weight: bold;",
    Tone.VALUE: "",
    Tone.PIN: "fill: #333;",
    Tone.NET: "font-style: italic;",
    Tone.VOLTS: "fill: #0b4f8a;",
    Tone.TITLE: "font-weight: bold;",
}
CHANGED_STYLE = """\
.drawn rect.changed { fill: none; stroke: #a3004f; stroke-width: 2; stroke-dasharray: 6 3; }
.drawn rect.elsewhere { fill: none; stroke: #a3004f; stroke-width: 2.4; }
.drawn path.lacking { stroke: #e5a5c4; stroke-width: 9; }
"""
"""Of pages that mark what is changed, besides :func:`style`."""

ROOT = "drawn"
"""The class of a picture: its style holds for nothing else on a page."""


def style() -> str:
    """The style of every picture: that of the drawing, and the signal words in their colours."""
    rules = dict(_STROKES)
    for tone, more in _TYPE.items():
        rules[f".{tone.value}"] = f"font-size: {number(SIZES[tone] * CELL)}px; {more}".rstrip()
    for level, words in STYLES.items():
        colours = [w for w in words.split() if w.startswith("#")]
        if colours:
            rules[f"rect.{level}"] = f"fill: {colours[1]};"
            rules[f"text.{level}"] = f"fill: {colours[0]};"
    lines = [f".{ROOT} {{ background: #fff; }}"]
    for selector, rule in rules.items():
        own = ", ".join(f".{ROOT} {part}" for part in selector.split(", "))
        lines.append(f"{own} {{ {rule} }}")
    return "\n".join(lines) + "\n"


def render(picture: Picture, standard: Standard = Standard.IEC) -> str:
    """The picture as the text of an SVG file."""
    width, height = extent(picture)
    scale = min(A4[0] / width, A4[1] / height)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{ROOT}" viewBox="0 0 {width} {height}" '
        f'width="{number(width * scale)}mm" height="{number(height * scale)}mm" role="img">',
        f"<title>{text(picture.title)}</title>",
        f"<style>\n{style()}</style>",
        *_heading(picture),
        *_content(picture, standard),
    ]
    return "\n".join([*lines, "</svg>", ""])


def inline(picture: Picture, standard: Standard = Standard.IEC, changed: Changed = NOTHING) -> str:
    """The picture inside a page that has :func:`style` and says its title and its state itself.

    What is ``changed`` is framed, ringed and underlaid.
    """
    width, height = extent(picture)
    top = (HEAD - 2) * CELL
    head = (
        f'<svg class="{ROOT}" viewBox="0 {top} {width} {height - top}" width="{width}" '
        f'height="{height - top}" role="img" aria-label="{text(_label(picture))}">'
    )
    content = [*_lacking(picture, changed), *_content(picture, standard)]
    return "\n".join([head, *content, *_framed(picture, changed), "</svg>"])


FRAME, RING = 0.8, 0.7
"""Around what is framed; the radius of a ring. In cells."""


def _framed(picture: Picture, changed: Changed) -> Iterator[str]:
    """Frames around parts with their words, rings at leads."""
    for item in items_of(picture):
        if item.device.name in changed.parts:
            boxes = [word.moved(item.x, item.y).box for word in item.form.words]
            boxes += [(x, y, x, y) for x, y in (*item.cells, *(p.cell for p in item.ports))]
            lefts, tops, rights, bottoms = zip(*boxes, strict=True)
            left, top, right, bottom = min(lefts), min(tops), max(rights), max(bottoms)
            yield _rect("changed", left - FRAME, top - FRAME, right + FRAME, bottom + FRAME, 6)
        for port in item.ports:
            if (item.device.name, port.name) in changed.leads:
                x, y = port.cell
                yield _rect("elsewhere", x - RING, y - RING, x + RING, y + RING, RING * CELL)


def _lacking(picture: Picture, changed: Changed) -> Iterator[str]:
    """A broad line under the wires of a point that has a part more in the other picture."""
    for wire in (w for panel in picture.panels for w in panel.wires if w.net in changed.nets):
        yield f'<path class="lacking" d="{_along(wire)}"/>'


def _rect(kind: str, left: float, top: float, right: float, bottom: float, bend: float) -> str:
    return (
        f'<rect class="{kind}" x="{_at(left)}" y="{_at(top)}" width="{_at(right - left)}" '
        f'height="{_at(bottom - top)}" rx="{number(bend)}"/>'
    )


def _label(picture: Picture) -> str:
    return f"circuit diagram: {picture.title or 'untitled'}"


def extent(picture: Picture) -> tuple[int, int]:
    """Width and height in units of the SVG, the list of findings included."""
    rows = ROW * len(picture.entries) + 1
    return picture.width * CELL, (picture.height + int(rows)) * CELL


def _content(picture: Picture, standard: Standard) -> Iterator[str]:
    for panel in picture.panels:
        yield from _panel(panel, standard)
    yield from _list(picture)


def _heading(picture: Picture) -> Iterator[str]:
    yield _word(Word(1, 2.2, picture.title, Tone.TITLE))
    if picture.state:
        yield _word(Word(1, 3.8, picture.state, Tone.VOLTS))


ROW = 1.8
"""From one finding of the list to the next."""


def _list(picture: Picture) -> Iterator[str]:
    """The findings under the picture: number, signal word, place, what is wrong."""
    for n, entry in enumerate(picture.entries):
        y = picture.height + n * ROW + 0.5
        yield _badge(entry.level, str(entry.number), 2, y)
        yield _word(Word(3.5, y, f"{entry.level.upper()}  {entry.about}", Tone.NAME))
        yield _word(Word(15, y, entry.text, Tone.VALUE))


def _badge(level: str, mark: str, x: float, y: float) -> str:
    """A finding's number in a box of its signal word's colours; a test point's in a round one."""
    wide = 0.45 + 0.3 * len(mark)
    box = f'x="{_at(x - wide)}" y="{_at(y - 0.95)}" width="{_at(2 * wide)}" height="12"'
    kind = f'class="badge {level}" data-finding="{mark}"' if level else 'class="badge"'
    return (
        f'<rect {kind} {box} rx="{2 if level else 6}"/>'
        f'<text {kind} x="{_at(x)}" y="{_at(y)}" text-anchor="middle">{mark}</text>'
    )


def _at(value: float) -> str:
    return number(value * CELL)


def _panel(panel: Panel, standard: Standard) -> Iterator[str]:
    if panel.title:
        yield _word(Word(panel.x + 1, panel.y + 0.5, panel.title, Tone.TITLE))
    for wire in panel.wires:
        yield f'<path{_of("net", wire.net)} d="{_along(wire)}"/>'
    for net, (x, y) in panel.dots:
        yield f'<circle class="dot"{_of("net", net)} cx="{x * CELL}" cy="{y * CELL}" r="2.4"/>'
    for item in panel.items:
        yield from _symbol(item, standard)
    for note in panel.notes:
        yield _word(note.word, _of("net", note.about))
    for call in panel.calls:
        yield _badge(call.level, call.word.text, call.word.x, call.word.y)


def _along(wire: Wire) -> str:
    return "M" + "L".join(spot_text(x, y) for x, y in wire.points)


def _symbol(item: Item, standard: Standard) -> Iterator[str]:
    words = [_word(word.moved(item.x, item.y)) for word in item.form.words]
    yield f"<g{_stands_for(item)}>" + "".join([*strokes_of(item, standard), *words]) + "</g>"


def _stands_for(item: Item) -> str:
    """What a symbol is of: marks and flags are places of a net."""
    if item.device.symbol in (Symbol.GROUND, Symbol.CHASSIS, Symbol.EARTH, Symbol.FLAG):
        return _of("net", item.device.leads[0].net)
    return _of("part", item.device.name)


def _of(what: str, name: str) -> str:
    return f' data-{what}="{text(name)}"'


def _word(word: Word, of: str = "") -> str:
    anchor = "" if word.anchor is Anchor.START else f' text-anchor="{word.anchor.value}"'
    return (
        f'<text class="{word.tone.value}"{of} x="{number(word.x * CELL)}" '
        f'y="{number(word.y * CELL)}"{anchor}>{text(word.text)}</text>'
    )
