"""Text inside Markdown: what came from a drawing shows as it is, our own words keep their code.

There is one table of what Markdown and its common extensions take as their own, for every report
and for the editor.
"""

from __future__ import annotations

import re

from coldcheck.report.shared.plain import clean, unlinked

# A colon only where a shortcode or an address could begin, so that sentences stay readable.
_SPECIAL = re.compile(r"[\\`*_{}\[\]()<>#+\-!|~@&$]|:(?=[\w+-])")
_OWN = re.compile(r"([\\*_<>\[\]|])")


def escaped(text: str) -> str:
    """Text that shows as it is: no markup, link, mention, formula or shortcode, no new row."""
    return _SPECIAL.sub(r"\\\g<0>", unlinked(clean(text)))


def own_words(text: str) -> str:
    """Our own prose, never a drawing's: shows as it is, but words in backquotes stay code."""
    return _OWN.sub(r"\\\1", text)
