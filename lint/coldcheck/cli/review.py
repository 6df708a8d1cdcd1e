"""``coldcheck review``: findings with evidence and a verdict, over one drawing or many."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.output import console_text, to_file, to_stdout

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Iterator

    from rich.console import Console

    from coldcheck.rules.model import Review


def run(options: Namespace) -> int:
    """Review, report, and return the exit status."""
    drawings = wanted(options.files)
    if options.output is not None:
        _refuse_overwriting(options.output, drawings)
    reviews = [review_one(item) for item in _watched(drawings)]
    text = _report(reviews, options.report, options.gate, for_file=options.output is not None)
    if options.output is None:
        to_stdout(text)
    else:
        to_file(text, options.output)
    return status(reviews, options.gate)


def status(reviews: Iterable[Review], gate: str) -> int:
    """2 when any drawing could not be read, else 1 when any fails, else 0."""
    verdicts = {r.verdict(gate) for r in reviews}
    if "unreadable" in verdicts:
        return UNREADABLE
    return FOUND if "fail" in verdicts else OK


def review_one(item: Wanted) -> Review:
    """Review one drawing; one that cannot be opened becomes an unreadable review."""
    from coldcheck.rules.engine import review_file

    if item.missing:
        return unopened(item.file, item.missing)
    try:
        return review_file(Path(item.file))
    except OSError as error:
        return unopened(item.file, error.strerror or str(error))
    except Exception as error:
        error.add_note(f"while reviewing {item.file}")
        raise


def unopened(file: str, reason: str) -> Review:
    """The review of a drawing that could not even be opened."""
    from coldcheck.drawing.model import Span
    from coldcheck.rules.model import Finding, Review

    finding = Finding(
        rule="drawing.unopened",
        level="notice",
        state="drawing",
        at=(),
        span=Span(file, 1, 1, 2),
        message=f"The drawing could not be opened: {reason}.",
        remedy="Check the name of the file and whether it may be read.",
        certainty="certain",
    )
    return Review(file, "", None, (finding,), (), {}, (), readable=False)


def _report(reviews: list[Review], form: str, gate: str, *, for_file: bool) -> str:
    if form == "json":
        from coldcheck.report import json_report

        return json_report.render(reviews, gate)
    return console_text(lambda console: _text(console, reviews, gate), for_file=for_file)


def _text(console: Console, reviews: list[Review], gate: str) -> None:
    from coldcheck.report import text
    from coldcheck.report.lines import say

    for number, review in enumerate(reviews):
        if number:
            say(console)
            say(console)
        text.render(review, console, gate, caution=False)
    if len(reviews) > 1:
        say(console)
        say(console, text.summary(reviews, gate))
    text.closing(console)


def _watched(drawings: list[Wanted]) -> Iterator[Wanted]:
    """The drawings, with progress on stderr when there are several and someone looks."""
    if len(drawings) < 2 or sys.stderr is None or not sys.stderr.isatty():
        yield from drawings
        return
    from rich.console import Console
    from rich.progress import track

    watched = track(drawings, "reviewing", console=Console(stderr=True), transient=True)
    yield from watched


def _refuse_overwriting(output: str, drawings: list[Wanted]) -> None:
    target = Path(output).resolve()
    if any(Path(d.file).resolve() == target for d in drawings):
        raise AskedWrongly(f"--output would overwrite the drawing {output}; nothing was written")
