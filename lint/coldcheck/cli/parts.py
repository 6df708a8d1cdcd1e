"""``coldcheck parts``: what to buy and what each part must stand; every lead and what it joins."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.drawn import drawn, unreadable
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, to_file, to_stdout
from coldcheck.files.places import where

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.drawn import Drawn


def run(options: Namespace) -> int:
    """Print or write the list; a drawing that cannot be read has none."""
    if options.output is not None and where(Path(options.output)) == where(Path(options.file)):
        raise AskedWrongly(f"the list would overwrite the drawing {options.file}")
    found = drawn(options.file)
    if found.circuit is None:
        return unreadable(found)
    text = _leads(found.circuit, options) if options.wires else _parts(found, options)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _parts(found: Drawn, options: Namespace) -> str:
    """The parts list; the drawing is reviewed for it."""
    from coldcheck.bench.parts.parts import parts_list
    from coldcheck.report.parts import csv, html, text
    from coldcheck.verdict.engine import review_drawing

    listed = parts_list(review_drawing(found.drawing, None, found.settings), found.settings)
    if options.report == "csv":
        return csv.render(listed)
    if options.report == "html":
        return html.render(listed)
    return console_text(
        lambda console: text.render(listed, console), for_file=options.output is not None
    )


def _leads(circuit: Circuit, options: Namespace) -> str:
    from coldcheck.bench.parts.wires import wires
    from coldcheck.report.parts import csv, html, text

    listed, title, file = wires(circuit), circuit.drawing.title, circuit.drawing.file
    if options.report == "csv":
        return csv.render_wires(listed)
    if options.report == "html":
        return html.render_wires(listed, title, file)
    return console_text(
        lambda console: text.render_wires(listed, title, file, console),
        for_file=options.output is not None,
    )
