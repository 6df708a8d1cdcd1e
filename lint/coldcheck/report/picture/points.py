"""The sheet on which a chart's or a plan's points have their numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.report.picture import svg

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.points_drawn import PointsDrawn

STYLE = (
    svg.style()
    + """
@page lying { size: A4 landscape; margin: 10mm; }
.points { page: lying; break-before: page; margin-top: 4mm; }
.points svg { display: block; width: 100%; height: auto; max-height: 175mm; }
.no { width: 6mm; text-align: center; font-weight: bold; }
@media (max-width: 40rem) { .points { overflow: auto; } .points svg { width: auto; } }
"""
)
MEANS = "The numbers are those of the table. Points joined by wire have one number; gnd has none."


def sheet(drawn: PointsDrawn | None) -> Iterator[str]:
    """The circuit with the numbers in it, on a sheet of its own; nothing where there is none."""
    if drawn is not None:
        yield f'<div class="points" tabindex="0" role="region" aria-label="points"><p>{MEANS}</p>'
        yield f"{svg.inline(replace(drawn.picture, entries=()))}</div>"
