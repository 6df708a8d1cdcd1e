"""A picture as one SVG file: black strokes on white, nothing from outside."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.grid import SIZES, Anchor, Tone, Word
from coldcheck.picture.model import Standard
from coldcheck.report.picture.pen import CELL, number, spot_text
from coldcheck.report.picture.strokes import strokes_of
from coldcheck.report.shared.html_page import text
from coldcheck.report.shared.signal_words import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.picture.board import Item
    from coldcheck.picture.model import Panel, Picture

A4 = (277, 190)
"""What a printer leaves of A4, lying, in millimetres."""

STYLE = f"""\
svg {{ background: #fff; }}
path, circle {{ fill: none; stroke: #000; stroke-width: 1.2; stroke-linejoin: round; }}
path {{ stroke-linecap: round; }}
.envelope {{ stroke-width: 1; }}
.plate {{ stroke-width: 2.2; }}
.grid {{ stroke-width: 1.6; }}
.plus {{ stroke-width: 1; }}
.ink, .dot {{ fill: #000; }}
.dot {{ stroke: none; }}
text {{ font-family: Arial, "Liberation Sans", Helvetica, sans-serif; fill: #000; }}
.name {{ font-size: {number(SIZES[Tone.NAME] * CELL)}px; font-weight: bold; }}
.value {{ font-size: {number(SIZES[Tone.VALUE] * CELL)}px; }}
.pin {{ font-size: {number(SIZES[Tone.PIN] * CELL)}px; fill: #333; }}
.net {{ font-size: {number(SIZES[Tone.NET] * CELL)}px; font-style: italic; }}
.volts {{ font-size: {number(SIZES[Tone.VOLTS] * CELL)}px; fill: #0b4f8a; }}
.title {{ font-size: {number(SIZES[Tone.TITLE] * CELL)}px; font-weight: bold; }}
"""


def _style() -> str:
    """The whole style: that of the drawing, and the signal words in their colours."""
    lines = [
        "rect.badge { fill: #fff; stroke: #000; stroke-width: 1; }",
        "text.badge { font-size: 10px; font-weight: bold; }",
    ]
    for level, style in STYLES.items():
        colours = [w for w in style.split() if w.startswith("#")]
        if colours:
            lines.append(f"rect.{level} {{ fill: {colours[1]}; }}")
            lines.append(f"text.{level} {{ fill: {colours[0]}; }}")
    return STYLE + "\n".join(lines) + "\n"


def render(picture: Picture, standard: Standard = Standard.IEC) -> str:
    """The picture as the text of an SVG file."""
    width = picture.width * CELL
    height = (picture.height + int(ROW * len(picture.entries) + 1)) * CELL
    scale = min(A4[0] / width, A4[1] / height)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{number(width * scale)}mm" height="{number(height * scale)}mm" role="img">',
        f"<title>{text(picture.title)}</title>",
        f"<style>\n{_style()}</style>",
        *_heading(picture),
    ]
    for panel in picture.panels:
        lines += _panel(panel, standard)
    lines += _list(picture)
    return "\n".join([*lines, "</svg>", ""])


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
    """A finding's number in a box of its signal word's colours."""
    wide = 0.45 + 0.3 * len(mark)
    box = f'x="{_at(x - wide)}" y="{_at(y - 0.95)}" width="{_at(2 * wide)}" height="12" rx="2"'
    return (
        f'<rect class="badge {level}" {box}/><text class="badge {level}" x="{_at(x)}" '
        f'y="{_at(y)}" text-anchor="middle">{mark}</text>'
    )


def _at(value: float) -> str:
    return number(value * CELL)


def _panel(panel: Panel, standard: Standard) -> Iterator[str]:
    if panel.title:
        yield _word(Word(panel.x + 1, panel.y + 0.5, panel.title, Tone.TITLE))
    for wire in panel.wires:
        yield f'<path d="M{"L".join(spot_text(x, y) for x, y in wire.points)}"/>'
    for _, (x, y) in panel.dots:
        yield f'<circle class="dot" cx="{x * CELL}" cy="{y * CELL}" r="2.4"/>'
    for item in panel.items:
        yield from _symbol(item, standard)
    for note in panel.notes:
        yield _word(note.word)
    for call in panel.calls:
        yield _badge(call.level, call.word.text, call.word.x, call.word.y)


def _symbol(item: Item, standard: Standard) -> Iterator[str]:
    words = [_word(word.moved(item.x, item.y)) for word in item.form.words]
    yield "<g>" + "".join([*strokes_of(item, standard), *words]) + "</g>"


def _word(word: Word) -> str:
    anchor = "" if word.anchor is Anchor.START else f' text-anchor="{word.anchor.value}"'
    return (
        f'<text class="{word.tone.value}" x="{number(word.x * CELL)}" '
        f'y="{number(word.y * CELL)}"{anchor}>{text(word.text)}</text>'
    )
