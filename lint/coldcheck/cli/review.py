"""``coldcheck review``: findings with evidence and a verdict, over one drawing or many."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE, many
from coldcheck.cli.cache import Cache
from coldcheck.cli.configured import settings_of, show_settings
from coldcheck.cli.failure import PackageFailed, failure_text
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.many import Order
from coldcheck.cli.reports import costly, deliver, look_of, refuse_overwriting, wanted_reports
from coldcheck.cli.standing import ledger_of, say_gone, settled, update
from coldcheck.cli.touched import touched_since

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Sequence

    from coldcheck.cli.reports import Report
    from coldcheck.cli.standing import Ledger
    from coldcheck.report.review.record import Record
    from coldcheck.verdict.review import Review


def run(options: Namespace) -> int:
    """Review, report, and return the exit status."""
    reports = wanted_reports(options.report, options.output)
    drawings = wanted(options.files)
    settings = settings_of(item.file for item in drawings)
    if options.show_settings:
        return show_settings(drawings, settings, options.gate)
    refuse_overwriting(reports, (d.file for d in drawings))
    if options.touched_since is not None:
        drawings = touched_since(options.touched_since, drawings, settings)
    ledger = ledger_of(options)
    records = _records(drawings, reports, options)
    if ledger is not None:
        records = _balanced(ledger, records, options)
    lost = deliver(reports, records, options.gate)
    reviews = [r.review for r in records]
    return failure(reviews, lost) or status(reviews, options.gate)


def _records(
    drawings: Sequence[Wanted], reports: Sequence[Report], options: Namespace
) -> list[Record]:
    """The record of each drawing; a folder or pattern that gave none has one too."""
    from coldcheck.report.review.record import record_of

    order = Order(costly(reports), look_of(reports), date.today(), options.gate)
    cache = Cache(None) if options.no_cache else Cache.of_user()
    there = [d.file for d in drawings if not d.missing]
    made = iter(many.records(there, order, cache, options.jobs, _watched))
    return [
        record_of(
            unopened(d.file, f"there is no drawing to review: {d.missing}"),
            order.wanted,
            order.look,
        )
        if d.missing
        else next(made)
        for d in drawings
    ]


def _balanced(ledger: Ledger, records: list[Record], options: Namespace) -> list[Record]:
    """The records with what stands in the ledger marked; the ledger rewritten when asked."""
    reviews = [r.review for r in records]
    balance = settled(ledger, reviews)
    if options.update_ledger:
        update(ledger, balance, options.gate)
        balance = settled(ledger_of(options) or ledger, list(balance.reviews))
    else:
        say_gone(ledger, balance)
    return [replace(r, review=v) for r, v in zip(records, balance.reviews, strict=True)]


def status(reviews: Iterable[Review], gate: str | None) -> int:
    """2 when any drawing could not be read, else 1 when any fails, else 0."""
    verdicts = {r.verdict(gate) for r in reviews}
    if "unreadable" in verdicts:
        return UNREADABLE
    return FOUND if "fail" in verdicts else OK


def failure(reviews: Iterable[Review], lost: Iterable[str]) -> int:
    """3 when something broke down inside a review or a report: its silence is no verdict."""
    broken = [
        (f"{review.file}: {item.rule}: {item.reason}", item.kind.foreign)
        for review in reviews
        for item in review.not_judged
        if item.kind.broken
    ]
    broken += [(line, False) for line in lost]
    for foreign, error in ((False, RuntimeError), (True, PackageFailed)):
        lines = [line for line, theirs in broken if theirs is foreign]
        if lines:
            print(failure_text(error("; ".join(lines))), file=sys.stderr)
    return FAILED if broken else OK


def unopened(
    file: str,
    reason: str,
    rule: str = "drawing.nothing-found",
    remedy: str = "check the name; drawings end in .tube",
) -> Review:
    """The review that stands for what gave none: a folder without drawings, one given up."""
    from coldcheck.drawing.model import Span
    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

    finding = Finding(
        rule=rule,
        level="notice",
        state="drawing",
        at=(),
        span=Span(file, 1, 1, 2),
        message=reason,
        remedy=remedy,
        certainty="certain",
    )
    return Review(file, "", None, (finding,), (), {}, (), readable=False)


def _watched(made: Iterable[Record], count: int) -> Iterable[Record]:
    """The records, with progress on stderr when there are several and someone looks."""
    if count < 2 or sys.stderr is None or not sys.stderr.isatty():
        return made
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    return track(made, "reviewing", total=count, console=console, transient=True)
