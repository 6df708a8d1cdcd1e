"""The voltage and resistance chart as CSV (RFC 4180): a line for each point, figures in SI.

The last columns are empty, to be filled in at the bench.
"""

from __future__ import annotations

import csv
from io import StringIO
from math import inf
from typing import TYPE_CHECKING

from coldcheck.report.chart.words import USES, block_title, note_text
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.chart.expected import Band
    from coldcheck.bench.chart.rows import Block, Chart, Row

COLUMNS = (
    *("group", "point", "lead", "wire", "state", "mains_v", "mark"),
    *("ohms", "ohms_low", "ohms_high"),
    *("dc_v", "dc_v_low", "dc_v_high"),
    *("ac_v_rms", "ac_v_rms_low", "ac_v_rms_high"),
    *("v_pp", "v_pp_low", "v_pp_high", "v_lowest", "v_highest"),
    *("notes", "measured_ohms", "measured_dc_v", "measured_ac_v_rms"),
)
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def render(chart: Chart) -> str:
    """The chart as CSV text. Texts that a spreadsheet would take for a formula get a quote."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for block in chart.blocks:
        for row in block.rows:
            writer.writerow(_cells(chart, block, row))
    return out.getvalue()


def _cells(chart: Chart, block: Block, row: Row) -> list[str]:
    notes = [USES[row.pin.use]] if row.pin.use and row.ohms is None else []
    notes += [note_text(note) for note in row.notes]
    texts = (block_title(block), row.pin.point, row.pin.lead, row.name, chart.state)
    return [
        *map(guarded, texts),
        _number(chart.conditions.volts),
        chart.conditions.mark,
        *_ohms(row),
        *_volts(row),
        guarded("; ".join(dict.fromkeys(notes))),
        *("", "", ""),
    ]


def guarded(text: str) -> str:
    """A text cell that no spreadsheet takes for a formula."""
    return f"'{clean(text)}" if text.startswith(_FORMULA) else clean(text)


def _ohms(row: Row) -> Iterator[str]:
    ohms = row.ohms
    values = (None, None, None) if ohms is None else (ohms.nominal, ohms.low, ohms.high)
    yield from (_number(value) for value in values)


def _volts(row: Row) -> Iterator[str]:
    if row.volts is None:
        yield from ("",) * 11
        return
    for band in (row.volts.dc, row.volts.ac, row.volts.pp):
        yield from _band(band)
    yield from (_number(row.volts.lowest), _number(row.volts.highest))


def _band(band: Band) -> Iterator[str]:
    yield from (_number(value) for value in (band.value, band.low, band.high))


def _number(value: float | None) -> str:
    if value is None:
        return ""
    if value == inf:
        return "infinite"
    return "0" if abs(value) < 1e-9 else f"{value:.6g}"
