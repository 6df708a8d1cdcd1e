"""``coldcheck draw``: the circuit drawn back from its text, with volts and findings in it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK, UNREADABLE
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import to_file, to_stdout
from coldcheck.files.places import where

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.picture.model import Picture
    from coldcheck.settings.model import Settings

BINARY = frozenset({"pdf", "png"})
"""Forms that are no text."""


def run(options: Namespace) -> int:
    """Write the picture; what could not be read is said, and the rest drawn all the same."""
    from coldcheck.drawing import read_drawing
    from coldcheck.settings.apply import circuit_of

    if options.output is not None and where(Path(options.output)) == where(Path(options.file)):
        raise AskedWrongly(f"the picture would overwrite the drawing {options.file}")
    if options.output is None and options.report in BINARY:
        raise AskedWrongly(f"a picture as {options.report} goes to a file: give --output FILE")
    (settings,) = settings_of([options.file])
    drawing = read_drawing(options.file)
    circuit = circuit_of(drawing, settings)
    broken = len(drawing.problems) + len(circuit.problems)
    picture = _picture(drawing, circuit, settings, options, broken)
    _write(picture, options)
    if broken:
        print(f"{options.file}: not all of it could be read; see coldcheck review", file=sys.stderr)
    return UNREADABLE if broken else OK


def _picture(
    drawing: Drawing, circuit: Circuit, settings: Settings, options: Namespace, broken: int
) -> Picture:
    from coldcheck.picture.board import TangleError
    from coldcheck.picture.draw import picture_of
    from coldcheck.picture.findings import marked
    from coldcheck.picture.only import only

    volts, said = _volts(circuit, options) if options.volts and not broken else ({}, "")
    found = []
    if options.findings and not broken:
        from coldcheck.verdict.engine import review_drawing

        found = list(review_drawing(drawing, None, settings).findings)
    if broken:
        said = "not all of it could be read"
    try:
        whole = picture_of(circuit, volts, said, marked(circuit, found))
    except TangleError as error:
        raise AskedWrongly(f"{options.file} cannot be laid out: {error}") from error
    if options.only is None:
        return whole
    chosen = only(whole, options.only)
    if chosen is None:
        raise AskedWrongly(f"there is no panel and no part {options.only} in {options.file}")
    return chosen


def _volts(circuit: Circuit, options: Namespace) -> tuple[Mapping[str, str], str]:
    """The words for the volts of each net in the state asked for, and what is said of them."""
    from coldcheck.picture.volts import volts_of
    from coldcheck.solve import solve_state
    from coldcheck.solve.states import states_of

    known = [s.name for s in states_of(circuit)]
    if options.state not in known:
        raise AskedWrongly(f"there is no state {options.state}; the drawing has {', '.join(known)}")
    solution = solve_state(circuit, options.state)
    if not solution.converged:
        return {}, f"no volts: {solution.reason}"
    return volts_of(solution.waves), f"volts to gnd, {options.state}"


def _write(picture: Picture, options: Namespace) -> None:
    from coldcheck.picture.model import Standard
    from coldcheck.report.picture import html, svg

    standard = Standard(options.symbols)
    if options.report in BINARY:
        to_file(_converted(svg.render(picture, standard), options.report), options.output)
        return
    form = html if options.report == "html" else svg
    text = form.render(picture, standard)
    to_stdout(text) if options.output is None else to_file(text, options.output)


def _converted(drawn: str, form: str) -> bytes:
    from coldcheck.report.picture.converted import NoConverterError, to_pdf, to_png

    try:
        return to_pdf(drawn) if form == "pdf" else to_png(drawn)
    except NoConverterError as problem:
        raise AskedWrongly(str(problem)) from problem
