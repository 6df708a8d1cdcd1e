"""Reviews as one page to read in a browser, on a telephone or on paper: all inside.

Words carry what colours repeat, so a page in black and white says the same; a page whose script
does not run, or that is printed, holds all that it says.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.findings import numbered
from coldcheck.report.picture import svg
from coldcheck.report.review.findings import details
from coldcheck.report.review.picture_section import STYLE, picture_section, script
from coldcheck.report.review.sections import sections
from coldcheck.report.review.text import CAUTION, EDGES, not_judged, summary, verdict_line
from coldcheck.report.shared.blocks import Entries, Note, Table
from coldcheck.report.shared.html_page import page, signal_colours, text
from coldcheck.report.shared.plain import listed
from coldcheck.report.shared.signal_words import gravest_first

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.report.shared.blocks import Block, Section
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

_STYLE = """
body { font: 100%/1.45 "Liberation Sans", Arial, sans-serif; color: #000; background: #fff;
       margin: 0; padding: .5rem 1rem; overflow-wrap: break-word; }
main { max-width: 96rem; margin: 0 auto; }
.drawing > *, .front > *, .last, summary { max-width: 52rem; }
.drawing > .front, .front > .picture { max-width: none; }
h1 { font-size: 1.5rem; margin: .5rem 0 0; }
h2, h3, h4 { font-size: 1.1rem; margin: 1.6rem 0 .3rem; break-after: avoid; }
article { border: 1px solid #767676; margin-top: -1px; padding: .3rem .8rem; break-inside: avoid; }
article h3, article h4 { display: inline; font-size: 1rem; margin: 0; }
summary { cursor: pointer; }
summary .what { display: block; margin: .1rem 0 .1rem 1.2rem; font-weight: normal; }
.number { display: inline-block; min-width: 1.2em; padding: 0 .2em; border: 1px solid #000;
          text-align: center; }
:focus-visible { outline: 3px solid #005eb8; outline-offset: 2px; }
.word { display: inline-block; padding: 0 .5rem; border: 1px solid #000; }
.verdict, .last { border: 2px solid #000; padding: .4rem .6rem; font-weight: bold; }
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
code { font-family: "Liberation Mono", monospace; overflow-wrap: anywhere; }
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
  @page { size: A4 portrait; margin: 14mm; }
  body { font-size: 10pt; padding: 0; }
  table { break-inside: avoid; }
  .drawing { break-before: page; }
  .drawing:first-of-type { break-before: auto; }
  details::details-content { content-visibility: visible; block-size: auto; }
}
@media print and (monochrome) { .word.word { color: #000; background: #fff; } }
"""


def render(rulings: Sequence[Ruling]) -> str:
    """The page of all reviews; every text from a drawing is escaped."""
    alone = len(rulings) == 1
    document = rulings[0].document if alone else None
    title = summary(rulings) if document is None else document.title or document.file
    head = [] if alone else [f"<h1>{text(title)}</h1>"]
    body = [line for ruling in rulings for line in _drawing(ruling, 1 if alone else 2)]
    return page(
        f"{text(title)}: review",
        "".join((_STYLE, svg.style(), STYLE, *signal_colours(".word.LEVEL"))),
        ("<main>", *head, *body, f'<p class="last">{text(CAUTION)}</p>', "</main>"),
        script(),
    )


def _drawing(ruling: Ruling, level: int) -> Iterator[str]:
    """A drawing; its heading is of the given level, those in it of the next."""
    document = ruling.document
    order = {id(f): n for n, f in numbered(document.findings)}
    open_ = [f for f in gravest_first(document.findings) if f.accepted is None and not f.standing]
    yield '<section class="drawing">'
    yield '<div class="front">'
    yield f"<h{level}>{text(document.title or document.file)}</h{level}>"
    yield f"<p><code>{text(document.file)}</code></p>"
    yield f'<p class="verdict">{text(verdict_line(ruling))}</p>'
    yield from picture_section(document, level + 1)
    yield "</div>"
    plain = [f for f in open_ if not f.only_edge]
    if plain:
        yield _heading("Findings", level + 1)
    for finding in plain:
        yield from _article(document, finding, order[id(finding)], level + 2)
    yield from _listed(EDGES, [_sentence(f) for f in open_ if f.only_edge], level + 1)
    yield from _told(document, level + 1)
    for section in sections(document):
        yield from _section(section, level + 1)
    yield "</section>"


def _heading(title: str, level: int) -> str:
    return f"<h{level}>{text(title)}</h{level}>"


def _told(document: Document, level: int) -> Iterator[str]:
    """What does not count: accepted, standing, and what was not judged."""
    accepted = [f for f in document.findings if f.accepted is not None]
    waived = [f"{_sentence(f)} – because {text(f.accepted or '')}" for f in accepted]
    yield from _listed("Accepted by the drawing", waived, level)
    standing = [_sentence(f) for f in document.findings if f.standing and f.accepted is None]
    yield from _listed("Standing, known to the ledger", standing, level)
    unjudged = [f"{text(rule)}: {text(why)}" for rule, why in not_judged(document)]
    yield from _listed("Not judged", unjudged, level)


def _article(document: Document, finding: Finding, number: int, level: int) -> Iterator[str]:
    """Level, place and what is wrong at a glance; the evidence when it is opened."""
    place = listed(finding.at) if finding.at else f"line {finding.span.line}"
    pictured = document.shown is not None
    shown = f'<span class="number">{number}</span> ' if pictured else ""
    yield f'<article><details data-finding="{number}"><summary>'
    yield (
        f'<h{level}>{shown}<span class="word {finding.level}">{finding.level.upper()}</span> '
        f'{text(place)}</h{level}> <span class="what">{text(finding.message)}</span></summary>'
    )
    yield from _pairs([("rule", finding.rule), *_details(document, finding)])
    if pictured:
        yield '<button type="button" class="place" hidden>show in the circuit</button>'
    yield "</details></article>"


def _details(document: Document, finding: Finding) -> Iterator[tuple[str, str]]:
    yield from details(finding) if document.readable else [("hint", finding.remedy)]
    line = document.line(finding.span).strip()
    if line:
        yield f"{finding.span.file}, line {finding.span.line}", line


def _pairs(items: Iterable[tuple[str, str]]) -> Iterator[str]:
    yield "<dl>"
    yield from (f"<dt>{text(label)}</dt><dd>{text(what)}</dd>" for label, what in items)
    yield "</dl>"


def _sentence(finding: Finding) -> str:
    where = f"line {finding.span.line}"
    return f"{text(where)}, {text(finding.rule)}: {text(finding.message)}"


def _listed(title: str, lines: Sequence[str], level: int) -> Iterator[str]:
    """A list of lines that are HTML already; nothing where there are none."""
    if lines:
        yield f"{_heading(title, level)}<ul>"
        yield from (f"<li>{line}</li>" for line in lines)
        yield "</ul>"


def _section(section: Section, level: int) -> Iterator[str]:
    """A section; a table has the section's heading for its caption."""
    titled = any(isinstance(block, Table) for block in section.blocks)
    if not titled:
        yield _heading(section.title, level)
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
            yield from _pairs(block.items)


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
