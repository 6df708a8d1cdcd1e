"""One point, or two, explained on a terminal: what is there, its wave, and how to measure it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.chart import explain_words as words
from coldcheck.report.chart.text import aligned, closing
from coldcheck.report.chart.waveform import needs_enlarging, terminal
from coldcheck.report.chart.words import note_text
from coldcheck.report.shared.lines import paragraph, say
from coldcheck.report.shared.plain import clean, listed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from coldcheck.bench.chart.explain import Explanation

METERS = ("", "shows, V", "loading", "mind")


def render(found: Explanation, console: Console) -> None:
    """Print everything about the measurement, and the caution."""
    paragraph(console, clean(heading(found)), style="bold")
    if found.names:
        paragraph(console, f"same wire: {clean(listed(found.names))}")
    paragraph(console, clean(words.there(found)))
    for line in words.against_earth(found):
        paragraph(console, clean(line), style="bold")
    _pictures(console, found)
    _section(console, "Power off", [words.cold(found), *_notes(found)])
    _meters(console, found)
    for name, sentences in words.on_the_scope(found):
        _section(console, clean(name), sentences)
    _section(console, "Where the clip goes", words.ground_clip(found))
    _section(console, "Where the tip slips", words.slips(found))
    _section(console, "Limits", words.limits(found))
    closing(console)


def heading(found: Explanation) -> str:
    """``V3:8 measured from gnd in amplifier.tube, state warm``."""
    return f"{found.point} measured from {found.other} in {found.file}, state {found.state}"


def _notes(found: Explanation) -> list[str]:
    kinds = ("loading", "input-rating", "mains", "no-voltage")  # said elsewhere
    texts = [note_text(n) for n in found.notes if n.kind not in kinds]
    return [f"{text[:1].upper()}{text[1:]}." for text in texts]


def _section(console: Console, title: str, sentences: Iterable[str]) -> None:
    lines = list(sentences)
    if not lines:
        return
    say(console)
    say(console, title, "bold")
    for line in lines:
        paragraph(console, clean(line), 2)


def _pictures(console: Console, found: Explanation) -> None:
    if found.wave is None or len(found.wave.samples) == 1:
        return
    samples, plain = found.wave.samples, not console.encoding.lower().startswith("utf")
    width = min(max(console.width - 20, 20), 64)
    say(console)
    say(console, "  V", "dim")
    for line in terminal(samples, width, plain=plain):
        say(console, f"  {line}")
    say(console, f"  one mains cycle, {1e3 / found.frequency:.3g} ms; 0 is {clean(found.other)}")
    if needs_enlarging(samples):
        say(console)
        for line in terminal(samples, width, 7, ground=False, plain=plain):
            say(console, f"  {line}")
        say(console, "  the same, enlarged")


def _meters(console: Console, found: Explanation) -> None:
    if not found.shown:
        return
    say(console)
    say(console, "Meters", "bold")
    rows = [METERS, *(words.meter_row(shown) for shown in found.shown)]
    for number, line in enumerate(aligned(rows, 1, console.width - 2, 40)):
        say(console, Text(f"  {line}", style="" if number else "dim"))
    for line in (words.source(found), *words.responses(found)):
        paragraph(console, clean(line), 2)
