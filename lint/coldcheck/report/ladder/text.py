"""The ladder for a terminal: state by state, from the top rung down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.ladder import words
from coldcheck.report.shared.blocks import Note, Section, Table
from coldcheck.report.shared.lines import paragraph, print_section, say
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console

    from coldcheck.bench.ladder.ladder import Column, Ladder, Link

_NETS = ("V DC", "lowest", "highest", "nets")
_TUBES = ("section", "cathode", "plate", "heater bus", "is at", "may be from", "to", "")


def render(found: Ladder, console: Console) -> None:
    """Print every state's rungs and tubes, the windows, and the caution."""
    paragraph(console, clean(words.heading(found)), style="bold")
    paragraph(console, f"Ladder of {clean(found.file)}, volts to gnd from the top down")
    for column in found.columns:
        for section in _sections(column):
            print_section(console, section)
    say(console)
    for note in (*words.notes(found), words.CAUTION):
        paragraph(console, clean(note))


def _sections(column: Column) -> Iterator[Section]:
    if column.reason:
        yield Section(column.state, (Note(f"not solved: {column.reason}"),))
        return
    rows = [(volts(r.dc), volts(r.low), volts(r.high), ", ".join(r.names)) for r in column.rungs]
    yield Section(column.state, (Table(_NETS, tuple(rows), frozenset({3})),))
    if column.links:
        table = Table(_TUBES, tuple(map(_row, column.links)), frozenset({0, 3, 7}))
        yield Section(f"{column.state}, tubes", (table,))


def _row(link: Link) -> tuple[str, ...]:
    window = link.window
    head = (link.section, volts(link.cathode), volts(link.plate))
    if window is None:
        return (*head, "", "", "", "", "")
    closes = [n for n, yes in (("from", window.sets_least), ("to", window.sets_most)) if yes]
    said = "outside" if window.outside else f"closes it {', '.join(closes)}" if closes else ""
    return (*head, window.line, volts(window.at), volts(window.least), volts(window.most), said)
