"""``coldcheck compare``: two revisions, and what changed in parts, voltages and findings."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file, to_stdout, working
from coldcheck.cli.revisions import at_revision

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.compare.changes import JudgedComparison
    from coldcheck.drawing.model import Drawing
    from coldcheck.verdict.review import Review


def run(options: Namespace) -> int:
    """Compare, report, and return the exit status: 1 when something new or worse counts."""
    from coldcheck.compare.changes import compare
    from coldcheck.verdict.engine import review_drawing
    from coldcheck.verdict.ruling import Gate

    drawings = _drawings(options)
    own = settings_of(options.files)
    settings = (own[0], own[-1])
    pairs = zip(drawings, settings, strict=True)
    with working("reviewing both"):
        reviews = [review_drawing(drawing, None, held) for drawing, held in pairs]
    unread = [r for r in reviews if not r.readable]
    if unread:
        return _unreadable(unread)
    found = compare(reviews[0], reviews[1], _state(options.state, reviews))
    judged = found.at(Gate.of(settings[1], options.gate))
    text = _report(judged, options)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return FOUND if judged.stops else OK


def _drawings(options: Namespace) -> tuple[Drawing, Drawing]:
    """The two revisions; raises AskedWrongly when they are not two."""
    from coldcheck.drawing import parse_drawing, read_drawing
    from coldcheck.drawing.reader import with_sheets

    if options.rev is None:
        if len(options.files) != 2:
            raise AskedWrongly("compare wants two drawings, or one and --rev OLD NEW")
        old, new = options.files
        return read_drawing(old), read_drawing(new)
    if len(options.files) != 1:
        raise AskedWrongly("--rev compares revisions of one drawing")
    file = options.files[0]
    texts = [at_revision(Path(file), rev) for rev in options.rev]
    old, new = (
        with_sheets(parse_drawing(text, f"{file} at {rev}"), Path(file), partial(_sheet_at, rev))
        for text, rev in zip(texts, options.rev, strict=True)
    )
    return old, new


def _sheet_at(revision: str, path: Path) -> bytes:
    """A sheet as it was at a revision; raises SheetRefused where it was not there."""
    from coldcheck.drawing.sheet_files import SheetRefused

    try:
        return at_revision(path, revision).encode("utf-8")
    except AskedWrongly as error:
        raise SheetRefused(str(error), f"a file of the revision {revision}") from error


def _state(name: str, reviews: list[Review]) -> str:
    for review in reviews:
        if name not in review.solutions:
            known = ", ".join(review.solutions)
            raise AskedWrongly(f"{review.file} has no state {name}; it has {known}")
    return name


def _report(found: JudgedComparison, options: Namespace) -> str:
    from coldcheck.report.pages import comparison

    if options.report == "html":
        return _page(found)
    if options.report == "json":
        return comparison.as_json(found)
    if options.report == "markdown":
        return comparison.markdown(found)
    return console_text(
        lambda console: comparison.render(found, console),
        for_file=options.output is not None,
    )


def _page(found: JudgedComparison) -> str:
    """Both drawn, with the findings that came, went or moved."""
    from coldcheck.compare.pictured import pictured
    from coldcheck.report.pages import comparison_page

    both = found.comparison
    told = {f.fingerprint for change in both.findings for f in (change.old, change.new) if f}
    sides = pictured(both, lambda finding: finding.fingerprint in told)
    return comparison_page.render(found, sides)


def _unreadable(reviews: list[Review]) -> int:
    from coldcheck.report.review import text
    from coldcheck.verdict.document.build import ruling_of

    for ruling in map(ruling_of, reviews):
        show(lambda console, ruling=ruling: text.render(ruling, console))  # type: ignore[misc]
    print("coldcheck: only drawings that can be read can be compared", file=sys.stderr)
    return UNREADABLE
