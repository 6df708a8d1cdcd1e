"""Tube data that other packages bring, read with the checks of the library's own."""

from __future__ import annotations

from dataclasses import field
from functools import lru_cache
from os import PathLike
from pathlib import Path
from types import MappingProxyType, ModuleType
from typing import TYPE_CHECKING

from coldcheck.circuit.entries import FAILED, OF_TUBES, entries
from coldcheck.circuit.tubes import accepted_names, plain_name
from coldcheck.circuit.tubes_folder import data_files, read_files
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.entries import Entry
    from coldcheck.circuit.tubes import TubeType


def _nothing() -> Mapping[str, TubeType]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class TubesFault:
    """What is wrong with the data of a package; ``whole`` where none of it could be read."""

    reason: str
    whole: bool = False


@dataclass(frozen=True, slots=True)
class AddedTubes:
    """Types by accepted name, and what is wrong with what packages bring."""

    types: Mapping[str, TubeType] = field(default_factory=_nothing)
    faults: tuple[TubesFault, ...] = ()


@lru_cache(maxsize=1)
def added_tubes() -> AddedTubes:
    """The types of the packages that are installed; never raises for what they hold."""
    return gathered(entries(OF_TUBES))


def gathered(found: Iterable[Entry]) -> AddedTubes:
    """The types of some entries. A name the library has is refused, as is one taken before."""
    types: dict[str, TubeType] = {}
    faults: list[TubesFault] = []
    for entry in found:
        folder = _folder(entry)
        if entry.fault:
            why = f"the tube data of {entry.package} {FAILED}: {entry.fault}"
            faults.append(TubesFault(why, whole=True))
        elif folder is None or not (files := data_files(folder)):
            why = f"the tube data of {entry.package} is no folder with files NAME.toml"
            faults.append(TubesFault(why, whole=True))
        else:
            own, problems = read_files(files)
            unused = [str(p) for p in problems] + list(_claim(own, types))
            faults += [TubesFault(f"tube data of {entry.package} not used: {w}") for w in unused]
    return AddedTubes(MappingProxyType(types), tuple(faults))


def _claim(own: Mapping[str, TubeType], types: dict[str, TubeType]) -> Iterable[str]:
    """Put in the types none of whose names is taken; a sentence for each of the others."""
    library = accepted_names()
    refused: dict[str, str] = {}
    for name, kind in own.items():
        if name in library:
            refused.setdefault(kind.name, f"the library has a type {name}")
        elif name in types:
            refused.setdefault(kind.name, f"another package has a type {name}")
    types |= {name: kind for name, kind in own.items() if kind.name not in refused}
    for kind_name, why in refused.items():
        yield f"{plain_name(kind_name)}: {why}"


def _folder(entry: Entry) -> Path | None:
    """The folder an entry stands for: of a package of data, or as it says itself."""
    found = entry.found
    if isinstance(found, ModuleType):
        return None if found.__file__ is None else Path(found.__file__).parent
    if isinstance(found, (str, PathLike)):
        return Path(found)
    return None
