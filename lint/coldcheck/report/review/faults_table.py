"""The table of single faults as text, ranked, with room for those who sign it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.drawing.units import engineering
from coldcheck.report.review.text import closing, verdict_line
from coldcheck.report.shared.lines import entries, paragraph, say
from coldcheck.report.shared.plain import clean, counted, listed
from coldcheck.report.shared.signal_words import panel

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rich.console import Console

    from coldcheck.bench.faults.faults import Outcome, Sweep
    from coldcheck.bench.faults.fuses import Blown
    from coldcheck.bench.faults.touch import Touch
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ruling import Ruling

INDENT, LABEL = 9, 12
TOUCH = "60 V"

BLOWN = "With these a fuse opens, and nothing else that is judged here is exceeded"
EARTHED = "With these only the protective earth keeps the metal off the mains; test that it does"
QUIET = "With these nothing that is judged here is exceeded"
SCOPE = (
    "One fault at a time, in the warm state with no signal, the mains at the upper end of their "
    "tolerance; a fault that takes the load from a pentode at full drive as well, where a signal "
    "is drawn; other faults of a driven set are not looked at; capacitors before the tubes draw, "
    "where a part of the supply is open or shorted; the discharge after switch-off where a fault "
    "can take a drain away. Two faults at once, a part that drifts and what a fault damages next "
    "are not looked at, but for a protective earth that is broken beforehand: what it prevents is "
    "listed. A grid left hanging is taken to drift to its cathode's potential. Fuses are counted "
    "as opening from 2.1 times their rating, at the lower end of the mains, where they open last; "
    "the times are the longest that a fuse of that speed may take (gates of IEC 60127-2, from "
    "memory), and those of a fuse of another standard are others. The current through somebody is "
    "that of the network of IEC 60990 (from memory) from the terminal to gnd; nothing here says "
    "that a smaller one is harmless. What the drawing accepts is about the set as drawn and "
    "waives nothing here."
)


def render(ruling: Ruling, found: Sweep, console: Console) -> None:
    """Print the table, the faults without effect, what was not judged, and lines to sign."""
    document = ruling.document
    title, file = clean(document.title), clean(document.file)
    paragraph(console, title or file, style="bold")
    if title:
        paragraph(console, file)
    say(console)
    paragraph(console, _summary(found))
    for number, outcome in enumerate(found.harmful, 1):
        say(console)
        _row(console, number, outcome)
    _lists(console, document, found)
    say(console)
    paragraph(console, SCOPE)
    say(console)
    paragraph(console, clean(verdict_line(ruling)), style="bold")
    _sign(console)
    closing(console)


def _summary(found: Sweep) -> str:
    total, harmful = len(found.outcomes), len(found.harmful)
    charged = f"the set as drawn stays above {TOUCH} for {lasting(found.seconds)} after switch-off"
    words = "something is exceeded that is not without it"
    return f"{counted(total, 'single fault')}, {harmful or 'none'} with which {words}; {charged}."


def _row(console: Console, number: int, outcome: Outcome) -> None:
    """One fault: its number, its word and name, a box to tick; what follows under it."""
    head = Text(f"{number:>3}  [ ] ").append_text(panel(outcome.level))
    say(console, head.append(f" {clean(outcome.fault.name)}", style="bold"))
    entries(console, _details(outcome), INDENT, LABEL)


def _details(outcome: Outcome) -> Iterator[tuple[str, str]]:
    first, others = outcome.findings[0], outcome.findings[1:]
    where = "" if first.at[0] in first.message else f"{first.at[0]}: "
    yield "exceeds", f"{where}{clean(first.message)} – {first.rule}"
    if others:
        yield "also", clean(listed(dict.fromkeys(f"{x.rule} at {x.at[0]}" for x in others)))
    for touch in outcome.touches:
        yield "through you", clean(through(touch))
    if outcome.unearthed:
        yield "no earth", clean(without_earth(outcome))
    yield "in the way", clean(outcome.barrier)
    if outcome.fuses:
        yield "fuses", clean(_fuses(outcome))
    if outcome.seconds is not None:
        yield "danger", f"after switch-off {_above(outcome.seconds)}"


def through(touch: Touch) -> str:
    """What flows through somebody who touches a terminal."""
    dc, ac = engineering(abs(touch.dc), "A"), engineering(touch.ac, "A")
    words = f"who touches {touch.name} and {touch.to} takes {dc} DC and {ac} AC"
    if touch.harmful:
        return f"{words}: beyond 25 mA DC or 5 mA AC, which can kill"
    return f"{words}: {'beyond' if touch.felt else 'not beyond'} 2 mA DC or 0.5 mA AC"


def without_earth(outcome: Outcome) -> str:
    """What is then exceeded where the protective earth is broken."""
    return f"with the earth lead broken as well: {outcome.unearthed[0].message}"


def _fuses(outcome: Outcome) -> str:
    """What each overloaded fuse does; none of them is promised to hold or to open in between."""
    words = [fuse_words(b) for b in outcome.fuses]
    return f"{listed(words)}{'' if outcome.lasts else ': the state does not last'}"


def fuse_words(fuse: Blown) -> str:
    """What one overloaded fuse does, and how fast."""
    least = fuse.surely
    low = "" if f"{least:.1f}" == f"{fuse.times:.1f}" else f" ({least:.1f} at the lowest mains)"
    carries = f"{fuse.name} carries {fuse.times:.1f} times its rating{low} and"
    if fuse.seconds is not None:
        return f"{carries} opens, within {_within(fuse.seconds)} ({fuse.speed.value})"
    return f"{carries} {'holds for an hour' if fuse.holds else 'may or may not open'}"


def _within(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms" if seconds < 1 else lasting(seconds)


def _above(seconds: float) -> str:
    if math.isinf(seconds):
        return f"something stays above {TOUCH} until it is discharged by hand"
    return f"something stays above {TOUCH} for {lasting(seconds)}"


def lasting(seconds: float) -> str:
    """``12 s``, ``7 min``, ``3 h``; ``no time`` and ``as long as one waits`` at the ends."""
    if math.isinf(seconds):
        return "as long as one waits"
    if seconds <= 0:
        return "no time"
    if seconds < 120:
        return f"{max(seconds, 1):.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.0f} h"


def _lists(console: Console, document: Document, found: Sweep) -> None:
    blown = [o for o in found.harmless if not o.lasts]
    quiet = [o for o in found.harmless if o.lasts]
    for words, some in ((EARTHED, found.earthed), (BLOWN, blown), (QUIET, quiet)):
        if some:
            say(console)
            say(console, words, "bold")
            paragraph(console, clean(", ".join(_names(some))), 2)
    if document.not_judged:
        say(console)
        say(console, "Not judged", "bold")
        for item in document.not_judged:
            paragraph(console, clean(item.reason), 2)


def _names(outcomes: Iterable[Outcome]) -> list[str]:
    """The faults in the order of their parts' names."""
    return sorted(o.fault.name for o in outcomes)


def _sign(console: Console) -> None:
    say(console)
    for role in ("reviewed by", "checked by", "approved by"):
        say(console, f"{role:<12}{'_' * 36}  date {'_' * 14}")
