"""The page of what is on file about tubes: ``python -m coldcheck.report.pages.shelf``.

Written from the data files; a test compares the page in the repository with what this module
writes today. Nothing imports it.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from coldcheck.circuit.tubes import Sourced, known_types, tube_type
from coldcheck.circuit.tubes_types import ONE_RECALL, TWO_RECALLS
from coldcheck.drawing.units import engineering
from coldcheck.verdict.pairs import folder

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.circuit.tubes import TubeType

PAGE = folder().parent / "guide" / "tubes.md"

_SURE = ("found", TWO_RECALLS, "memory", ONE_RECALL, "derived")
_HEAD = """# The tubes on file

Written by `python -m coldcheck.report.pages.shelf` from the data files; do not edit.
`coldcheck tubes TYPE` prints all that is on file about one, every number with its source.

*Sure* counts the numbers of a type by where they are from: read in a document (found), recalled
twice independently and agreeing (two recalls), recalled once (memory, one recall), or worked out
from other figures (derived). Two recalls can share a mistake: agreement is good evidence for common
types and weaker for rare ones. Where a number decides, look at a sheet.

*Pins*: **no** where two recalls of the base differ, or there is only one. A drawing names such a
tube's electrodes (`V1.plate`), never its pins by number.

*Law*: **no** where nothing is on file from which the currents could be worked out. Such a tube is a
load in its heater and a place in the socket; what hangs on its current is not judged, and the
verdict is undecided.
"""


def page() -> str:
    """The page as Markdown: what there is in numbers, then a table a group."""
    kinds = [tube_type(name) for name in known_types()]
    groups: dict[str, list[TubeType]] = {}
    for kind in kinds:
        groups.setdefault(kind.group, []).append(kind)
    parts = [_HEAD, _totals(kinds)]
    parts += ["\n".join(_table(name, members)) for name, members in groups.items()]
    return "\n".join(parts)


def _totals(kinds: list[TubeType]) -> str:
    names = sum(1 + len(k.also) for k in kinds)
    counts = Counter(n.confidence for k in kinds for n in numbers(k))
    sure = ", ".join(f"{counts[c]} {c}" for c in _SURE if counts[c])
    return (
        f"{len(kinds)} types under {names} names; the pins of "
        f"{sum(k.pins_known for k in kinds)} and the laws of {sum(map(_lawful, kinds))} are on "
        f"file. Numbers: {sure}.\n"
    )


def _table(group: str, kinds: Iterable[TubeType]) -> Iterator[str]:
    yield f"## {group.capitalize()}"
    yield ""
    yield "| type | also | what | base | heater | pins | law | sure |"
    yield "|---|---|---|---|---|---|---|---|"
    for kind in kinds:
        ways = [_heater(w.volts, w.amps) for w in kind.heaters]
        cells = (
            *(kind.name, ", ".join(kind.also), kind.description, kind.base, " or ".join(ways)),
            *("yes" if kind.pins_known else "**no**", "yes" if _lawful(kind) else "**no**"),
            ", ".join(_counted(kind)),
        )
        yield f"| {' | '.join(cells)} |"
    yield ""


def _heater(volts: Sourced, amps: Sourced) -> str:
    return f"{engineering(volts.value, 'V', 4)} {engineering(amps.value, 'A', 4)}"


def _lawful(kind: TubeType) -> bool:
    return all(s.law is not None for s in kind.sections)


def _counted(kind: TubeType) -> Iterator[str]:
    counts = Counter(n.confidence for n in numbers(kind))
    words = {TWO_RECALLS: "two recalls", ONE_RECALL: "one recall"}
    yield from (f"{counts[c]} {words.get(c, c)}" for c in _SURE if counts[c])


def numbers(kind: TubeType) -> list[Sourced]:
    """Every number on file about a type."""
    tables = (kind.ratings, *kind.ratings_of.values(), *kind.capacitances.values(), *kind.points)
    found = [v for t in tables for v in t.values() if isinstance(v, Sourced)]
    return found + [n for way in kind.heaters for n in (way.volts, way.amps)]


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
