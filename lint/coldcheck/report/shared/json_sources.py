"""Sources in JSON: places cited, and the entries of the register they are in, each once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.shared.json_values import safe
from coldcheck.sources.register import register

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.sources.register import Citation


def places(cites: Iterable[Citation]) -> list[dict[str, str]]:
    """Each citation: the entry's name, and where in it (empty for the whole)."""
    return [{"source": safe(c.source), "where": safe(c.where)} for c in cites]


def entries(cites: Iterable[Citation]) -> dict[str, dict[str, str]]:
    """Name -> author, title, year (empty where there is none) and how it was seen."""
    named = (register().get(name) for name in sorted({c.source for c in cites}))
    return {
        s.id: {"author": s.author, "title": s.title, "year": s.year, "seen": s.seen.value}
        for s in named
        if s is not None  # a document that was kept may name what the register has no more
    }
