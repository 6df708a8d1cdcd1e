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
from coldcheck.report.shared.html_blocks import STYLE as HOUSE
from coldcheck.report.shared.html_blocks import bullets, heading, labels, whole
from coldcheck.report.shared.html_page import page, signal_colours, text
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

_STYLE = """
.drawing > *, .front > *, .last, summary { max-width: 52rem; }
.drawing > .front, .front > .picture { max-width: none; }
article { border: 1px solid #767676; margin-top: -1px; padding: .3rem .8rem; break-inside: avoid; }
article h3, article h4 { display: inline; font-size: 1rem; margin: 0; }
summary { cursor: pointer; }
summary .what { display: block; margin: .1rem 0 .1rem 1.2rem; font-weight: normal; }
@media print {
  @page { size: A4 portrait; margin: 14mm; }
  .drawing { break-before: page; }
  .drawing:first-of-type { break-before: auto; }
  details::details-content { content-visibility: visible; block-size: auto; }
}
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
        "".join((HOUSE, _STYLE, svg.style(), STYLE, *signal_colours(".word.LEVEL"))),
        ("<main>", *head, *body, f'<p class="last">{text(CAUTION)}</p>', "</main>"),
        script(),
    )


def _drawing(ruling: Ruling, level: int) -> Iterator[str]:
    """A drawing; its heading is of the given level, those in it of the next."""
    document = ruling.document
    order = {id(f): n for n, f in numbered(document.findings)}
    open_ = [f for f in document.findings if f.accepted is None and not f.standing]
    yield '<section class="drawing">'
    yield '<div class="front">'
    yield f"<h{level}>{text(document.title or document.file)}</h{level}>"
    yield f"<p><code>{text(document.file)}</code></p>"
    yield f'<p class="verdict">{text(verdict_line(ruling))}</p>'
    yield from picture_section(document, level + 1)
    yield "</div>"
    plain = [f for f in open_ if not f.only_edge]
    if plain:
        yield heading("Findings", level + 1)
    for finding in plain:
        yield from _article(document, finding, order[id(finding)], level + 2)
    yield from bullets(EDGES, [_sentence(f) for f in open_ if f.only_edge], level + 1)
    yield from _told(document, level + 1)
    for section in sections(document):
        yield from whole(section, level + 1)
    yield "</section>"


def _told(document: Document, level: int) -> Iterator[str]:
    """What does not count: accepted, standing, and what was not judged."""
    accepted = [f for f in document.findings if f.accepted is not None]
    waived = [f"{_sentence(f)} – because {text(f.accepted or '')}" for f in accepted]
    yield from bullets("Accepted by the drawing", waived, level)
    standing = [_sentence(f) for f in document.findings if f.standing and f.accepted is None]
    yield from bullets("Standing, known to the ledger", standing, level)
    unjudged = [f"{text(rule)}: {text(why)}" for rule, why in not_judged(document)]
    yield from bullets("Not judged", unjudged, level)


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
    yield from labels([("rule", finding.rule), *_details(document, finding)])
    if pictured:
        yield '<button type="button" class="place" hidden>show in the circuit</button>'
    yield "</details></article>"


def _details(document: Document, finding: Finding) -> Iterator[tuple[str, str]]:
    yield from details(finding) if document.readable else [("hint", finding.remedy)]
    line = document.line(finding.span).strip()
    if line:
        yield f"{finding.span.file}, line {finding.span.line}", line


def _sentence(finding: Finding) -> str:
    where = f"line {finding.span.line}"
    return f"{text(where)}, {text(finding.rule)}: {text(finding.message)}"
