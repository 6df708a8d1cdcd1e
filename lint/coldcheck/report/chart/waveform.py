"""A wave over one mains cycle, drawn for a terminal and as SVG.

On a terminal with Braille characters, each of which holds two by four dots; without them with
asterisks. Colour in the SVG only repeats what line and label say.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Array = NDArray[np.float64]

MARGIN = 0.06
ENLARGED_BELOW = 0.25
"""Where the AC takes less than this share of the picture against gnd, it is drawn by itself too."""

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


def limits(samples: Array, *, ground: bool) -> tuple[float, float]:
    """The lowest and highest voltage of a picture, with gnd in it if asked, and some margin."""
    low, high = float(samples.min()), float(samples.max())
    if ground:
        low, high = min(low, 0.0), max(high, 0.0)
    room = MARGIN * (high - low) or max(abs(high) * MARGIN, 1e-3)
    return low - room, high + room


def needs_enlarging(samples: Array) -> bool:
    """Whether the AC is too small to be seen beside the DC."""
    low, high = limits(samples, ground=True)
    swing = float(np.ptp(samples))
    return 1e-3 < swing < ENLARGED_BELOW * (high - low)


def terminal(
    samples: Array, width: int = 56, height: int = 9, *, ground: bool = True, plain: bool = False
) -> list[str]:
    """The picture's lines: an axis with three labels, the wave, and gnd as a line across.

    ``plain`` does without any character beyond ASCII; ``ground`` keeps 0 V in the picture.
    """
    low, high = limits(samples, ground=ground)
    fine = (1, 1) if plain else (2, 4)
    dots = _dots(samples, (width * fine[0], height * fine[1]), low, high)
    zero = _row_of(0.0, low, high, height) if low <= 0 <= high else None
    labels = {0: volts(high), height - 1: volts(low)}
    if zero is not None:
        labels[zero] = "0"
    size = max(map(len, labels.values()))
    bar, axis = ("-", "|") if plain else ("─", "│")
    return [
        f"{labels.get(row, ''):>{size}} {axis}{_line(dots, row, fine, bar if row == zero else ' ')}"
        for row in range(height)
    ]


def _dots(samples: Array, size: tuple[int, int], low: float, high: float) -> NDArray[np.bool_]:
    """Which dots are set, shape (rows, columns): each column from its value to the next one's."""
    columns, rows = size
    ends = np.linspace(0, len(samples), columns + 1)
    places = np.arange(len(samples) + 1)
    values = np.interp(ends, places, np.append(samples, samples[0]))
    at = [_row_of(float(v), low, high, rows) for v in values]
    grid = np.zeros((rows, columns), dtype=bool)
    for column in range(columns):
        first, last = sorted((at[column], at[column + 1]))
        grid[first : max(last, first + 1), column] = True
    return grid


def _row_of(value: float, low: float, high: float, rows: int) -> int:
    """The row, counted from the top, that a voltage falls into."""
    share = (high - value) / (high - low)
    return min(max(int(share * rows), 0), rows - 1)


def _line(dots: NDArray[np.bool_], row: int, fine: tuple[int, int], empty: str) -> str:
    across, down = fine
    part = dots[row * down : (row + 1) * down]
    cells = (part[:, k : k + across] for k in range(0, part.shape[1], across))
    return "".join(_character(cell, empty) for cell in cells).rstrip()


def _character(cell: NDArray[np.bool_], empty: str) -> str:
    if not cell.any():
        return empty
    if cell.size == 1:
        return "*"
    code = sum(_DOTS[r][c] for r, c in zip(*np.nonzero(cell), strict=True))
    return chr(0x2800 + code)


WIDE, HIGH, LEFT, TOP, GAP = 640, 220, 70, 40, 50


def svg(samples: Array, title: str, frequency: float, zero: str = "gnd") -> str:
    """One mains cycle as a picture of its own: against ``zero``, and the AC enlarged if small."""
    panels = [(f"against {clean(zero)}", samples, True)]
    if needs_enlarging(samples):
        panels.append(("the same, enlarged", samples, False))
    whole = TOP + len(panels) * (HIGH + GAP)
    body = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {whole}" '
        f'font-family="sans-serif" font-size="13" role="img">',
        f"<title>{escape(clean(title))}</title>",
        f'<rect width="{WIDE}" height="{whole}" fill="#fff"/>',
        f'<text x="{LEFT}" y="24" font-weight="bold">{escape(clean(title))}</text>',
    ]
    for number, (name, values, ground) in enumerate(panels):
        top = TOP + number * (HIGH + GAP)
        body += _panel(values, name, top, ground, frequency)
    return "\n".join([*body, "</svg>", ""])


def _panel(samples: Array, name: str, top: float, ground: bool, frequency: float) -> Iterator[str]:
    low, high = limits(samples, ground=ground)

    def y(value: float) -> float:
        return top + HIGH * (high - value) / (high - low)

    right = WIDE - 20
    yield (
        f'<rect x="{LEFT}" y="{top}" width="{right - LEFT}" height="{HIGH}" '
        'fill="none" stroke="#888"/>'
    )
    if low <= 0 <= high:
        yield _level(y(0.0), right, "0 V", "")
    yield _level(y(float(samples.mean())), right, f"{volts(float(samples.mean()))} DC", "6 4")
    yield from _labels(samples, y, low, high)
    yield (
        f'<polyline points="{_points(samples, right, y)}" '
        'fill="none" stroke="#0057b8" stroke-width="2"/>'
    )
    yield (
        f'<text x="{right}" y="{top + HIGH + 18}" text-anchor="end">'
        f"{escape(name)}; one mains cycle, {1e3 / frequency:.3g} ms</text>"
    )


def _labels(samples: Array, y: Callable[[float], float], low: float, high: float) -> Iterator[str]:
    taken = [y(float(samples.mean()))] + ([y(0.0)] if low <= 0 <= high else [])
    for value in (float(samples.max()), float(samples.min())):
        place = y(value)
        if all(abs(place - other) > 14 for other in taken):
            yield _label(place, volts(value))
            taken.append(place)


def _level(place: float, right: float, label: str, dashes: str) -> str:
    dash = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{LEFT}" y1="{place:.1f}" x2="{right}" y2="{place:.1f}" stroke="#444"{dash}/>'
        + _label(place, label)
    )


def _label(place: float, text: str) -> str:
    return f'<text x="{LEFT - 6}" y="{place + 4:.1f}" text-anchor="end">{escape(text)}</text>'


def _points(samples: Array, right: float, y: Callable[[float], float]) -> str:
    closed = np.append(samples, samples[0])
    across = np.linspace(LEFT, right, len(closed))
    return " ".join(f"{a:.1f},{y(float(v)):.1f}" for a, v in zip(across, closed, strict=True))
