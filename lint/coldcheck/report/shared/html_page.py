"""What all pages share: escaped text, the frame of a page, the colours of the signal words.

A page is one file without anything from outside: styles inside, no scripts, no fonts, no pictures.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from coldcheck.report.shared.plain import clean
from coldcheck.report.shared.signal_words import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


def text(words: str) -> str:
    """Any text, safe inside HTML."""
    return escape(clean(words))


def page(title: str, style: str, body: Iterable[str]) -> str:
    """The whole page; ``title`` and ``body`` are HTML already."""
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title>",
            f"<style>{style}</style>",
            "</head><body>",
            *body,
            "</body></html>",
            "",
        )
    )


def signal_colours(selector: str) -> Iterator[str]:
    """The signal words in the colours they have on a terminal; ``.LEVEL`` stands for the level."""
    for level, style in STYLES.items():
        colours = [w for w in style.split() if w.startswith("#")]
        if colours:
            chosen = selector.replace(".LEVEL", f".{level}")
            yield f"{chosen} {{ color: {colours[0]}; background: {colours[1]}; }}\n"
