"""``coldcheck review``: findings with evidence and a verdict, over one drawing or many."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE
from coldcheck.cli.configured import settings_of, show_settings
from coldcheck.cli.failure import PackageFailed, failure_text
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.reports import deliver, refuse_overwriting, wanted_reports
from coldcheck.cli.standing import ledger_of, say_gone, settled, update

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Iterator

    from coldcheck.rules.model import NotJudged, Review
    from coldcheck.settings.model import Settings

# How coldcheck.rules.engine begins the reason of what broke down; a test holds them together.
_BROKEN = ("the rule failed", "the solver failed", "state warm not solved: the solver failed")
# How coldcheck.rules.added names the remarks on a package as a whole.
_PACKAGES = "packages"


def run(options: Namespace) -> int:
    """Review, report, and return the exit status."""
    reports = wanted_reports(options.report, options.output)
    drawings = wanted(options.files)
    settings = settings_of(item.file for item in drawings)
    if options.show_settings:
        return show_settings(drawings, settings, options.gate)
    refuse_overwriting(reports, (d.file for d in drawings))
    ledger = ledger_of(options)
    pairs = zip(_watched(drawings), settings, strict=True)
    reviews = [review_one(item, own) for item, own in pairs]
    if ledger is not None:
        balance = settled(ledger, reviews)
        reviews = list(balance.reviews)
        if options.update_ledger:
            update(ledger, balance, options.gate)
            reviews = list(settled(ledger_of(options) or ledger, reviews).reviews)
        else:
            say_gone(ledger, balance)
    deliver(reports, reviews, options.gate)
    return _failure(reviews) or status(reviews, options.gate)


def status(reviews: Iterable[Review], gate: str | None) -> int:
    """2 when any drawing could not be read, else 1 when any fails, else 0."""
    verdicts = {r.verdict(gate) for r in reviews}
    if "unreadable" in verdicts:
        return UNREADABLE
    return FOUND if "fail" in verdicts else OK


def _failure(reviews: Iterable[Review]) -> int:
    """3 when a rule or the solver broke down inside a review: its silence is no verdict."""
    broken = [
        (f"{review.file}: {item.rule}: {item.reason}", _foreign(item))
        for review in reviews
        for item in review.not_judged
        if item.reason.startswith(_BROKEN) or _package_failed(item)
    ]
    for foreign, error in ((False, RuntimeError), (True, PackageFailed)):
        lines = [line for line, theirs in broken if theirs is foreign]
        if lines:
            print(failure_text(error("; ".join(lines))), file=sys.stderr)
    return FAILED if broken else OK


def _foreign(item: NotJudged) -> bool:
    """Whether what broke down came with another package."""
    return _package_failed(item) or "; it comes with " in item.reason


def _package_failed(item: NotJudged) -> bool:
    return item.rule == _PACKAGES and item.reason.startswith("the ")


def review_one(item: Wanted, settings: Settings) -> Review:
    """Review one drawing; a folder or pattern without drawings is an unreadable one."""
    from coldcheck.rules.engine import review_file

    if item.missing:
        return unopened(item.file, item.missing)
    try:
        return review_file(Path(item.file), None, settings)
    except Exception as error:
        error.add_note(f"while reviewing {item.file}")
        raise


def unopened(file: str, reason: str) -> Review:
    """The review that stands for a folder or a pattern that gave no drawing."""
    from coldcheck.drawing.model import Span
    from coldcheck.rules.model import Finding, Review

    finding = Finding(
        rule="drawing.nothing-found",
        level="notice",
        state="drawing",
        at=(),
        span=Span(file, 1, 1, 2),
        message=f"there is no drawing to review: {reason}",
        remedy="check the name; drawings end in .tube",
        certainty="certain",
    )
    return Review(file, "", None, (finding,), (), {}, (), readable=False)


def _watched(drawings: list[Wanted]) -> Iterator[Wanted]:
    """The drawings, with progress on stderr when there are several and someone looks."""
    if len(drawings) < 2 or sys.stderr is None or not sys.stderr.isatty():
        yield from drawings
        return
    from rich.console import Console
    from rich.progress import track

    watched = track(drawings, "reviewing", console=Console(stderr=True), transient=True)
    yield from watched
