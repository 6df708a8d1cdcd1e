"""The parts list and the list of leads as CSV (RFC 4180), figures in plain SI units."""

from __future__ import annotations

import csv
from io import StringIO
from typing import TYPE_CHECKING

from coldcheck.report.chart.csv import guarded
from coldcheck.report.parts import words

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.bench.parts.parts import Group, PartsList, Row
    from coldcheck.bench.parts.wires import Wired
    from coldcheck.drawing.rerated import Ratings
    from coldcheck.judge.use import Use

COLUMNS = (
    *("group", "part", "value", "alike", "buy_v", "buy_w", "buy_a", "volts_are_ac"),
    *("drawn_v", "drawn_w", "drawn_a"),
    *("most_v", "most_v_state", "most_w", "most_w_state", "most_a", "most_a_state", "besides"),
)
LEADS = ("part", "written", "lead", "electrode", "point", "joins", "note", "ticked")


def render(found: PartsList) -> str:
    """A line a part; ``alike`` is how many of the list are bought as one."""
    return _table(COLUMNS, (row for group in found.groups for row in _rows(group)))


def _rows(group: Group) -> Iterator[list[str]]:
    alike = 0
    for row in group.rows:
        alike = row.quantity or alike
        yield _cells(group, row, alike)


def _cells(group: Group, row: Row, alike: int) -> list[str]:
    item, buy = row.item, row.advice.buy
    return [
        *map(guarded, (group.sort.value, item.name, item.value)),
        str(alike),
        *_ratings(buy),
        "yes" if (buy.ac if buy.volts is not None else item.stated.ac) else "",
        *_ratings(item.stated),
        *(cell for use in (row.uses.volts, row.uses.watts, row.uses.amps) for cell in _use(use)),
        guarded(row.advice.besides),
    ]


def _ratings(ratings: Ratings) -> tuple[str, ...]:
    return tuple(_number(x) for x in (ratings.volts, ratings.watts, ratings.amps))


def _use(use: Use | None) -> tuple[str, str]:
    return ("", "") if use is None else (_number(use.figure.value), guarded(use.state))


def _number(value: float | None) -> str:
    if value is None:
        return ""
    return "0" if abs(value) < 1e-9 else f"{value:.6g}"


def render_wires(found: Sequence[Wired]) -> str:
    """A line a lead; the last column is to be filled in."""
    return _table(
        LEADS,
        (
            [
                *map(guarded, (part.name, part.written, lead.label, lead.electrode, lead.point)),
                guarded("; ".join(lead.joins)),
                guarded(words.USES.get(lead.use, "")),
                "",
            ]
            for part in found
            for lead in part.leads
        ),
    )


def _table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()
