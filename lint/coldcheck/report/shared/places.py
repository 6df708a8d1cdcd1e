"""Where a finding stands, for reports that other programs read."""

from __future__ import annotations

import os
from pathlib import Path, PurePath
from typing import TYPE_CHECKING
from urllib.parse import quote

from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from coldcheck.judge.finding import Finding, NotJudged


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


def uri(file: str, root: Path) -> tuple[str, bool]:
    """The file as a URI (RFC 3986), and whether it is relative to ``root``."""
    shown = relative(file, root)
    if PurePath(shown).is_absolute():
        return Path(shown).as_uri(), False
    return quote(_as_bytes(shown)), True


def _as_bytes(name: str) -> bytes:
    """The bytes of a file's name, those that are no text as they are."""
    try:
        return name.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:  # no file is called so
        return name.encode("utf-8", "backslashreplace")
