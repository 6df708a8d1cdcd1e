"""``coldcheck faults``: every single fault of a drawing, and what is then over its limit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.drawn import drawn
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, to_file, working
from coldcheck.cli.reports import (
    deliver,
    refuse_overwriting,
    rendered,
    wanted_reports,
    write,
)
from coldcheck.cli.review import failure
from coldcheck.files.places import where

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from coldcheck.bench.faults.faults import Sweep
    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.reports import Report
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.verdict.ruling import Ruling

SHEETS = (".html", ".csv")
"""What the sheet to sign may end in."""


def run(options: Namespace) -> int:
    """Go through the faults, report, and return the exit status."""
    from coldcheck.bench.faults.faults import as_review, sweep
    from coldcheck.verdict.document.build import document_of
    from coldcheck.verdict.engine import review_drawing
    from coldcheck.verdict.ruling import Gate, ruled

    reports = wanted_reports(options.report, options.output)
    refuse_overwriting(reports, [options.file])
    _refuse_sheet(options)
    drawing = drawn(options.file)
    gate = Gate.of(drawing.settings, options.gate)
    if drawing.circuit is None:
        review = review_drawing(drawing.drawing, None, drawing.settings)
        deliver(reports, [ruled(document_of(review), gate)])
        return UNREADABLE
    some = _wanted(drawing.circuit, options.part)
    with working("each part open and shorted in turn"):
        found = sweep(drawing.circuit, some)
    ruling = ruled(document_of(as_review(drawing.drawing, drawing.circuit, found)), gate)
    write([(r, _rendered(r, ruling, found)) for r in reports])
    if options.sheet is not None and not isinstance(found, str):
        _write_sheet(found, options.sheet)
    return failure([ruling.document], ()) or (FOUND if ruling.stops else OK)


def _refuse_sheet(options: Namespace) -> None:
    """Raise AskedWrongly where the sheet has no form, or would overwrite the drawing."""
    if options.sheet is None:
        return
    if Path(options.sheet).suffix.lower() not in SHEETS:
        raise AskedWrongly(f"the sheet {options.sheet} is neither .html nor .csv")
    if where(Path(options.sheet)) == where(Path(options.file)):
        raise AskedWrongly(f"the sheet would overwrite the drawing {options.file}")


def _write_sheet(found: Sweep, file: str) -> None:
    from coldcheck.report.review import faults_sheet

    csv = Path(file).suffix.lower() == ".csv"
    to_file(faults_sheet.as_csv(found) if csv else faults_sheet.html(found), file)


def _wanted(circuit: Circuit, parts: Sequence[str]) -> list[Fault] | None:
    """The faults of the named parts; all where none is named. Raises AskedWrongly."""
    from coldcheck.bench.faults.listing import every_fault, owners

    if not parts:
        return None
    every = every_fault(circuit)
    for part in parts:
        if not any(part in owners(circuit, fault) for fault in every):
            raise AskedWrongly(f"no part of {circuit.drawing.file} that can fail is called {part}")
    return [fault for fault in every if set(parts) & owners(circuit, fault)]


def _rendered(report: Report, ruling: Ruling, found: Sweep | str) -> str:
    for_file = report.file is not None
    if report.form != "text" or isinstance(found, str):
        return rendered(report.form, [ruling], for_file=for_file)
    from coldcheck.report.review import faults_table

    return console_text(
        lambda console: faults_table.render(ruling, found, console), for_file=for_file
    )
