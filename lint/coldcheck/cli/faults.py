"""``coldcheck faults``: every single fault of a drawing, and what is then over its limit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.drawn import drawn
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text
from coldcheck.cli.reports import (
    deliver,
    recorded,
    refuse_overwriting,
    rendered,
    wanted_reports,
    write,
)
from coldcheck.cli.review import failure

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from coldcheck.bench.faults.faults import Sweep
    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.reports import Report
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.verdict.review import Review


def run(options: Namespace) -> int:
    """Go through the faults, report, and return the exit status."""
    from coldcheck.bench.faults.faults import as_review, sweep

    reports = wanted_reports(options.report, options.output)
    refuse_overwriting(reports, [options.file])
    drawing = drawn(options.file)
    if drawing.circuit is None:
        from coldcheck.verdict.engine import review_drawing

        review = review_drawing(drawing.drawing, None, drawing.settings)
        deliver(reports, [recorded(review, reports)], options.gate)
        return UNREADABLE
    found = sweep(drawing.circuit, _wanted(drawing.circuit, options.part))
    review = as_review(drawing.drawing, drawing.circuit, found)
    review = replace(review, gate=drawing.settings.gate)
    write([(r, _rendered(r, review, found, options.gate)) for r in reports])
    return failure([review], ()) or (FOUND if review.verdict(options.gate) == "fail" else OK)


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


def _rendered(report: Report, review: Review, found: Sweep | str, gate: str | None) -> str:
    for_file = report.file is not None
    if report.form != "text" or isinstance(found, str):
        return rendered(report.form, [recorded(review, [report])], gate, for_file=for_file)
    from coldcheck.report.review import faults_table as faults_text

    return console_text(
        lambda console: faults_text.render(review, found, console, gate), for_file=for_file
    )
