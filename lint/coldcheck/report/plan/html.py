"""The power-up plan as a printable page, with boxes to tick and columns to write the readings in.

One file without anything from outside: styles inside, no scripts, no fonts, no pictures. A step
keeps its heading with its first lines; long tables go on with repeated headings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.picture import points
from coldcheck.report.plan.words import (
    CAUTION,
    CHARGES,
    LEADS,
    charge_cells,
    expected_text,
    finding_text,
    findings_of,
    heading,
    range_text,
    step_title,
    stop_first,
    tables,
    unseen_text,
)
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.html_page import page, signal_colours, text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.bench.plan.model import Caution, Plan, Step
    from coldcheck.bench.points_drawn import PointsDrawn
    from coldcheck.report.plan.words import Line, Table

_STYLE = """
@page { size: A4 portrait; margin: 11mm 12mm;
        @bottom-right { content: "page " counter(page) " of " counter(pages); font-size: 7pt; } }
* { box-sizing: border-box; }
body { font: 8.5pt/1.3 "Liberation Sans", Arial, sans-serif; color: #000; margin: 0 auto;
       max-width: 186mm; }
h1 { font-size: 13pt; margin: 0; }
h2 { font-size: 10.5pt; margin: 4mm 0 1mm; border-top: .3mm solid #000; padding-top: 1mm;
     break-after: avoid; }
p { margin: 1mm 0; }
.signal { display: flex; gap: 2.5mm; margin: 1mm 0; break-inside: avoid; }
.signal b { flex: none; width: 19mm; text-align: center; padding: .5mm 0; align-self: flex-start;
            border: .3mm solid #000; }
.notice b { font-style: italic; }
.do { display: flex; gap: 2mm; margin: 1mm 0; break-inside: avoid; }
.do i { flex: none; width: 3.6mm; height: 3.6mm; border: .3mm solid #000; margin-top: .3mm; }
table { border-collapse: collapse; width: 100%; margin: 1.5mm 0; }
caption { text-align: left; font-weight: bold; padding: .5mm 0; break-after: avoid; }
thead { display: table-header-group; }
tr { break-inside: avoid; height: 5mm; }
th, td { border: .2mm solid #888; padding: .3mm 1mm; text-align: right; white-space: nowrap; }
th { background: #eee; text-align: center; }
td.name { text-align: left; }
td.note { text-align: left; white-space: normal; font-size: 7pt; }
td.write { min-width: 14mm; }
@media screen { .wide { overflow-x: auto; } .filled { flex-wrap: wrap; } }
.stop { border: .6mm solid #c8102e; padding: 1mm 1.5mm; font-weight: bold; }
.legend { font-size: 7pt; }
.closing { border: .5mm solid #000; padding: 1mm 1.5mm; font-weight: bold; break-inside: avoid; }
.filled { display: flex; gap: 6mm; margin: 2mm 0; }
.filled span { flex: 1; border-bottom: .2mm solid #000; }
"""

_WIDE = '<div class="wide" tabindex="0" role="group" aria-label="readings">'
_WRITE = '<td class="write"></td>'


def render(plan: Plan, drawn: PointsDrawn | None = None) -> str:
    """The whole page; every text from the drawing is escaped.

    With the points drawn they have their numbers, and the circuit follows on a sheet of its own.
    """
    title = text(plan.title or plan.file)
    return page(
        f"{title}: plan of a first power-up",
        _STYLE + points.STYLE + "".join(signal_colours(".LEVEL b")),
        (
            "<main>",
            f"<h1>{title}</h1>",
            f"<p>{text(heading(plan))}</p>",
            f'<p class="legend">{text(paragraph_of(plan.conditions))}</p>',
            '<div class="filled"><span>date</span><span>by</span><span>mains, V</span>'
            "<span>meter</span></div>",
            *_findings(plan),
            *_cautions(plan.cautions),
            *(line for n, step in enumerate(plan.steps, 1) for line in _step(n, step, plan, drawn)),
            f'<p class="legend">{text(" ".join(plan.assumptions))}</p>',
            f'<p class="closing">{text(CAUTION)}</p>',
            *points.sheet(drawn),
            "</main>",
        ),
    )


def _findings(plan: Plan) -> Iterator[str]:
    yield from (f'<p class="stop">{text(line)}</p>' for line in stop_first(plan))
    for words, findings in findings_of(plan):
        if words:
            yield f"<p>{text(words)}</p>"
        yield from (_signalled(f.level, finding_text(f)) for f in findings)


def _cautions(cautions: Iterable[Caution]) -> Iterator[str]:
    return (_signalled(c.level, c.text) for c in cautions)


def _signalled(level: str, words: str) -> str:
    return f'<div class="signal {level}"><b>{level.upper()}</b><span>{text(words)}</span></div>'


def _step(number: int, step: Step, plan: Plan, drawn: PointsDrawn | None) -> Iterator[str]:
    yield f"<h2>{text(step_title(number, step))}</h2>"
    yield from _cautions(step.cautions)
    for order in step.do:
        yield f'<div class="do"><i></i><span>{text(order)}</span></div>'
    for table in tables(step):
        yield from _table(table, drawn)
    if step.key == "off" and plan.charges:
        yield from _charges(plan)
    for words in (*step.missing, unseen_text(step)):
        if words:
            yield f"<p>{text(words)}</p>"


def _table(table: Table, drawn: PointsDrawn | None) -> Iterator[str]:
    several = len(table.settings) > 1
    heads = [*LEADS, *(() if several else ("expected",))]
    for head in table.heads:
        heads += [head, "read"]
    cells = "".join(f"<th>{text(head)}</th>" for head in (*heads, "notes"))
    yield f"{_WIDE}<table><caption>{text(table.caption)}</caption>"
    yield f"<thead><tr>{cells}</tr></thead><tbody>"
    yield from (_row(table, line, drawn) for line in table.lines)
    yield "</tbody></table></div>"
    yield from (f'<p class="legend">{text(reason)}</p>' for reason in table.reasons)


def _row(table: Table, line: Line, drawn: PointsDrawn | None) -> str:
    several = len(table.settings) > 1
    names = "".join(_name(point, drawn) for point in (line.point, line.other))
    expected = "" if several else f"<td>{text(expected_text(line.last))}</td>"
    ranges = "".join(
        f"<td>{text(range_text(c))}</td>" + (_WRITE if c is not None else "<td></td>")
        for c in line.checks
    )
    return f'<tr>{names}{expected}{ranges}<td class="note">{text(table.remark(line))}</td></tr>'


def _name(point: str, drawn: PointsDrawn | None) -> str:
    """A point, with its number before it where it has one."""
    number = "" if drawn is None else drawn.number(point)
    before = f'<b class="no">{number}</b> ' if number else ""
    return f'<td class="name">{before}{text(point)}</td>'


def _charges(plan: Plan) -> Iterator[str]:
    heads = "".join(f"<th>{text(head)}</th>" for head in (*CHARGES, "read"))
    yield f"{_WIDE}<table><thead><tr>{heads}</tr></thead><tbody>"
    for charge in plan.charges:
        first, *others = charge_cells(charge)
        cells = "".join(f"<td>{text(cell)}</td>" for cell in others)
        yield f'<tr><td class="name">{text(first)}</td>{cells}{_WRITE}</tr>'
    yield "</tbody></table></div>"
