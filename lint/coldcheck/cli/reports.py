"""Which reports are wanted, and where they go: ``--report sarif=review.sarif --report text``."""

from __future__ import annotations

import os
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FORMATS
from coldcheck.cli.failure import AskedWrongly, full
from coldcheck.cli.output import console_text, to_file, to_stdout
from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console

    from coldcheck.verdict.ruling import Ruling


PICTURED = frozenset({"html"})
"""The forms of report that show the circuit."""


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


def deliver(reports: Sequence[Report], rulings: Sequence[Ruling]) -> tuple[str, ...]:
    """Make all reports, then write them; a sentence for each that could not be made as asked.

    A drawing that a report cannot be made of has a remark in its place there.
    """
    made: list[tuple[Report, str]] = []
    lost: list[str] = []
    for report in reports:
        try:
            text, without = _made(report, rulings)
            made.append((report, text))
            lost += [f"{file}: left out of the {report.form} report" for file in without]
        except Exception as error:
            if os.environ.get("COLDCHECK_DEBUG") or full(error):
                raise
            lost.append(f"there is no {report.form} report: {type(error).__name__}: {error}")
    write(made)
    return tuple(lost)


def _made(report: Report, rulings: Sequence[Ruling]) -> tuple[str, tuple[str, ...]]:
    """The report as text, and the drawings that had to be left out of it."""

    def of(some: Sequence[Ruling]) -> str:
        return rendered(report.form, some, for_file=report.file is not None)

    try:
        return of(rulings), ()
    except Exception as error:
        if os.environ.get("COLDCHECK_DEBUG") or full(error):
            raise
    kept, lost = [], []
    for ruling in rulings:
        try:
            of([ruling])
            kept.append(ruling)
        except Exception as error:
            kept.append(_stand_in(ruling, error))
            lost.append(ruling.document.file)
    return of(kept), tuple(lost)


def _stand_in(ruling: Ruling, error: Exception) -> Ruling:
    """What is reported of a drawing in place of what cannot be."""
    from coldcheck.cli.fallen import without_review
    from coldcheck.verdict.document.build import document_of
    from coldcheck.verdict.ruling import ruled

    return ruled(document_of(without_review(ruling.document.file, error)), ruling.gate)


def write(made: Sequence[tuple[Report, str]]) -> None:
    """Write reports that are all made: the files first, then what goes to the output."""
    for report, text in made:
        if report.file is not None:
            to_file(text, report.file)
    for report, text in made:
        if report.file is None:
            to_stdout(text)


def rendered(form: str, rulings: Sequence[Ruling], *, for_file: bool) -> str:
    """One report as text."""
    if form == "terse":
        from coldcheck.report.review import terse

        return terse.render(rulings)
    if form == "json":
        from coldcheck.report.review import json_report

        return json_report.render(rulings)
    if form == "sarif":
        from coldcheck.report.review import sarif

        return sarif.render(rulings)
    if form == "junit":
        from coldcheck.report.review import junit

        return junit.render(rulings)
    if form == "annotations":
        from coldcheck.report.review import annotations

        return annotations.render(rulings)
    if form == "html":
        from coldcheck.report.review import page

        return page.render(rulings)
    return console_text(lambda console: _text(console, rulings), for_file=for_file)


def _text(console: Console, rulings: Sequence[Ruling]) -> None:
    from coldcheck.report.review import text
    from coldcheck.report.shared.lines import say

    for number, ruling in enumerate(rulings):
        if number:
            say(console)
            say(console)
        text.render(ruling, console, caution=False)
    if len(rulings) > 1:
        say(console)
        say(console, text.summary(rulings))
    text.closing(console)
