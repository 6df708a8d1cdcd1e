"""``coldcheck tidy``: the drawing neatly laid out, its meaning unchanged."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.files import wanted
from coldcheck.cli.output import show, to_file, to_stdout
from coldcheck.cli.typed import alone, drawing_of
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.cli.files import Wanted
    from coldcheck.drawing.model import Drawing


def run(options: Namespace) -> int:
    """Print, write back or check; a drawing that cannot be read is left alone (status 2)."""
    alone(options.files, options.save, options.verify)
    files = wanted(options.files, sheets=True)
    if options.save and options.verify:
        raise AskedWrongly("--save and --verify exclude each other")
    if len(files) > 1 and not (options.save or options.verify):
        raise AskedWrongly("several drawings want --save or --verify")
    return max((_none(i) if i.missing else _one(i.file, options) for i in files), default=OK)


def _none(item: Wanted) -> int:
    """Say why there is nothing to lay out."""
    print(clean(f"coldcheck: {item.file}: {item.missing}"), file=sys.stderr)
    return UNREADABLE


def _one(file: str, options: Namespace) -> int:
    from coldcheck.drawing.tidy import tidied

    drawing = drawing_of(file)
    if drawing.problems:
        return _unreadable(file, drawing)
    text = tidied("\n".join(drawing.lines))
    if options.save or options.verify:
        before = reading.drawing(Path(file), MAX_BYTES)
        if before.partition(b"\n")[0].endswith(b"\r"):  # a checkout may end its lines so
            text = text.replace("\n", "\r\n")
        if before == text.encode("utf-8"):
            return OK
        print(f"coldcheck: {file} {'laid out' if options.save else 'is not tidy'}",
              file=sys.stderr)  # fmt: skip
        if options.save:
            to_file(text, file)
            return OK
        return FOUND
    to_stdout(text)
    return OK


def _unreadable(file: str, drawing: Drawing) -> int:
    """Say what cannot be read, as a review does."""
    from coldcheck.report.review import text
    from coldcheck.verdict.document.build import ruling_of
    from coldcheck.verdict.engine import review_drawing

    ruling = ruling_of(review_drawing(drawing))
    show(lambda console: text.render(ruling, console))
    print(f"coldcheck: {file} is left as it is", file=sys.stderr)
    return UNREADABLE
