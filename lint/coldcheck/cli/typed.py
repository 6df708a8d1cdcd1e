"""A drawing on standard input, which is called ``-``: as an editor or another program hands it."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.drawing.lines import MAX_BYTES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.drawing.model import Drawing

TYPED = "-"


def drawing_of(file: str) -> Drawing:
    """The drawing in a file, or on standard input: its sheets and settings are of this folder."""
    from coldcheck.drawing import read_drawing
    from coldcheck.drawing.reader import decoded, with_sheets

    if file != TYPED:
        return read_drawing(file)
    _nothing_called_so()
    if sys.stdin is None:
        raise AskedWrongly("there is no standard input to read a drawing from")
    data = sys.stdin.buffer.read(MAX_BYTES + 1)  # one byte more is refused as too big
    return with_sheets(decoded(TYPED, data), Path(TYPED))


def alone(files: Sequence[str], *others: object) -> None:
    """Raise AskedWrongly where standard input is one of several drawings, or is to be looked up."""
    if TYPED in files and (len(files) > 1 or any(others)):
        raise AskedWrongly("- is one drawing, and in no repository: it goes alone")
    if TYPED in files:
        _nothing_called_so()


def _nothing_called_so() -> None:
    """Raise AskedWrongly where a file has the name: it would be read, or say what settings hold."""
    if os.path.lexists(TYPED):
        found = f"a file or folder called {TYPED} lies here"
        raise AskedWrongly(f"{TYPED} means standard input, and {found}: give it another name")
