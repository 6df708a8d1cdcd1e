"""A comparison of two revisions as a page: both drawn, what changed marked in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.pages.comparison import LONGEST, cells, finding_row, part_text, verdict
from coldcheck.report.picture import pair
from coldcheck.report.review.text import CAUTION
from coldcheck.report.shared.blocks import Entries, Note, Section, Table
from coldcheck.report.shared.html_blocks import STYLE, whole
from coldcheck.report.shared.html_page import page, signal_colours, text
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.compare.changes import Comparison, JudgedComparison
    from coldcheck.compare.pictured import Side

NO_PICTURE = "No pictures: the circuits cannot be laid out."
_PRINT = "@media print { @page { size: A4 portrait; margin: 14mm; } }\n"


def render(judged: JudgedComparison, sides: tuple[Side, Side] | None) -> str:
    """The page; every text from a drawing is escaped."""
    found = judged.comparison
    title = text(found.new.title or found.new.file)
    files = f"{text(found.old.file)} → {text(found.new.file)}"
    body = [line for section in _sections(found) for line in whole(section, 2)]
    return page(
        f"{title}: comparison",
        "".join((STYLE, pair.STYLE, _PRINT, *signal_colours(".word.LEVEL"))),
        (
            f"<main><h1>{title}</h1><p><code>{files}</code></p>",
            f'<p class="verdict">{text(verdict(judged))}</p>',
            *_pictures(found, sides),
            *body,
            f'<p class="last">{text(CAUTION)}</p></main>',
        ),
    )


def _pictures(found: Comparison, sides: tuple[Side, Side] | None) -> Iterator[str]:
    if sides is None:
        yield f"<p>{text(NO_PICTURE)}</p>"
        return
    names = (f"before: {found.old.file}", f"now: {found.new.file}")
    yield from pair.two(
        pair.figure(words, side.picture, side.changed, side.calls)
        for words, side in zip(names, sides, strict=True)
    )


def _sections(found: Comparison) -> Iterator[Section]:
    if found.parts:
        rows = tuple((f"{p.how} {clean(p.name)}", part_text(p)) for p in found.parts)
        yield Section("Parts", (Entries(rows, 18),))
    if found.points:
        heads = ("point", "was V", "is V", "by", "AC was", "AC is")
        rows_ = tuple(cells(moved) for moved in found.points[:LONGEST])
        left = len(found.points) - LONGEST
        more = (Note(f"and {left} more"),) if left > 0 else ()
        yield Section(f"Voltages to gnd that moved, {found.state}", (Table(heads, rows_), *more))
    if found.findings:
        yield Section("Findings", (Entries(tuple(map(finding_row, found.findings)), 9),))
