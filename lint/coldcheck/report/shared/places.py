"""Where a finding stands, for reports that other programs read."""

from __future__ import annotations

import os
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Self
from urllib.parse import quote

from coldcheck.files.places import repository_of, where
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.verdict.ruling import Ruling


def sentence(finding: Finding) -> str:
    """The message, with the places before it where it names none of them itself."""
    if not finding.at or any(place in finding.message for place in finding.at):
        return finding.message
    return f"{listed(finding.at)}: {finding.message}"


def unjudged(item: NotJudged) -> str:
    """What was not judged, where, and why, on one line."""
    where = f" at {listed(item.at)}" if item.at else ""
    return f"not judged: {item.rule}{where}: {item.reason}"


def relative(file: str, root: Path) -> str:
    """The file below ``root`` with forward slashes; unchanged where it lies elsewhere."""
    path = Path(os.path.normpath(root / file))
    try:
        return path.relative_to(root).as_posix()
    except ValueError:
        return PurePath(file).as_posix()


@dataclass(frozen=True, slots=True)
class Root:
    """What the files in a report are relative to, and the folder their names are meant from."""

    folder: Path
    here: Path

    @classmethod
    def of(cls, file: str) -> Self:
        """The repository of a file; the folder we are in where it is in none."""
        here = Path.cwd()
        try:
            return cls(repository_of(where(here / file).parent) or here, here)
        except (OSError, ValueError, RuntimeError):  # no name of a file
            return cls(here, here)

    def name(self, file: str) -> str:
        """A file below the folder with forward slashes; unchanged where it lies elsewhere."""
        below = self._below(file)
        return PurePath(file).as_posix() if below is None else below

    def uri(self, file: str) -> tuple[str, bool]:
        """The file as a URI (RFC 3986), and whether it is relative to the folder."""
        below = self._below(file)
        if below is None:
            return Path(os.path.normpath(self.here / file)).as_uri(), False
        return quote(_as_bytes(below)), True

    def _below(self, file: str) -> str | None:
        """The name below the folder: as it is written, else as it is with links followed."""
        written = Path(os.path.normpath(self.here / file))
        for path in (written, where(written)):
            if path.is_relative_to(self.folder):
                return path.relative_to(self.folder).as_posix()
        return None


def root_of(rulings: Sequence[Ruling]) -> Root:
    """What the files of a report are relative to: the repository of its first drawing."""
    return Root.of(rulings[0].document.file if rulings else ".")


def _as_bytes(name: str) -> bytes:
    """The bytes of a file's name, those that are no text as they are."""
    try:
        return name.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:  # no file is called so
        return name.encode("utf-8", "backslashreplace")
