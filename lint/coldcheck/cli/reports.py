"""Which reports are wanted, and where they go: ``--report sarif=review.sarif --report text``."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FORMATS
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, to_file, to_stdout
from coldcheck.files.places import where

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console

    from coldcheck.report.review.record import Look, Record
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Report:
    """One report: its form, and the file it goes to (``None`` for stdout)."""

    form: str
    file: str | None


def wanted_reports(asked: Sequence[str] | None, output: str | None) -> tuple[Report, ...]:
    """What the options ask for; raises AskedWrongly where that cannot be done.

    ``output`` is the file of the one report that names none itself.
    """
    reports = [_one(text) for text in asked or ("text",)]
    loose = [n for n, r in enumerate(reports) if r.file is None]
    if len(loose) > 1:
        raise AskedWrongly("only one report can go to the output; give the others a FORM=FILE")
    if output is not None:
        if not loose:
            raise AskedWrongly("--output has no report to write: each --report names its file")
        reports[loose[0]] = Report(reports[loose[0]].form, output)
    files = [where(Path(r.file)) for r in reports if r.file is not None]
    if len(set(files)) < len(files):
        raise AskedWrongly("two reports would go to the same file")
    return tuple(reports)


def _one(text: str) -> Report:
    form, named, file = text.partition("=")
    if form not in FORMATS:
        near = get_close_matches(form, FORMATS, n=1)
        hint = f"; did you mean {near[0]}" if near else ""
        raise AskedWrongly(f"there is no report {form}{hint}; there are {', '.join(FORMATS)}")
    if named and not file:
        raise AskedWrongly(f"--report {form}= names no file")
    return Report(form, file or None)


def refuse_overwriting(reports: Iterable[Report], drawings: Iterable[str]) -> None:
    """Raise AskedWrongly where a report would replace a drawing."""
    targets = {where(Path(r.file)): r.file for r in reports if r.file is not None}
    for drawing in drawings:
        target = targets.get(where(Path(drawing)))
        if target is not None:
            raise AskedWrongly(f"the report would overwrite the drawing {target}")


def recorded(review: Review, reports: Sequence[Report]) -> Record:
    """The record of a review for these reports."""
    from coldcheck.report.review.record import record_of

    return record_of(review, costly(reports), look_of(reports))


def deliver(
    reports: Sequence[Report], records: Sequence[Record], gate: str | None
) -> tuple[str, ...]:
    """Make all reports, then write them; a sentence for each that could not be made as asked.

    A drawing that a report cannot be made of has a remark in its place there.
    """
    made: list[tuple[Report, str]] = []
    lost: list[str] = []
    for report in reports:
        try:
            text, without = _made(report, records, gate)
            made.append((report, text))
            lost += [f"{file}: left out of the {report.form} report" for file in without]
        except Exception as error:
            if os.environ.get("COLDCHECK_DEBUG"):
                raise
            lost.append(f"there is no {report.form} report: {type(error).__name__}: {error}")
    write(made)
    return tuple(lost)


def _made(
    report: Report, records: Sequence[Record], gate: str | None
) -> tuple[str, tuple[str, ...]]:
    """The report as text, and the drawings that had to be left out of it."""

    def of(some: Sequence[Record]) -> str:
        return rendered(report.form, some, gate, for_file=report.file is not None)

    try:
        return of(records), ()
    except Exception:
        if os.environ.get("COLDCHECK_DEBUG"):
            raise
    kept, lost = [], []
    for record in records:
        try:
            of([record])
            kept.append(record)
        except Exception as error:
            kept.append(_stand_in(record, error, report.form))
            lost.append(record.review.file)
    return of(kept), tuple(lost)


def _stand_in(record: Record, error: Exception, form: str) -> Record:
    """What is reported of a drawing in place of what cannot be."""
    from coldcheck.cli.fallen import without_review
    from coldcheck.report.review.record import Look, record_of

    left = without_review(record.review.file, error)
    return record_of(left, costly([Report(form, None)]), Look())


def write(made: Sequence[tuple[Report, str]]) -> None:
    """Write reports that are all made: the files first, then what goes to the output."""
    for report, text in made:
        if report.file is not None:
            to_file(text, report.file)
    for report, text in made:
        if report.file is None:
            to_stdout(text)


def costly(reports: Iterable[Report]) -> frozenset[str]:
    """What of the records these reports need made: text, json."""
    needs = {"text": "text", "html": "text", "json": "json"}
    return frozenset(needs[r.form] for r in reports if r.form in needs)


def look_of(reports: Iterable[Report]) -> Look:
    """The look of the console that the text report goes to."""
    from rich.console import Console

    from coldcheck.report.review.record import Look

    shown = any(r.form == "text" and r.file is None for r in reports)
    return Look.of(Console()) if shown and sys.stdout is not None else Look()


def rendered(form: str, records: Sequence[Record], gate: str | None, *, for_file: bool) -> str:
    """One report as text."""
    reviews = [r.review for r in records]
    if form == "json":
        from coldcheck.report.review import json_report

        return json_report.of_documents(reviews, [r.document or {} for r in records], gate)
    if form == "sarif":
        from coldcheck.report.review import sarif

        return sarif.render(reviews, kinds={r.review.file: r.kinds for r in records})
    if form == "junit":
        from coldcheck.report.review import junit

        return junit.render(reviews, gate)
    if form == "annotations":
        from coldcheck.report.review import annotations

        return annotations.render(reviews, gate)
    if form == "html":
        from coldcheck.report.review import page

        return page.render(reviews, [r.tables for r in records], gate)
    return console_text(lambda console: _text(console, records, gate), for_file=for_file)


def _text(console: Console, records: Sequence[Record], gate: str | None) -> None:
    from coldcheck.report.review import text
    from coldcheck.report.shared.lines import say

    for number, record in enumerate(records):
        if number:
            say(console)
            say(console)
        text.render(record.review, console, gate, caution=False, made=record.tables)
    if len(records) > 1:
        say(console)
        say(console, text.summary([r.review for r in records], gate))
    text.closing(console)
