"""Sections of a page: headings, labels with texts, lists, tables for screen, phone and paper."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.blocks import Entries, Note, Table
from coldcheck.report.shared.html_page import text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.report.shared.blocks import Block, Section

STYLE = """
body { font: 100%/1.45 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
       margin: 0; padding: .5rem 1rem; overflow-wrap: break-word; }
main { max-width: 96rem; margin: 0 auto; }
h1 { font-size: 1.5rem; margin: .5rem 0 0; }
h2, h3, h4 { font-size: 1.1rem; margin: 1.6rem 0 .3rem; break-after: avoid; }
.number { display: inline-block; min-width: 1.2em; padding: 0 .2em; border: 1px solid #000;
          text-align: center; }
:focus-visible { outline: 3px solid #005eb8; outline-offset: 2px; }
.word { display: inline-block; padding: 0 .5rem; border: 1px solid #000; }
.verdict, .last { border: 2px solid #000; padding: .4rem .6rem; font-weight: bold; }
code { font-family: "Liberation Mono", monospace; overflow-wrap: anywhere; }
dl { display: grid; grid-template-columns: fit-content(14rem) 1fr; gap: .1rem 1rem;
     margin: .4rem 0; }
dt { color: #444; }
dd { margin: 0; min-width: 0; overflow-wrap: anywhere; }
table { border-collapse: collapse; margin: .3rem 0; }
caption { text-align: left; font-weight: bold; padding-bottom: .3rem; }
th, td { text-align: left; vertical-align: top; padding: .1rem .9rem .1rem 0; }
thead th { border-bottom: 1px solid #767676; font-weight: normal; color: #444; }
tbody th { font-weight: normal; }
tbody tr { break-inside: avoid; }
.figure { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
@media print, (min-width: 54rem) { caption > * { width: 0; white-space: nowrap; } }
@media (max-width: 40rem) {
  dl { display: block; }
  dt { margin-top: .3rem; }
  dd { margin-left: 1rem; }
  table, tbody, tr { display: block; }
  caption { display: block; }
  thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  tbody th { display: block; font-weight: bold; }
  tbody td { display: inline-block; padding-left: 1rem; }
  tbody td:empty { display: none; }
  tbody td::before { content: attr(data-of) " "; color: #444; }
  .figure { text-align: left; }
}
@media print {
  body { font-size: 10pt; padding: 0; }
  table { break-inside: avoid; }
}
@media print and (monochrome) { .word.word { color: #000; background: #fff; } }
"""
"""The house style of pages to read: text, headings, signal words, and what is made here."""


def heading(title: str, level: int) -> str:
    """A heading of a level; 1 is the page's own."""
    return f"<h{level}>{text(title)}</h{level}>"


def labels(items: Iterable[tuple[str, str]]) -> Iterator[str]:
    """Labels and texts side by side, on a phone one below the other."""
    yield "<dl>"
    yield from (f"<dt>{text(label)}</dt><dd>{text(what)}</dd>" for label, what in items)
    yield "</dl>"


def bullets(title: str, lines: Sequence[str], level: int) -> Iterator[str]:
    """A list of lines that are HTML already; nothing where there are none."""
    if lines:
        yield f"{heading(title, level)}<ul>"
        yield from (f"<li>{line}</li>" for line in lines)
        yield "</ul>"


def whole(section: Section, level: int) -> Iterator[str]:
    """A section; a table has the section's heading for its caption."""
    titled = any(isinstance(block, Table) for block in section.blocks)
    if not titled:
        yield heading(section.title, level)
    for block in section.blocks:
        yield from _block(block, section.title, level)


def _block(block: Block, title: str, level: int) -> Iterator[str]:
    match block:
        case Table():
            yield from _table(block, f"<h{level}>{text(title)}</h{level}>")
        case Note():
            yield f"<p>{text(block.text)}</p>"
        case Entries():
            if block.title:
                yield f"<p>{text(block.title)}</p>"
            yield from labels(block.items)


def _table(table: Table, caption: str) -> Iterator[str]:
    """A real table: columns and rows have their headings, figures are never broken."""
    kinds = ["" if n in table.words else ' class="figure"' for n in range(len(table.headings))]
    heads = zip(kinds, table.headings, strict=True)
    yield f"<table><caption>{caption}</caption><thead><tr>"
    yield "".join(f'<th scope="col"{kind}>{text(head)}</th>' for kind, head in heads)
    yield "</tr></thead><tbody>"
    for name, *cells in table.rows:
        rest = zip(kinds[1:], table.headings[1:], cells, strict=True)
        shown = "".join(
            f'<td{kind} data-of="{text(head)}">{text(cell)}</td>' for kind, head, cell in rest
        )
        yield f'<tr><th scope="row">{text(name)}</th>{shown}</tr>'
    yield "</tbody></table>"
