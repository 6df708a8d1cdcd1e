"""``coldcheck faults``: every single fault of a drawing, and what is then over its limit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
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

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from coldcheck.bench.faults import Sweep
    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.reports import Report
    from coldcheck.rules.model import Review
    from coldcheck.solve.fault import Fault


def run(options: Namespace) -> int:
    """Go through the faults, report, and return the exit status."""
    from coldcheck.bench.faults import as_review, sweep
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import read_drawing

    reports = wanted_reports(options.report, options.output)
    refuse_overwriting(reports, [options.file])
    drawing = read_drawing(Path(options.file))
    circuit = None if drawing.problems else build_circuit(drawing)
    if circuit is None or circuit.problems:
        from coldcheck.rules.engine import review_drawing

        deliver(reports, [recorded(review_drawing(drawing), reports)], options.gate)
        return UNREADABLE
    found = sweep(circuit, _wanted(circuit, options.part))
    review = as_review(drawing, circuit, found)
    write([(r, _rendered(r, review, found, options.gate)) for r in reports])
    return FOUND if review.verdict(options.gate) == "fail" else OK


def _wanted(circuit: Circuit, parts: Sequence[str]) -> list[Fault] | None:
    """The faults of the named parts; all where none is named. Raises AskedWrongly."""
    from coldcheck.bench.fault_list import every_fault, owners

    if not parts:
        return None
    every = every_fault(circuit)
    for part in parts:
        if not any(part in owners(circuit, fault) for fault in every):
            raise AskedWrongly(f"no part of {circuit.drawing.file} that can fail is called {part}")
    return [fault for fault in every if set(parts) & owners(circuit, fault)]


def _rendered(report: Report, review: Review, found: Sweep | str, gate: str) -> str:
    for_file = report.file is not None
    if report.form != "text" or isinstance(found, str):
        return rendered(report.form, [recorded(review, [report])], gate, for_file=for_file)
    from coldcheck.report import faults_text

    return console_text(
        lambda console: faults_text.render(review, found, console, gate), for_file=for_file
    )
