"""Readings and diagnosis for a terminal, eighty columns wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.report.diagnosis.words import (
    CAUTION,
    LIMITS,
    LIVE,
    NEARLY,
    NO_MORE,
    NOTHING_SHOWN,
    UNEXPLAINED,
    checks,
    contradicting,
    group_text,
    lost,
    misread,
    next_text,
    number,
    others,
    span,
    standing,
    supporting,
    unseen_text,
    verdict,
)
from coldcheck.report.shared.conditions import paragraph_of
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rich.console import Console

    from coldcheck.bench.diagnosis.account import Account, Leading
    from coldcheck.bench.diagnosis.judged import Judged
    from coldcheck.bench.diagnosis.ranked import Next

HEADINGS = ("point", "kind", "state", "read", "should be", "")
TOLD = 5
"""Groups of suspects that are told."""


def render(account: Account, console: Console) -> None:
    """Print the readings, the suspects, the next points, the limits and the caution."""
    heading(account, console)
    if account.judged:
        readings(account.judged, console)
    suspects(account, console)
    if account.leading and not account.following:
        say(console)
        paragraph(console, NO_MORE)
    following(account.following, console)
    _left_out(account, console)
    closing(console)


def heading(account: Account, console: Console) -> None:
    """Print whose readings these are, and the warning of a live gnd."""
    paragraph(console, clean(account.title or account.file), style="bold")
    paragraph(console, f"Readings against the drawing {clean(account.file)}")
    if account.conditions is not None:
        paragraph(console, clean(paragraph_of(account.conditions)))
    if account.live:
        paragraph(console, LIVE, style="bold")


def readings(judged: Sequence[Judged], console: Console) -> None:
    """Print each reading against its range."""
    table = columns(*HEADINGS[:3], *HEADINGS[3:], left=3)
    table.columns[-1].justify = "left"
    for one in judged:
        r = one.reading
        cells = (r.point, r.kind, "off" if r.kind == "ohm" else r.state)
        figures = (number(r.kind, r.value), span(one), verdict(one))
        table.add_row(*(Text(clean(c)) for c in (*cells, *figures)))
    say(console)
    show(console, table)
    paragraph(
        console,
        "the range is the usual spread of parts, tubes and mains with the meter's loading and "
        "accuracy; no bound",
        2,
    )
    for one in judged:
        if one.meant is not None:
            paragraph(console, clean(misread(one)), 2)
        if one.reason:
            paragraph(console, f"{clean(one.reading.point)}: {clean(one.reason)}", 2)


def suspects(account: Account, console: Console) -> None:
    """Print the groups of suspects with what speaks for and against each."""
    say(console)
    say(console, "Diagnosis", "bold")
    if account.reason:
        paragraph(console, f"none: {clean(account.reason)}", 2)
    elif not account.leading:
        paragraph(console, "no readings to go by yet", 2)
        return
    elif account.leading[0].sound:
        paragraph(console, NEARLY if account.outside else NOTHING_SHOWN, 2)
    elif not account.explained:
        paragraph(console, UNEXPLAINED, 2)
    for place, leading in enumerate(account.leading[:TOLD], 1):
        _group(place, leading, console, explained=account.explained)


def _group(place: int, leading: Leading, console: Console, *, explained: bool) -> None:
    share = standing(leading.members, explained=explained)
    said = f"{place}. {clean(group_text(leading.members))} - {share}"
    say(console)
    paragraph(console, said, 2, "bold" if place == 1 else "")
    entries(console, _details(leading), 5, 12)


def _details(leading: Leading) -> Iterator[tuple[str, str]]:
    lines = (
        ("fits", supporting(leading)),
        ("against", contradicting(leading)),
        ("among them" if leading.sound else "as well", others(leading)),
        ("reference", lost(leading)),
        ("check", checks(leading)),
    )
    for label, text in lines:
        if text:
            yield label, clean(text)


def following(points: Sequence[Next], console: Console) -> None:
    """Print the points to measure next."""
    if not points:
        return
    say(console)
    say(console, "Measure next: what separates the suspects best", "bold")
    entries(console, ((clean(p.channel.point), clean(next_text(p))) for p in points), 2, 14)


def _left_out(account: Account, console: Console) -> None:
    say(console)
    if account.unseen:
        paragraph(console, clean(unseen_text(account)))
    if account.unused:
        names = ", ".join(f"{r.point} {r.kind} ({r.state})" for r in account.unused)
        paragraph(console, f"Judged, but no part of the diagnosis: {clean(names)}.")
    for words, why in account.unsolved[:TOLD]:
        paragraph(console, f"Not worked out: {clean(words)}: {clean(why)}.")
    if len(account.unsolved) > TOLD:
        paragraph(console, f"Not worked out either: {len(account.unsolved) - TOLD} more.")
    paragraph(console, LIMITS)


def closing(console: Console) -> None:
    """Print the caution."""
    say(console)
    paragraph(console, CAUTION)
