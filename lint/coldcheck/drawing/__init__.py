"""Text to statements: the netlist language read into :class:`~coldcheck.drawing.model.Drawing`.

The reader (and with it the parser library) is imported on first use, so that the data classes
cost nothing to those who only need them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from coldcheck.drawing.model import Drawing

__all__ = ["parse_drawing", "read_drawing"]


def read_drawing(path: Path | str) -> Drawing:
    """Read a ``.tube`` file; see :func:`coldcheck.drawing.reader.read_drawing`."""
    from coldcheck.drawing.reader import read_drawing as read

    return read(path)


def parse_drawing(text: str, file: str = "<text>") -> Drawing:
    """Read a drawing's text; see :func:`coldcheck.drawing.reader.parse_drawing`."""
    from coldcheck.drawing.reader import parse_drawing as parse

    return parse(text, file)
