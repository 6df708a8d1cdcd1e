"""Two pictures one above the other, what differs marked in both, on a screen and on a sheet."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.report.picture import svg
from coldcheck.report.shared.html_page import text
from coldcheck.report.shared.places import sentence

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.judge.finding import Finding
    from coldcheck.picture.changed import Changed
    from coldcheck.picture.model import Picture

STYLE = (
    svg.style()
    + svg.CHANGED_STYLE
    + """
figure { margin: .6rem 0; break-inside: avoid; }
figcaption { font-weight: bold; }
figcaption + p, .marks { margin: .1rem 0; color: #444; }
.sheet { overflow: auto; border: 1px solid #767676; }
.sheet svg { display: block; height: auto; max-width: 100%; }
.two { display: flex; flex-wrap: wrap; gap: 0 1rem; }
.two figure { flex: 1 1 auto; max-width: 100%; }
@media (max-width: 40rem) { .sheet { max-height: 70vh; } .sheet svg { max-width: none; } }
@media print {
  .two { display: block; }
  .sheet { border: 0; overflow: visible; max-height: none; }
  .sheet svg { max-width: 100%; max-height: 92mm; }
  @page lying { size: A4 landscape; margin: 10mm; }
  .large { page: lying; break-before: page; break-after: page; }
  .large .sheet svg { width: 100%; max-height: 160mm; }
}
"""
)
WIDEST = 800
"""Units of a picture that stay legible across a sheet standing: 2 mm letters."""

MARKS = (
    "Dashed frame: a part that the other drawing has not, or has with another value. Ring: a "
    "lead that is on another point there. Broad line: a point that has a part more there."
)


def figure(
    words: str, picture: Picture, changed: Changed, calls: Iterable[tuple[int, Finding]] = ()
) -> Iterator[str]:
    """One picture under its words, which no other on the page has, with its findings."""
    drawn = svg.inline(replace(picture, entries=()), changed=changed)
    large = ' class="large"' if svg.extent(picture)[0] > WIDEST else ""
    yield f"<figure{large}><figcaption>{text(words)}</figcaption>"
    yield f"<p>{text(picture.state)}</p>"
    yield (
        f'<div class="sheet" tabindex="0" role="region" aria-label="{text(words)}">{drawn}</div>'
    )
    for number, finding in calls:
        yield (
            f'<p><span class="number">{number}</span> '
            f'<span class="word {finding.level}">{finding.level.upper()}</span> '
            f"{text(sentence(finding))}</p>"
        )
    yield "</figure>"


def two(figures: Iterable[Iterable[str]]) -> Iterator[str]:
    """Figures beside or below each other, and what the marks mean."""
    yield '<div class="two">'
    for lines in figures:
        yield from lines
    yield f'</div><p class="marks">{text(MARKS)}</p>'
