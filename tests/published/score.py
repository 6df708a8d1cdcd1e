"""Errors of the predictions, their summary by family, and what is on record."""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass, replace
from functools import cache
from statistics import median
from typing import TYPE_CHECKING

from tests.published.catalogue import HERE, Row, predict, rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

RECORD = HERE / "recorded.toml"
README = HERE / "README.md"
START, END = "<!-- scorecard -->", "<!-- end of scorecard -->"
SLACK = 0.1
"""Percentage points by which a median or a worst error may grow before it counts as worse."""


@dataclass(frozen=True, slots=True)
class Scored:
    """A row with what the program says."""

    row: Row
    predicted: float

    @property
    def error(self) -> float:
        """Predicted over published, less one, in percent."""
        return 100.0 * (self.predicted / self.row.published - 1.0)

    @property
    def to_the_digit(self) -> bool:
        """Whether rounding the prediction gives the printed number (a half goes either way)."""
        places = len(self.row.answer.partition(".")[2])
        return abs(self.predicted - self.row.published) <= 0.51 * 10.0**-places

    @property
    def within(self) -> bool:
        """Whether the row's own tolerance is kept."""
        if self.row.tolerance == "digit":
            return self.to_the_digit
        if self.row.tolerance == "bound":
            return 0.7 * self.row.published < self.predicted <= self.row.published
        if self.row.is_range:
            low, high = map(float, self.row.tolerance.split("-"))
            return low <= self.predicted / self.row.published <= high
        return abs(self.error) <= 100.0 * float(self.row.tolerance)


@dataclass(frozen=True, slots=True)
class Line:
    """The summary of the rows of one family and one basis; percent."""

    family: str
    basis: str
    number: int
    median: float
    worst: float
    confidence: str
    digits: str
    """``all`` where every row is right to the printed digit, else how many are."""
    types: int = 0
    """How many types of tube the rows are of."""


@cache
def scored() -> tuple[Scored, ...]:
    """All rows, predicted."""
    return tuple(Scored(row, predict(row)) for row in rows())


def in_medians(item: Scored) -> bool:
    """Doubtful sources and bounds say nothing about how far off the program is."""
    return not (item.row.doubtful or item.row.tolerance == "bound" or item.row.is_range)


def summary(items: Iterable[Scored] | None = None) -> tuple[Line, ...]:
    """One line a family and basis, in the order of the tables."""
    groups: dict[tuple[str, str], list[Scored]] = {}
    for item in scored() if items is None else items:
        if in_medians(item):
            groups.setdefault((item.row.family, item.row.basis), []).append(item)
    return tuple(_line(family, basis, group) for (family, basis), group in groups.items())


def _line(family: str, basis: str, group: list[Scored]) -> Line:
    sizes = [abs(item.error) for item in group]
    origins = Counter(item.row.confidence.split()[0] for item in group)
    exact = sum(item.to_the_digit for item in group)
    return Line(
        family,
        basis,
        len(group),
        median(sizes),
        max(sizes),
        ", ".join(f"{n} {origin}" for origin, n in sorted(origins.items())),
        "all" if exact == len(group) else str(exact),
        len({item.row.arguments["tube"] for item in group if "tube" in item.row.arguments}),
    )


# -- the record ----------------------------------------------------------------------------------


def recorded() -> dict[tuple[str, str], dict[str, float]]:
    """(family, basis) -> number, median and worst on record."""
    data = tomllib.loads(RECORD.read_text(encoding="utf-8"))
    return {(entry["family"], entry["basis"]): entry for entry in data["family"]}


def record(lines: Iterable[Line]) -> str:
    """The record as TOML."""
    head = "# Written by python -m tests.published --record; percent. A test fails when a family\n"
    head += "# gets worse than this by more than a tenth of a point.\n"
    return head + "".join(
        f'\n[[family]]\nfamily = "{x.family}"\nbasis = "{x.basis}"\nnumber = {x.number}\n'
        f"median = {x.median:.3f}\nworst = {x.worst:.3f}\n"
        for x in lines
    )


def worse(lines: Iterable[Line]) -> Iterator[str]:
    """What is worse than the record, or differs from it in extent."""
    known = recorded()
    for line in lines:
        entry = known.pop((line.family, line.basis), None)
        name = f"{line.family} ({line.basis})"
        if entry is None or entry["number"] != line.number:
            yield f"{name}: {line.number} values, not as recorded; run --record"
            continue
        for figure in ("median", "worst"):
            now, then = getattr(line, figure), entry[figure]
            if now > then + SLACK:
                yield f"{name}: {figure} {now:.2f} %, recorded {then:.2f} %"
    yield from (f"{family} ({basis}): recorded, no longer computed" for family, basis in known)


# -- the README ----------------------------------------------------------------------------------

WORDS = {
    "circuit": "circuit",
    "held out": "not fitted to",
    "left out": "fitted anew without it",
    "in the fit": "in the fit",
}


def readme_table(items: Iterable[Scored]) -> str:
    """The summary as the README carries it; what was fitted to comes last."""
    items = tuple(items)
    lines = summary(replace(i, row=_merged(i.row)) for i in items)
    head = "| family | values | types | median error | worst error | tube law | sources |\n"
    head += "|---|--:|--:|--:|--:|---|---|\n"
    fair = [x for x in lines if x.basis != "in the fit"]
    fitted = [x for x in lines if x.basis == "in the fit"]
    body = "".join(_readme_line(x) for x in (*fair, *fitted))
    aside = sum(not in_medians(item) for item in items)
    last = f"{len(items)} values in all; {aside} (doubtful sources, bounds) are in no line."
    return f"{head}{body}\n{last}\n"


def _merged(row: Row) -> Row:
    """One family for all figures that a law was fitted to: together they say little enough."""
    if row.basis != "in the fit":
        return row
    return replace(row, family=row.family.partition(":")[0])


def _readme_line(line: Line) -> str:
    law = "" if line.basis == "circuit" else WORDS[line.basis]
    shown = "to the digit" if line.digits == "all" else f"{line.worst:.1f} %"
    counts = f"{line.number} | {line.types or ''}"
    return (
        f"| {line.family} | {counts} | {line.median:.1f} % | {shown} | {law} "
        f"| {line.confidence} |\n"
    )


def readme_part(text: str) -> str:
    """What stands between the marks in the README; raises ValueError without them."""
    return text[text.index(START) + len(START) : text.index(END)].strip() + "\n"


def with_table(text: str, part: str) -> str:
    """The README with another table between the marks."""
    before, after = text[: text.index(START)], text[text.index(END) :]
    return f"{before}{START}\n{part}{after}"
