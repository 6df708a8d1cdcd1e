"""The parts list: every part with what it must stand and what to buy, as a catalogue goes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.parts.items import Sort, items
from coldcheck.bench.parts.ratings import Advice, advised
from coldcheck.bench.parts.uses import Uses, uses
from coldcheck.drawing.rerated import Ratings
from coldcheck.records import dataclass
from coldcheck.verdict.ruling import undecided

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.bench.parts.items import Item
    from coldcheck.judge.finding import NotJudged
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Row:
    """One part; ``quantity`` says how many are alike, at the first of them (0 at the others)."""

    item: Item
    uses: Uses
    advice: Advice
    quantity: int


@dataclass(frozen=True, slots=True)
class Group:
    """The parts of one sort."""

    sort: Sort
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class PartsList:
    """The list; ``held`` findings count at the gate, ``undecided`` is what was not judged."""

    file: str
    title: str
    groups: tuple[Group, ...]
    held: int
    undecided: tuple[NotJudged, ...]


def parts_list(review: Review, settings: Settings) -> PartsList:
    """The list of a readable drawing; parts without figures are on it too."""
    if review.worked is None:
        raise ValueError("an unreadable drawing has no parts list")
    case = review.worked.case
    used = {item.name: (item, uses(case, item)) for item in items(case.circuit)}
    advice = advised(case, used, settings)
    entries = [(i, u, advice.get(i.name, Advice(Ratings()))) for i, u in used.values()]
    groups = ((s, [e for e in entries if e[0].sort is s]) for s in Sort)
    return PartsList(
        review.file,
        review.title,
        tuple(Group(sort, _rows(found)) for sort, found in groups if found),
        len(review.at_or_above()),
        undecided(review),
    )


def _rows(entries: Sequence[tuple[Item, Uses, Advice]]) -> tuple[Row, ...]:
    """By size, those alike side by side; else in the order of the drawing."""
    alike: dict[tuple[float, str, Advice], list[tuple[Item, Uses, Advice]]] = {}
    for entry in entries:
        alike.setdefault((entry[0].size, entry[0].value, entry[2]), []).append(entry)
    groups = sorted(alike.items(), key=lambda found: found[0][0])
    return tuple(
        Row(*entry, 0 if n else len(same)) for _, same in groups for n, entry in enumerate(same)
    )
