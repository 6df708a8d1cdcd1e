"""The warm-up: what stands higher on the way than it does when warm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.blocks import Block, Note, Section, Table
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.verdict.document.content import WarmUpTold

TITLE = "Warming up: higher on the way than when warm, volts at the worst instant"
HEADINGS = ("part", "highest", "warm", "in")


def warming_section(way: WarmUpTold) -> Iterator[Section]:
    """What the way from switch-on to warm strains more than the warm set; else nothing."""
    rows = tuple(_rows(way))
    blocks: list[Block] = [Table(HEADINGS, rows, frozenset({0, 3}))] if rows else []
    if way.not_solved:
        blocks.append(Note(f"not solved: {listed(way.not_solved)}"))
    if blocks:
        yield Section(TITLE, tuple(blocks))


def _rows(way: WarmUpTold) -> Iterator[tuple[str, ...]]:
    for suffix, peaks in (
        ("", way.capacitors),
        (" heater to cathode", way.heater_cathode),
        (" grid", way.grid_cathode),
    ):
        for peak in peaks:
            if peak.strained:
                highest, warm = volts(peak.highest_v), volts(peak.warm_v)
                yield peak.at + suffix, highest, warm, short_state(peak.state)


def short_state(name: str) -> str:
    """A state's name without the words that the heading and the next word say."""
    return name.removeprefix("warming: ").replace(", high line", ", high")
