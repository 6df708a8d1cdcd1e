"""``coldcheck review``: findings with evidence and a verdict, over one drawing or many."""

from __future__ import annotations

import sys
from datetime import date
from typing import TYPE_CHECKING

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE, many
from coldcheck.cli.base import trusted
from coldcheck.cli.cache import Cache
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import PackageFailed, failure_text
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.output import working
from coldcheck.cli.reports import PICTURED, deliver, refuse_overwriting, wanted_reports
from coldcheck.cli.standing import ledger_changed, ledger_of, say_gone, settled, update
from coldcheck.cli.typed import alone

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.cli.base import Base
    from coldcheck.cli.changes import Told
    from coldcheck.cli.reports import Report
    from coldcheck.cli.standing import Ledger
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ledger import Balance
    from coldcheck.verdict.ruling import Gate, Ruling


def run(options: Namespace) -> int:
    """Review, report, and return the exit status."""
    reports = wanted_reports(options.report, options.output)
    alone(options.files, options.using, options.touched_since, options.trusting, options.ledger)
    with trusted(options.trusting, options.files, options.ledger) as base:
        rulings = _reviewed(options, reports, base)
    lost = deliver(reports, rulings)
    return failure([r.document for r in rulings], lost) or status(rulings)


def _reviewed(options: Namespace, reports: Sequence[Report], base: Base | None) -> list[Ruling]:
    """The rulings on the drawings, then those on what the change does to its own review."""
    drawings = _wanted(options)
    said = None
    if base is not None:
        from coldcheck.cli.changes import (
            Told,
            drawings_changed,
            moved_to_looser,
            settings_changed,
            sheets_by_less,
        )  # fmt: skip

        said = Told(base)
        asked = [str(said.base.root)] if options.using else options.files
        drawings = drawings_changed(said, asked, drawings)
    settings = settings_of(d.file for d in drawings)
    refuse_overwriting(reports, (d.file for d in drawings))
    if said is not None:
        settings_changed(said, drawings)
        moved_to_looser(said, drawings)
    if options.touched_since is not None:
        from coldcheck.cli.touched import touched_since

        drawings = touched_since(options.touched_since, drawings, settings)
    ledger = ledger_of(options, base)
    pictured = any(report.form in PICTURED for report in reports)
    documents = _documents(drawings, options, base, pictured=pictured)
    if base is not None:
        from coldcheck.cli.waived import as_waived

        documents = as_waived(base, documents, date.today())
    gates = _gates(settings_of((d.file for d in drawings), base), options.gate)
    if ledger is not None:
        balance = _balanced(ledger, documents, gates, options)
        documents = list(balance.documents)
        if said is not None:
            ledger_changed(said, ledger, balance)
    rulings = _ruled(documents, gates)
    if said is not None:
        sheets_by_less(said, rulings, options.gate)
        rulings += _of_the_change(said)
    return rulings


def _wanted(options: Namespace) -> list[Wanted]:
    if not options.using:
        return wanted(options.files)
    from coldcheck.cli.touched import using

    return using(options)


def _of_the_change(said: Told) -> list[Ruling]:
    from coldcheck.verdict.ruling import USUAL, ruled

    return [ruled(document, USUAL) for document in said.documents()]


def _gates(settings: Iterable[Settings], level: str | None) -> list[Gate]:
    from coldcheck.verdict.ruling import Gate

    return [Gate.of(own, level) for own in settings]


def _ruled(documents: Sequence[Document], gates: Sequence[Gate]) -> list[Ruling]:
    from coldcheck.verdict.ruling import ruled

    return [ruled(found, gate) for found, gate in zip(documents, gates, strict=True)]


def _documents(
    drawings: Sequence[Wanted], options: Namespace, base: Base | None, *, pictured: bool
) -> list[Document]:
    """The document of each drawing; a folder or pattern that gave none has one too."""
    cache = Cache(None) if options.no_cache else Cache.of_user()
    if base is not None and cache.lies_in(base.root):
        line = "the cache lies in the repository, where a change could fill it: it is not used"
        print(f"coldcheck: {line}", file=sys.stderr)
        cache = Cache(None)
    there = [d.file for d in drawings if not d.missing]
    made = iter(
        many.documents(there, date.today(), cache, options.jobs, base, _watched, pictured=pictured)
    )
    return [
        unopened(d.file, f"there is no drawing to review: {d.missing}") if d.missing else next(made)
        for d in drawings
    ]


def _balanced(
    ledger: Ledger, documents: list[Document], gates: Sequence[Gate], options: Namespace
) -> Balance:
    """The documents with what stands in the ledger marked; the ledger rewritten when asked."""
    balance = settled(ledger, documents)
    if options.update_ledger:
        update(ledger, balance, _ruled(balance.documents, gates))
        balance = settled(ledger_of(options) or ledger, documents)
    else:
        say_gone(ledger, balance)
    return balance


def status(rulings: Iterable[Ruling]) -> int:
    """2 when any drawing could not be read, else 1 when any is held up at its gate, else 0."""
    stopped = [r for r in rulings if r.stops]
    if any(not r.document.readable for r in stopped):
        return UNREADABLE
    return FOUND if stopped else OK


def failure(documents: Iterable[Document], lost: Iterable[str]) -> int:
    """3 when something broke down inside a review or a report: its silence is no verdict."""
    broken = [
        (f"{document.file}: {item.rule}: {item.reason}", item.kind.foreign)
        for document in documents
        for item in document.not_judged
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
) -> Document:
    """The document that stands for what gave none: a folder without drawings, one given up."""
    from coldcheck.drawing.model import Span
    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.document.content import Document

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
    return Document(file, "", False, (finding,), (), files=(file,))


def _watched(made: Iterable[Document], count: int) -> Iterable[Document]:
    """The documents, with progress on stderr when someone looks."""
    if sys.stderr is None or not sys.stderr.isatty():
        return made
    if count < 2:
        return _one(made)
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    return track(made, "reviewing", total=count, console=console, transient=True)


def _one(made: Iterable[Document]) -> Iterator[Document]:
    with working("reviewing"):
        yield from made
