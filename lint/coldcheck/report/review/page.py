"""Reviews as one page to read in a browser or to print: nothing from outside, no scripts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.review.findings import details
from coldcheck.report.review.text import CAUTION, EDGES, not_judged, summary, verdict_line
from coldcheck.report.shared.html_page import page, signal_colours, text
from coldcheck.report.shared.plain import listed
from coldcheck.report.shared.signal_words import gravest_first

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

_STYLE = """
@page { size: A4 portrait; margin: 14mm; }
body { font: 10pt/1.35 "Liberation Sans", Arial, sans-serif; color: #000; margin: 4mm auto;
       max-width: 182mm; }
h1 { font-size: 15pt; margin: 0; }
h2 { font-size: 12pt; margin: 6mm 0 1mm; }
section { break-before: page; }
section:first-of-type { break-before: auto; }
article { border: .3mm solid #999; margin: 3mm 0; padding: 2mm 3mm; break-inside: avoid; }
article p { margin: 1.5mm 0; }
.word { display: inline-block; padding: 0 2mm; font-weight: bold; }
.rule { float: right; color: #555; }
table { border-collapse: collapse; }
th { text-align: left; vertical-align: top; font-weight: normal; color: #555; padding: 0 4mm 0 0; }
td { overflow-wrap: anywhere; }
pre { font: 8pt/1.25 "Liberation Mono", monospace; white-space: pre-wrap; }
pre.line { margin: 1mm 0 0; }
.last { border: .6mm solid #000; padding: 1.5mm 2mm; font-weight: bold; }
"""


def render(reviews: Sequence[Review], tables: Sequence[str], gate: str | None = None) -> str:
    """The page of all reviews; every text from a drawing is escaped.

    ``tables`` has what the solutions say of each review, as text.
    """
    title = reviews[0].title or reviews[0].file if len(reviews) == 1 else summary(reviews, gate)
    body = [
        line
        for review, made in zip(reviews, tables, strict=True)
        for line in _section(review, made, gate)
    ]
    head = [f"<p><b>{text(title)}</b></p>"] if len(reviews) > 1 else []
    return page(
        f"{text(title)}: review",
        _STYLE + "".join(signal_colours(".word.LEVEL")),
        (*head, *body, f'<p class="last">{text(CAUTION)}</p>'),
    )


def _section(review: Review, tables: str, gate: str | None) -> Iterator[str]:
    open_ = [f for f in gravest_first(review.findings) if f.accepted is None and not f.standing]
    yield "<section>"
    yield f"<h1>{text(review.title or review.file)}</h1>"
    yield f"<p>{text(review.file)}</p><p><b>{text(verdict_line(review, gate))}</b></p>"
    for finding in open_:
        if not finding.only_edge:
            yield from _article(review, finding)
    yield from _listed(EDGES, [_sentence(f) for f in open_ if f.only_edge])
    accepted = [f for f in review.findings if f.accepted is not None]
    waived = [f"{_sentence(f)} – because {text(f.accepted or '')}" for f in accepted]
    yield from _listed("Accepted by the drawing", waived)
    standing = [_sentence(f) for f in review.findings if f.standing and f.accepted is None]
    yield from _listed("Standing, known to the ledger", standing)
    unjudged = [f"{text(rule)}: {text(why)}" for rule, why in not_judged(review)]
    yield from _listed("Not judged", unjudged)
    if tables.strip():
        yield f"<h2>Worked out</h2><pre>{text_lines(tables)}</pre>"
    yield "</section>"


def text_lines(printed: str) -> str:
    """Printed lines without their colours, safe inside HTML."""
    plain = Text.from_ansi(printed.strip("\n")).plain
    return "\n".join(text(line.rstrip()) for line in plain.split("\n"))


def _article(review: Review, finding: Finding) -> Iterator[str]:
    yield "<article>"
    place = listed(finding.at) if finding.at else ""
    yield (
        f'<p><span class="rule">{text(finding.rule)}</span>'
        f'<span class="word {finding.level}">{finding.level.upper()}</span> '
        f"<b>{text(place)}</b></p><p>{text(finding.message)}</p><table>"
    )
    told = details(finding) if review.readable else iter([("hint", finding.remedy)])
    yield from (f"<tr><th>{text(label)}</th><td>{text(what)}</td></tr>" for label, what in told)
    yield "</table>"
    line = review.line(finding.span)
    if line:
        where = f"{finding.span.file}, line {finding.span.line}"
        yield f'<pre class="line">{text(where)}: {text(line.strip())}</pre>'
    yield "</article>"


def _sentence(finding: Finding) -> str:
    where = f"line {finding.span.line}"
    return f"{text(where)}, {text(finding.rule)}: {text(finding.message)}"


def _listed(title: str, lines: Sequence[str]) -> Iterator[str]:
    """A list of lines that are HTML already; nothing where there are none."""
    if lines:
        yield f"<h2>{text(title)}</h2><ul>"
        yield from (f"<li>{line}</li>" for line in lines)
        yield "</ul>"
