"""The register of sources: who said it, where, and how it was seen by whoever wrote it down here.

``register.toml`` has an entry for each source. A :class:`Citation` names an entry and the clause,
page or table in it; nothing else in the program writes a source in words of its own.
"""

from __future__ import annotations

import re
import tomllib
from enum import Enum
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeAlias

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
    """One entry of the register; a fact of the trade has no author, title or year.

    ``cited_as`` is how the sources of tube data name it, which are written as sheets write them;
    ``rather_than`` the entry whose spellings stand in the same words, such as those of an address.
    """

    id: str
    author: str
    title: str
    year: str
    seen: Seen
    cited_as: tuple[str, ...] = ()
    rather_than: str = ""

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


@dataclass(frozen=True, slots=True)
class Cited:
    """What a figure goes by: in words, and the places in the register's entries they name."""

    text: str
    cites: tuple[Citation, ...] = ()

    def __str__(self) -> str:
        """The words alone."""
        return self.text


Origin: TypeAlias = "str | Citation | tuple[Citation, ...] | Cited"


def cited_by(origin: Origin) -> Cited:
    """One citation or several with their words; other packages write theirs, without entries."""
    if isinstance(origin, Cited):
        return origin
    if isinstance(origin, str):
        return Cited(origin)
    every = (origin,) if isinstance(origin, Citation) else origin
    return Cited("; ".join(c.text for c in every), every)


PRACTICE = Citation("practice")
"""A fact of the trade that has no source of its own."""

DRAWING = Citation("drawing")
LANGUAGE = Citation("language")


_SEEN_AS = {
    "memory": (Seen.MEMORY,),
    "found": (Seen.READ, Seen.COMPILATION),
    "derived": (Seen.DERIVED,),
}


@lru_cache(maxsize=1024)
def of_tube_data(text: str, confidence: str) -> tuple[Citation, ...]:
    """The entries that a source of tube data names, each with the whole text as the place in it.

    Only those that were seen as the ``confidence`` says; none for what somebody else's file says in
    words of its own.
    """
    seen = _SEEN_AS.get(confidence.partition(" ")[0], ())
    named = (_spelled()[m[0]] for m in _any_spelling().finditer(text))
    found = [entry for entry in dict.fromkeys(named) if entry.seen in seen]
    meant = {entry.rather_than for entry in found}
    return tuple(Citation(entry.id, text) for entry in found if entry.id not in meant)


@lru_cache(maxsize=1)
def _spelled() -> Mapping[str, Source]:
    return {spelling: entry for entry in register().values() for spelling in entry.cited_as}


@lru_cache(maxsize=1)
def _any_spelling() -> re.Pattern[str]:
    """The longest first: ``RCA RC-19`` is the manual, not a sheet of RCA's."""
    longest = sorted(_spelled(), key=len, reverse=True)
    return re.compile(r"(?<![A-Za-z])(?:" + "|".join(map(re.escape, longest)) + ")(?![a-z])")


@lru_cache(maxsize=1)
def register() -> Mapping[str, Source]:
    """Every source by its name. Raises KeyError or ValueError for an entry out of form."""
    text = files("coldcheck.sources").joinpath("register.toml").read_text("utf-8")
    return MappingProxyType({name: _source(name, e) for name, e in tomllib.loads(text).items()})


def _source(name: str, entry: Mapping[str, Any]) -> Source:
    author, title, year = (str(entry.get(key, "")) for key in ("author", "title", "year"))
    spelled = tuple(entry.get("cited-as", ()))
    other = str(entry.get("rather-than", ""))
    return Source(name, author, title, year, Seen(entry["seen"]), spelled, other)
