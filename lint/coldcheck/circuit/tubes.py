"""The library of tube types: looked up by any accepted name, parsed one type at a time."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.circuit.relatives import hint, relatives
from coldcheck.circuit.tubes_parse import DataProblem, load_type
from coldcheck.circuit.tubes_types import (
    POINT_UNITS,
    RATING_NAMES,
    UNREAD_RATINGS,
    HeaterWay,
    LawData,
    SectionType,
    Sourced,
    TubeType,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = [
    "DATA",
    "POINT_UNITS",
    "RATING_NAMES",
    "UNREAD_RATINGS",
    "DataProblem",
    "HeaterWay",
    "LawData",
    "SectionType",
    "Sourced",
    "TubeType",
    "UnknownTube",
    "accepted_names",
    "known_types",
    "load_type",
    "tube_type",
]

DATA = Path(__file__).with_name("data")
_LINE = re.compile(r'^"(.+)" = "(.+)\.toml"$', re.MULTILINE)


class UnknownTube(KeyError):  # noqa: N818 - named for what the user meets
    """A type that is not in the library; ``near`` lists accepted names of the same tube."""

    def __init__(self, name: str, near: tuple[str, ...]) -> None:
        super().__init__(name)
        self.name, self.near = name, near

    def __str__(self) -> str:
        told = hint(plain_name(self.name), self.near)
        return f"tube type {self.name} is not in the library{'; ' if told else ''}{told}"


def plain_name(name: str) -> str:
    """A type name as the index has it: upper case, without blanks and hyphens."""
    return name.upper().replace("-", "").replace(" ", "")


@lru_cache(maxsize=1)
def accepted_names() -> Mapping[str, str]:
    """Every accepted name (upper case, no hyphens) -> main name of the type."""
    index = (DATA / "index.toml").read_text(encoding="utf-8")
    return MappingProxyType(dict(_LINE.findall(index)))  # a tenth of what reading TOML takes


def known_types() -> tuple[str, ...]:
    """The main names of all types on file, sorted."""
    return tuple(sorted(set(accepted_names().values())))


def tube_type(name: str) -> TubeType:
    """The type of that name. Raises UnknownTube, or DataProblem for a damaged file."""
    names = accepted_names()
    wanted = plain_name(name)
    if wanted not in names:
        raise UnknownTube(name, relatives(wanted, names)[:3])
    return _load(names[wanted])


@lru_cache(maxsize=256)
def _load(main: str) -> TubeType:
    path = DATA / f"{main}.toml"
    return load_type(path.read_text(encoding="utf-8"), path.name)


def centred(kind: TubeType) -> bool:
    """Whether a type's limits are for nominal conditions; what the data do not say, is taken so."""
    system = kind.rating_system.lower()
    return not ("absolute" in system or "design-max" in system)
