"""The page of a rule to read in a browser or on paper: its wrong and its right drawing, drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.pages.rule_page import (
    counted_names,
    documentation,
    names_of,
    nothing_found,
    open_findings,
    shared,
)
from coldcheck.report.pages.side_by_side import MARKS, aligned
from coldcheck.report.picture import pair as pictures
from coldcheck.report.review.findings import details
from coldcheck.report.review.text import CAUTION
from coldcheck.report.shared.html_blocks import STYLE, bullets, heading, labels
from coldcheck.report.shared.html_page import page, signal_colours, text
from coldcheck.report.shared.places import sentence
from coldcheck.report.shared.plain import clean, listed

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.compare.pictured import Side
    from coldcheck.judge.rule import Rule
    from coldcheck.verdict.pairs import Pair
    from coldcheck.verdict.review import Review

LINES_STYLE = """
.lines { width: 100%; font-family: "Liberation Mono", monospace; font-size: .85rem; }
.lines td, .lines th { padding: 0 .4rem 0 0; white-space: pre-wrap; overflow-wrap: anywhere; }
.lines td:nth-child(odd), .lines .mark { width: 1em; font-weight: bold; }
.lines td { width: 50%; }
.lines .differs { font-weight: bold; text-decoration: underline; }
@media (max-width: 40rem) { .lines td:nth-child(odd) { display: none; } }
"""
_PRINT = "@media print { @page { size: A4 portrait; margin: 14mm; } }\n"


def render(
    rule: Rule,
    pair: Pair | None,
    reviews: Mapping[str, Review],
    sides: tuple[Side, Side] | None,
    others: Sequence[str] = (),
    package: str = "",
) -> str:
    """The page; the arguments are those of the page for a terminal, and both sides pictured."""
    word = f'<span class="word {rule.level}">{rule.level.upper()}</span>'
    both = shared(reviews, rule.id)
    body = [f"<main><h1>{word} {text(rule.id)}</h1>", f"<p>{text(rule.title)}</p>"]
    body += labels([*documentation(rule), *([("package", package)] if package else [])])
    if pair is not None:
        body += _drawings(pair, sides)
        for side, review in reviews.items():
            body += _review(side, review, rule.id, both)
        if both:
            body.append(f"<p>Besides, both drawings get {text(listed(counted_names(both)))}.</p>")
    body += bullets("More", [f"<code>coldcheck why {text(name)}</code>" for name in others], 2)
    style = "".join((STYLE, pictures.STYLE, LINES_STYLE, _PRINT, *signal_colours(".word.LEVEL")))
    return page(text(rule.id), style, (*body, f'<p class="last">{text(CAUTION)}</p></main>'))


def _drawings(pair: Pair, sides: tuple[Side, Side] | None) -> Iterator[str]:
    yield f"{heading('The drawings', 2)}<p>{text(pair.lesson)}</p>"
    if sides is not None:
        yield from pictures.two(
            pictures.figure(words, side.picture, side.changed, side.calls)
            for words, side in zip(("wrong", "right"), sides, strict=True)
        )
    yield from beside(pair.wrong, pair.right, ("wrong", "right"))


def beside(left: str, right: str, headings: tuple[str, str]) -> Iterator[str]:
    """Two drawings as text, line by line beside each other, what differs marked in both."""
    heads = "".join(f'<td></td><th scope="col">{text(h)}</th>' for h in headings)
    yield f'<table class="lines"><thead><tr>{heads}</tr></thead><tbody>'
    for lines in aligned(left.splitlines(), right.splitlines()):
        yield f"<tr>{''.join(_cells(lines))}</tr>"
    yield "</tbody></table>"


def _cells(lines: tuple[str | None, str | None]) -> Iterator[str]:
    differs = ' class="differs"' if lines[0] != lines[1] else ""
    for mark, line in zip(MARKS, lines, strict=True):
        shown = mark if differs and line is not None else ""
        yield f"<td>{shown}</td><td{differs if line else ''}>{text(line or '')}</td>"


def _review(side: str, review: Review, rule: str, both: Counter[str]) -> Iterator[str]:
    """What the review says of one side: this rule's findings in full, the others by name."""
    yield heading(f"Review of the {side} drawing", 2)
    found = open_findings(review)
    for finding in (f for f in found if f.rule == rule):
        yield (
            f'<p><span class="word {finding.level}">{finding.level.upper()}</span> '
            f"{text(clean(sentence(finding)))}</p>"
        )
        told = details(finding) if review.readable else [("remedy", finding.remedy)]
        yield from labels(told)
    rest = names_of(f for f in found if f.rule != rule) - both
    if rest:
        yield f"<p>also {text(listed(counted_names(rest)))}</p>"
    elif not any(f.rule == rule for f in found):
        yield f"<p>{text(nothing_found(review, both))}</p>"
