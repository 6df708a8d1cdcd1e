"""What other installed packages bring, found through their entry points.

A group is read when something first asks for it, never for ``--help``. A package whose code
raises is reported as an entry with a fault; nothing it does comes through as an exception.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256
from importlib import import_module, metadata
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.files.finding import below
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

OF_RULES, OF_TUBES = "coldcheck.rules", "coldcheck.tubes"
"""The groups of entry points that are read."""

FAILED = "failed"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry point, loaded.

    package
        Name and version of the package it comes with.
    found
        What it stands for: the object, or what that gave when called.
    folder
        Where its module is; ``None`` for a module that is in no folder.
    fault
        Why it could not be loaded; empty where it could.
    """

    package: str
    found: object
    folder: Path | None
    fault: str = ""


@lru_cache(maxsize=8)
def entries(group: str) -> tuple[Entry, ...]:
    """The entries of a group, by package and name. Never raises for what a package does."""
    return tuple(_loaded(point) for point in _points(group))


def stamp() -> str:
    """A hash that changes when another package that is asked is installed, changed or removed.

    By name, version, and what is in the files beside its module.
    """
    lines = []
    for group in (OF_RULES, OF_TUBES):
        for point in _points(group):
            lines.append(f"{group} {point.name} {point.value} {_package(point)}")
            lines += _files(_folder(point))
    return sha256("\n".join(lines).encode("utf-8", "backslashreplace")).hexdigest()


def _points(group: str) -> list[EntryPoint]:
    """One a package and name: a package that is found twice on the path counts once."""
    points = (p for p in _installed() if p.group == group)
    found = {(_package(p), p.name, p.value): p for p in points}
    return [found[key] for key in sorted(found)]


@lru_cache(maxsize=1)
def _installed() -> tuple[EntryPoint, ...]:
    """Those of both groups: the library reads the files of every package each time it is asked."""
    every = metadata.entry_points()
    return tuple(p for group in (OF_RULES, OF_TUBES) for p in every.select(group=group))


def _package(point: EntryPoint) -> str:
    return f"{point.dist.name} {point.dist.version}" if point.dist else "a package without a name"


def _loaded(point: EntryPoint) -> Entry:
    package = _package(point)
    try:
        found = point.load()
        if callable(found):
            found = found()
    except (Exception, SystemExit) as error:
        return Entry(package, None, None, in_words(error))
    return Entry(package, found, _folder(point))


def in_words(error: BaseException) -> str:
    """An exception of foreign code on one line."""
    try:
        said = f"{type(error).__name__}: {error}"
    except Exception:  # its own words may raise as well
        said = type(error).__name__
    return " ".join(said.removesuffix(": ").split())[:300]


def _folder(point: EntryPoint) -> Path | None:
    """The folder of the module an entry point names."""
    try:
        file = import_module(point.module).__file__
    except (Exception, SystemExit):
        return None
    return None if file is None else Path(file).parent


def _files(folder: Path | None) -> list[str]:
    if folder is None:
        return []
    known = (p for p in below(folder, "") if p.suffix in (".py", ".toml", ".tube"))
    return [f"{p.relative_to(folder)} {sha256(p.read_bytes()).hexdigest()}" for p in known]
