"""A picture in a page of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.picture import svg
from coldcheck.report.shared.html_page import page, text

if TYPE_CHECKING:
    from coldcheck.picture.model import Picture, Standard

_STYLE = """\
@page { size: A4 landscape; margin: 10mm; }
body { margin: 0; font-family: Arial, "Liberation Sans", Helvetica, sans-serif; }
figure { margin: 0; overflow-x: auto; }
figure svg { display: block; min-width: 60em; width: 100%; height: auto; }
@media print { figure svg { min-width: 0; max-height: 186mm; } }
"""


def render(picture: Picture, standard: Standard) -> str:
    """The page; it needs nothing from elsewhere."""
    drawn = svg.render(picture, standard)
    return page(text(picture.title) or "circuit", _STYLE, [f"<figure>{drawn}</figure>"])
