"""Panels on one sheet: the stages above, supply, heaters and bias below, as wide as they need."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.picture.model import Panel, Picture

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.picture.model import Entry

ROOM, HEAD = 1, 4
"""Between panels; above the first for the title."""
ASPECT = 1.42
"""Width to height of the sheet aimed at: A4 lying."""


def on_sheet(
    title: str, state: str, panels: list[Panel], entries: tuple[Entry, ...] = ()
) -> Picture:
    """Put panels in rows, trying widths until the sheet is about as wide as A4 is."""
    widest = max((p.width for p in panels), default=20)
    area = sum((p.width + ROOM) * (p.height + ROOM) for p in panels)
    wish = max(widest, round((area * ASPECT) ** 0.5))
    choices = [_rows(panels, width) for width in range(widest, max(wish, widest) * 2 + 1, 6)]
    placed = min(choices, key=lambda c: _badness(_extent(c)))
    width, height = _extent(placed)
    return Picture(title, state, max(width, 30) + 2, height + 2, tuple(placed), entries)


def _badness(extent: tuple[int, int]) -> float:
    """How small the sheet comes out on A4."""
    width, height = extent
    return max(width / ASPECT, float(height))


def _rows(panels: Iterable[Panel], width: int) -> list[Panel]:
    """Panels one after the other, each row as wide as is allowed."""
    x, y, tall, found = 1, HEAD, 0, []
    for panel in panels:
        if x > 1 and x + panel.width > width:
            x, y, tall = 1, y + tall + ROOM, 0
        found.append(_moved(panel, x - panel.x, y + 1 - panel.y))
        x += panel.width + ROOM
        tall = max(tall, panel.height + 1)
    return found


def _extent(panels: list[Panel]) -> tuple[int, int]:
    return (
        max((p.x + p.width for p in panels), default=20),
        max((p.y + p.height for p in panels), default=10),
    )


def _moved(panel: Panel, dx: int, dy: int) -> Panel:
    return replace(
        panel,
        x=panel.x + dx,
        y=panel.y + dy,
        items=tuple(item.moved(dx, dy) for item in panel.items),
        wires=tuple(
            replace(w, points=tuple((x + dx, y + dy) for x, y in w.points)) for w in panel.wires
        ),
        dots=tuple((net, (x + dx, y + dy)) for net, (x, y) in panel.dots),
        calls=tuple(replace(c, word=c.word.moved(dx, dy)) for c in panel.calls),
        notes=tuple(replace(n, word=n.word.moved(dx, dy)) for n in panel.notes),
    )
