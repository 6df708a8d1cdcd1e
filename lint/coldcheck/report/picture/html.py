"""A picture in a page of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.picture import svg
from coldcheck.report.shared.html_page import page, text

if TYPE_CHECKING:
    from coldcheck.picture.model import Picture, Standard

_STYLE = """\
@page { size: A4 landscape; margin: 10mm; }
body { margin: 0; padding: .5rem; color: #000; background: #fff;
       font: 100%/1.45 Arial, "Liberation Sans", Helvetica, sans-serif; }
h1 { font-size: 1.3rem; margin: .2rem 0; overflow-wrap: anywhere; }
p { margin: .2rem 0; }
figure { margin: 0; overflow-x: auto; }
figure svg { display: block; min-width: 60em; width: 100%; height: auto; }
@media print { figure svg { min-width: 0; max-height: 170mm; } }
"""


def render(picture: Picture, standard: Standard) -> str:
    """The page; it needs nothing from elsewhere."""
    title = text(picture.title) or "circuit"
    head = [f"<h1>{title}</h1>", *([f"<p>{text(picture.state)}</p>"] if picture.state else [])]
    drawn = f'<figure tabindex="0">{svg.inline(picture, standard)}</figure>'
    return page(title, _STYLE + svg.style(), ["<main>", *head, drawn, "</main>"])
