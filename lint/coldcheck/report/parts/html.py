"""The parts list and the list of leads as pages to print and tick: no scripts, all inside."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.parts import words
from coldcheck.report.shared.html_page import page, text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.bench.parts.parts import Group, PartsList
    from coldcheck.bench.parts.wires import Wired
    from coldcheck.report.shared.blocks import Table

_STYLE = """
body { font: 100%/1.4 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
       margin: 0 auto; max-width: 58rem; padding: .5rem 1rem; overflow-wrap: break-word; }
h1 { font-size: 1.5rem; margin: .5rem 0 0; }
h2 { font-size: 1.1rem; margin: 0; }
table { border-collapse: collapse; margin: 1.2rem 0 .3rem; width: 100%; }
caption { text-align: left; padding-bottom: .2rem; }
th, td { text-align: left; vertical-align: top; padding: .15rem .9rem .15rem 0;
         border-bottom: 1px solid #bbb; font-variant-numeric: tabular-nums; }
thead th { border-bottom: 1px solid #000; font-weight: normal; color: #444; }
tbody tr, table.kept { break-inside: avoid; }
td.box, th.box { width: 1.4rem; padding-right: .5rem; }
td.box::before { content: ""; display: inline-block; width: .75rem; height: .75rem;
                 border: 1px solid #000; vertical-align: -.1rem; }
.caution { border: 2px solid #000; padding: .4rem .6rem; font-weight: bold; }
.small { font-size: .85rem; }
@media (max-width: 40rem) {
  table, tbody, tr { display: block; }
  caption { display: block; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  tbody tr { border-bottom: 1px solid #bbb; padding: .2rem 0; }
  th, td { border: 0; }
  tbody td, tbody th { display: inline-block; }
  td.box { width: auto; }
  tbody td:empty:not(.box) { display: none; }
  tbody td[data-of]::before { content: attr(data-of) " "; color: #444; }
}
@media print {
  @page { size: A4 portrait; margin: 12mm; }
  body { font-size: 9pt; max-width: none; padding: 0; }
}
"""

SHORT = 14
"""Rows of a table that is not torn apart on paper."""


def render(found: PartsList) -> str:
    """The list with a box for each part; every text from the drawing is escaped."""
    body = [
        *(f'<p class="caution">{text(remark)}</p>' for remark in words.remarks(found)),
        *(line for group in found.groups for line in _group(group)),
        f'<p class="small">{text(words.FIGURES_ARE)}</p>',
        f'<p class="small">{text(words.BUY_IS)}</p>',
    ]
    return _page(found.title, found.file, "parts list", body)


def render_wires(found: Sequence[Wired], title: str, file: str) -> str:
    """Every lead with a box to tick."""
    body = [line for part in found for line in _wired(part)]
    body.append(f'<p class="small">{text(words.WIRES_ARE)}</p>')
    return _page(title, file, "every lead and pin", body)


def _page(title: str, file: str, what: str, body: Iterable[str]) -> str:
    name = text(title or file)
    head = (f"<h1>{name}</h1>", f"<p>{what[:1].upper()}{what[1:]} of {text(file)}</p>")
    caution = f'<p class="caution">{text(words.CAUTION)}</p>'
    return page(f"{name}: {what}", _STYLE, ("<main>", *head, *body, caution, "</main>"))


def _group(group: Group) -> Iterator[str]:
    yield from _table(words.heading(group.sort), words.table(group))
    other = list(words.besides(group))
    if other:
        yield f"<p>{words.NO_RATING}</p><ul>"
        yield from (f"<li>{text(name)}: {text(what)}</li>" for name, what in other)
        yield "</ul>"


def _table(title: str, table: Table) -> Iterator[str]:
    kept = ' class="kept"' if len(table.rows) <= SHORT else ""
    yield f"<table{kept}><caption><h2>{text(title)}</h2></caption>"
    yield '<thead><tr><th class="box"></th>'
    yield "".join(f'<th scope="col">{text(h)}</th>' for h in table.headings)
    yield "</tr></thead><tbody>"
    for name, *cells in table.rows:
        rest = zip(table.headings[1:], cells, strict=True)
        shown = "".join(f'<td data-of="{text(h)}">{text(c)}</td>' for h, c in rest)
        yield f'<tr><td class="box"></td><th scope="row">{text(name)}</th>{shown}</tr>'
    yield "</tbody></table>"


def _wired(part: Wired) -> Iterator[str]:
    yield f'<table class="kept"><caption><h2>{text(part.written)}</h2></caption><tbody>'
    for lead in part.leads:
        label = text(words.labelled(lead))
        yield (
            f'<tr><td class="box"></td><th scope="row">{label}</th>'
            f"<td>{text(words.joined(lead))}</td></tr>"
        )
    yield "</tbody></table>"
