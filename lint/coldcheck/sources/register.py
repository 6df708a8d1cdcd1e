"""The register of sources: who said it, where, and how it was seen by whoever wrote it down here.

``register.toml`` has an entry for each source. A :class:`Citation` names an entry and the clause,
page or table in it; nothing else in the program writes a source in words of its own.
"""

from __future__ import annotations

import tomllib
from enum import Enum
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping


class Seen(Enum):
    """How a source was seen: what a figure from it is worth."""

    READ = "read"
    COMPILATION = "in a public compilation"
    MEMORY = "from memory"
    DERIVED = "derived"
    FILE = "as the figures on file say"
    PRACTICE = "common practice"


@dataclass(frozen=True, slots=True)
class Source:
    """One entry of the register; a fact of the trade has no author, title or year."""

    id: str
    author: str
    title: str
    year: str
    seen: Seen

    @property
    def text(self) -> str:
        """Author, title and year, as far as there are any."""
        return ", ".join(part for part in (self.author, self.title, self.year) if part)


@dataclass(frozen=True, slots=True)
class Citation:
    """A place in a source: its entry in the register, and the clause, page, table or remark."""

    source: str
    where: str = ""

    @property
    def text(self) -> str:
        """In words, with how it was seen: ``IEC 61140, cl. 5 (from memory)``."""
        entry = register()[self.source]
        said = ", ".join(part for part in (entry.text, self.where) if part)
        if entry.seen is Seen.PRACTICE:
            return f"common practice: {said}" if said else "common practice"
        return f"{said} ({entry.seen.value})"


def in_words(cited: str | Citation | tuple[Citation, ...]) -> str:
    """The text of one citation or several; other packages write their own, without entries."""
    if isinstance(cited, str):
        return cited
    every = (cited,) if isinstance(cited, Citation) else cited
    return "; ".join(c.text for c in every)


PRACTICE = Citation("practice")
"""A fact of the trade that has no source of its own."""


@lru_cache(maxsize=1)
def register() -> Mapping[str, Source]:
    """Every source by its name. Raises KeyError or ValueError for an entry out of form."""
    text = files("coldcheck.sources").joinpath("register.toml").read_text("utf-8")
    return MappingProxyType({name: _source(name, e) for name, e in tomllib.loads(text).items()})


def _source(name: str, entry: Mapping[str, str]) -> Source:
    known = (entry.get("author", ""), entry.get("title", ""), entry.get("year", ""))
    return Source(name, *known, Seen(entry["seen"]))
