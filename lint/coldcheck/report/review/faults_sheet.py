"""The single faults as a sheet to sign: HTML to print, CSV to fill in.

Each fault has columns for the measure against it, for who took it and when; the head says which
drawing it is about, by its mark, and what was assumed.
"""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from coldcheck.bench.chart.conditions import as_drawn
from coldcheck.drawing.units import engineering
from coldcheck.report.chart.csv import guarded
from coldcheck.report.review.faults_table import (
    SCOPE,
    fuse_words,
    lasting,
    through,
    without_earth,
)
from coldcheck.report.shared.conditions import sentences
from coldcheck.report.shared.html_page import page, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.faults.faults import Outcome, Sweep

COLUMNS = (
    *("number", "level", "fault", "exceeds", "limit", "in the way", "fuses", "through you"),
    *("no earth", "above 60 V after switch-off"),
)
BLANKS = ("measure", "by", "date")
"""Columns that are filled in by hand."""

ROLES = ("reviewed by", "checked by", "approved by")
CAUTION = (
    "Tube equipment holds lethal voltages, also switched off. This sheet is about the drawing, not "
    "the wiring. Local codes and a qualified person decide what may be powered."
)

_STYLE = """
body { font: 100%/1.35 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
       margin: 0 auto; max-width: 75rem; padding: .5rem 1rem; overflow-wrap: break-word; }
h1 { font-size: 1.4rem; margin: .5rem 0 0; }
table { border-collapse: collapse; width: 100%; margin: .8rem 0; }
th, td { text-align: left; vertical-align: top; padding: .2rem .4rem; border: 1px solid #999; }
thead { display: table-header-group; }
tbody tr { break-inside: avoid; }
th.blank { width: 7rem; }
.caution { border: 2px solid #000; padding: .4rem .6rem; font-weight: bold; }
@media print {
  @page { size: A4 landscape; margin: 10mm; }
  body { font-size: 8pt; max-width: none; padding: 0; }
}
"""


def html(found: Sweep) -> str:
    """A page to print and sign; every text from the drawing is escaped."""
    drawing = found.circuit.drawing
    name = text(drawing.title or drawing.file)
    body = [
        f"<h1>{name}: single faults</h1>",
        f"<p>{text(' '.join(_head(found)))} Revision: {'_' * 20}</p>",
        f'<p class="caution">{text(CAUTION)}</p>',
        *_table(found),
        *(f"<p>{text(words)}</p>" for words in _rest(found)),
        f"<p>{text(SCOPE)}</p>",
        *(f"<p>{role}: {'_' * 36} date {'_' * 14}</p>" for role in ROLES),
    ]
    return page(f"{name}: single faults", _STYLE, ("<main>", *body, "</main>"))


def _table(found: Sweep) -> Iterator[str]:
    yield "<table><thead><tr>"
    yield "".join(f'<th scope="col">{h}</th>' for h in COLUMNS)
    yield "".join(f'<th scope="col" class="blank">{h}</th>' for h in BLANKS)
    yield "</tr></thead><tbody>"
    for cells in _rows(found):
        yield (
            "<tr>" + "".join(f"<td>{text(c)}</td>" for c in (*cells, *map(str, _blank()))) + "</tr>"
        )
    yield "</tbody></table>"


def as_csv(found: Sweep) -> str:
    """The same as CSV (RFC 4180): a head of pairs, an empty line, the table, lines to sign."""
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    drawing = found.circuit.drawing
    writer.writerow(("drawing", guarded(drawing.title or ""), guarded(drawing.file)))
    writer.writerow(("conditions", guarded(" ".join(_head(found)))))
    writer.writerow(("revision", ""))
    writer.writerow(())
    writer.writerow((*COLUMNS, *BLANKS))
    writer.writerows([*map(guarded, cells), *_blank()] for cells in _rows(found))
    writer.writerow(())
    writer.writerows(("not exceeded", guarded(words)) for words in _rest(found))
    writer.writerows((role, "", "date", "") for role in ROLES)
    writer.writerow(("caution", CAUTION))
    return out.getvalue()


def _blank() -> tuple[str, ...]:
    return ("",) * len(BLANKS)


def _head(found: Sweep) -> Iterator[str]:
    """What was assumed; no meter takes part."""
    conditions = as_drawn(found.circuit, found.good.state)
    yield f"Drawing: {conditions.file}."
    yield from (s for s in sentences(conditions) if not s.startswith("Meter:"))


def _rows(found: Sweep) -> Iterator[tuple[str, ...]]:
    every = (*found.harmful, *found.earthed)
    return (_row(number, outcome) for number, outcome in enumerate(every, 1))


def _row(number: int, outcome: Outcome) -> tuple[str, ...]:
    first = outcome.findings[0] if outcome.findings else None
    limit = first.limit if first is not None else None
    said = "" if first is None else f"{first.message} ({first.rule})"
    others = "; ".join(dict.fromkeys(f"{x.rule} at {x.at[0]}" for x in outcome.findings[1:]))
    return (
        str(number),
        outcome.level.upper(),
        outcome.fault.name,
        f"{said}; also {others}" if others else said,
        "" if limit is None else engineering(limit.value, limit.unit),
        outcome.barrier,
        "; ".join(map(fuse_words, outcome.fuses)),
        "; ".join(map(through, outcome.touches)),
        without_earth(outcome) if outcome.unearthed else "",
        "" if outcome.seconds is None else lasting(outcome.seconds),
    )


def _rest(found: Sweep) -> Iterator[str]:
    """What else was looked at."""
    quiet = ", ".join(sorted(o.fault.name for o in found.harmless))
    if quiet:
        yield f"Nothing that is judged is exceeded with: {quiet}."
    for outcome in found.unsolved:
        yield f"Not judged: {outcome.fault.name}: {outcome.reason}."
