"""What all pages share: escaped text, the frame of a page, the colours of the signal words.

A page is one file without anything from outside: styles inside, no fonts, no pictures. A browser
is told to take nothing else: the one style, and the one script where there is one, by their
hashes (Content Security Policy Level 3, as a ``meta`` element), so that nothing else ever runs.
"""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from html import escape
from typing import TYPE_CHECKING

from coldcheck.report.shared.plain import clean
from coldcheck.report.shared.signal_words import STYLES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


def text(words: str) -> str:
    """Any text, safe inside HTML."""
    return escape(clean(words))


def page(title: str, style: str, body: Iterable[str], script: str = "") -> str:
    """The whole page; ``title`` and ``body`` are HTML already, ``script`` is code of our own."""
    return "\n".join(
        (
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_policy(style, script)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{title}</title>",
            f"<style>{style}</style>",
            "</head><body>",
            *body,
            *([f"<script>{script}</script>"] if script else []),
            "</body></html>",
            "",
        )
    )


def _policy(style: str, script: str) -> str:
    """What a browser may use of the page: nothing but these two."""
    runs = _hash(script) if script else "'none'"
    return (
        f"default-src 'none'; style-src {_hash(style)}; script-src {runs}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(content: str) -> str:
    return f"'sha256-{b64encode(sha256(content.encode()).digest()).decode()}'"


def signal_colours(selector: str) -> Iterator[str]:
    """The signal words in the colours they have on a terminal; ``.LEVEL`` stands for the level."""
    for level, style in STYLES.items():
        colours = [w for w in style.split() if w.startswith("#")]
        if colours:
            chosen = selector.replace(".LEVEL", f".{level}")
            yield f"{chosen} {{ color: {colours[0]}; background: {colours[1]}; }}\n"
