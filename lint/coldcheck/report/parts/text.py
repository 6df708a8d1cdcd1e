"""The parts list and the list of leads for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.parts import words
from coldcheck.report.shared.blocks import Entries, Section
from coldcheck.report.shared.lines import entries, paragraph, print_section, say
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rich.console import Console

    from coldcheck.bench.parts.parts import Group, PartsList
    from coldcheck.bench.parts.wires import Wired
    from coldcheck.report.shared.blocks import Block

_LABEL = 10


def render(found: PartsList, console: Console) -> None:
    """Print the list, sort by sort, what its figures are, and the caution."""
    _title(console, found.title, found.file, "Parts list")
    for remark in words.remarks(found):
        paragraph(console, clean(remark), style="bold")
    for group in found.groups:
        print_section(console, Section(words.heading(group.sort), tuple(_blocks(group))))
    say(console)
    for text in (words.FIGURES_ARE, words.BUY_IS):
        paragraph(console, text)
    _close(console)


def _blocks(group: Group) -> Iterator[Block]:
    yield words.table(group)
    other = tuple(words.besides(group))
    if other:
        yield Entries(other, _LABEL, words.NO_RATING)


def render_wires(found: Sequence[Wired], title: str, file: str, console: Console) -> None:
    """Print every lead with a box to tick."""
    _title(console, title, file, "Every lead and pin")
    for part in found:
        say(console)
        say(console, clean(part.written), "bold")
        labels = [f"[ ] {words.labelled(lead)}" for lead in part.leads]
        wide = max(map(len, labels), default=0) + 2
        told = (clean(words.joined(lead)) for lead in part.leads)
        entries(console, zip(map(clean, labels), told, strict=True), 2, wide)
    say(console)
    paragraph(console, words.WIRES_ARE)
    _close(console)


def _title(console: Console, title: str, file: str, what: str) -> None:
    paragraph(console, clean(title or file), style="bold")
    paragraph(console, f"{what} of {clean(file)}")


def _close(console: Console) -> None:
    say(console)
    paragraph(console, words.CAUTION)
