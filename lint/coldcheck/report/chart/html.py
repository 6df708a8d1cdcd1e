"""The chart as one printable sheet, with empty columns to write the readings in.

One file without anything from outside: styles inside, no scripts, no fonts, no pictures. The
rows share the height of one A4 sheet; a chart too long for it goes on with repeated headings.
"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND
from coldcheck.report.chart.words import (
    CAUTION,
    OHMS_ARE,
    USES,
    VOLTS_ARE,
    block_title,
    idle_pins,
    numbered,
    ohms_texts,
    state_title,
    volt_texts,
    warnings,
)
from coldcheck.report.picture import points
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.html_page import page, text

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.chart.rows import Block, Chart, Row
    from coldcheck.bench.points_drawn import PointsDrawn

SHEET_MM, REST_MM, LEGEND_MM, TALLEST_MM, SMALLEST_MM = 279.0, 29.0, 27.0, 6.0, 3.4
"""Height between the margins of an A4 sheet; what heading and legend with caution take; the
tallest row of the table, and the smallest one that can still be written in."""

NOTE_MM, NOTE_LETTERS = 2.6, 80
"""Height of a line of the notes, which stand in two columns, and what goes into one."""

_STYLE = """
@page { size: A4 portrait; margin: 9mm 10mm; }
* { box-sizing: border-box; }
body { font: 7pt/1.2 "Liberation Sans", Arial, sans-serif; color: #000; margin: 0 auto;
       max-width: 190mm; }
h1 { font-size: 12pt; margin: 0; }
p { margin: .6mm 0; }
table { border-collapse: collapse; width: 100%; margin-top: 1.5mm; }
thead { display: table-header-group; }
tr { break-inside: avoid; height: ROWmm; }
th, td { border: .2mm solid #888; padding: 0 1mm; text-align: right; white-space: nowrap; }
th { font-weight: bold; text-align: center; background: #eee; }
td.text { text-align: left; }
td.note { text-align: left; white-space: normal; }
span.idle { font-weight: normal; font-style: italic; margin-left: 4mm; }
td.write { width: 17mm; background: #fff; }
tr.block td { text-align: left; font-weight: bold; background: #ddd; }
ol { columns: 2; column-gap: 6mm; margin: 1.5mm 0; padding-left: 5mm; font-size: 6pt; }
li { break-inside: avoid; }
.legend { font-size: 6pt; }
@media screen { .wide { overflow-x: auto; } .filled { flex-wrap: wrap; } }
.caution { border: .5mm solid #000; padding: 1mm 1.5mm; font-weight: bold; }
.filled { display: flex; gap: 6mm; margin-top: 1mm; }
.filled span { flex: 1; border-bottom: .2mm solid #000; }
"""

_HEAD = (
    '<tr><th>no.</th><th colspan="2">point</th><th>ohm, cold</th><th>range</th><th>read</th>'
    "<th>V DC</th><th>+/-</th><th>read</th><th>V AC rms</th><th>+/-</th><th>read</th>"
    "<th>V p-p</th><th>notes</th></tr>"
)
_WRITE = '<td class="write"></td>'
COLUMNS = 14


def render(chart: Chart, drawn: PointsDrawn | None = None) -> str:
    """The whole page; every text from the drawing is escaped.

    With the points drawn each row has its number, and the circuit follows on a sheet of its own.
    """
    notes, marks = numbered(chart.rows())
    title = text(chart.title or chart.file)
    return page(
        f"{title}: voltage and resistance chart",
        _STYLE.replace("ROW", f"{row_height(chart, notes):.2f}") + points.STYLE,
        (
            "<main>",
            *_heading(chart, title),
            '<div class="wide" tabindex="0" role="group" aria-label="chart">',
            f"<table><thead>{_HEAD}</thead><tbody>",
            *(line for block in chart.blocks for line in _block(block, marks, drawn)),
            "</tbody></table></div>",
            *_notes(notes),
            f'<p class="legend">{text(OHMS_ARE)} {text(VOLTS_ARE)}</p>',
            f'<p class="caution">{text(CAUTION)}</p>',
            *points.sheet(drawn),
            "</main>",
        ),
    )


def row_height(chart: Chart, notes: Mapping[str, int]) -> float:
    """Millimetres a row may take for the chart to stay on one sheet, as far as it can."""
    rows = sum(len(_listed(block)) + 1 for block in chart.blocks) + 1
    lines = sum(ceil(len(note) / NOTE_LETTERS) for note in notes)
    room = SHEET_MM - REST_MM - LEGEND_MM - NOTE_MM * (lines / 2 + 2)
    return min(max(room / rows, SMALLEST_MM), TALLEST_MM)


def _heading(chart: Chart, title: str) -> Iterator[str]:
    yield f"<h1>{title}</h1>"
    yield (
        f"<p>Voltage and resistance chart of {text(chart.file)}, to gnd. "
        f"Ohms with the power off; volts with {text(state_title(chart))}.</p>"
    )
    yield f'<p class="legend">{text(paragraph_of(chart.conditions))}</p>'
    yield from (f'<p class="caution">{text(warning)}</p>' for warning in warnings(chart))
    yield (
        '<div class="filled"><span>date</span><span>by</span><span>mains, V</span>'
        "<span>meter</span></div>"
    )


def _listed(block: Block) -> list[Row]:
    """The rows with something to write down: not idle pins, not transformer leads at gnd."""
    grounded = GROUND if block.kind == "transformer" else None
    return [row for row in block.rows if row.ohms is not None and row.pin.net != grounded]


def _left_out(block: Block) -> str:
    """What has no row, and why."""
    parts = [f"pin {', '.join(pins)}: {USES[use]}" for use, pins in idle_pins(block).items()]
    gone = [r.pin.label for r in block.rows if r.ohms is not None and r not in _listed(block)]
    return "; ".join([*parts, *([f"at gnd: {', '.join(gone)}"] if gone else [])])


def _block(block: Block, marks: Mapping[str, str], drawn: PointsDrawn | None) -> Iterator[str]:
    yield (
        f'<tr class="block"><td colspan="{COLUMNS}">{text(block_title(block))}'
        f'<span class="idle">{text(_left_out(block))}</span></td></tr>'
    )
    for row in _listed(block):
        number = "" if drawn is None else drawn.number(row.pin.net)
        yield _row(row, number, block.kind == "tube", marks[row.pin.point])


def _row(row: Row, number: str, pins: bool, notes: str) -> str:
    label = f'<td class="text">{text(row.pin.label)}</td><td class="text">{text(row.pin.lead)}</td>'
    if not pins:
        label = f'<td class="text" colspan="2">{text(row.pin.label)}</td>'
    dc, dc_off, ac, ac_off, pp = volt_texts(row)
    groups = (
        _cells(*ohms_texts(row.ohms)) + _WRITE,
        _cells(dc, dc_off) + _WRITE,
        _cells(ac, ac_off) + _WRITE,
        _cells(pp),
    )
    first, last = f'<td class="no">{number}</td>', f'<td class="note">{text(notes)}</td>'
    return f"<tr>{first}{label}{''.join(groups)}{last}</tr>"


def _cells(*texts: str) -> str:
    return "".join(f"<td>{text(t)}</td>" for t in texts)


def _notes(notes: Mapping[str, int]) -> Iterator[str]:
    if notes:
        yield "<ol>"
        yield from (f"<li>{text(note)}</li>" for note in notes)
        yield "</ol>"
