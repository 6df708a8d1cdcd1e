"""Which drawings a change touches: their own text, a sheet they use, their settings, their data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.revisions import differing, root_of
from coldcheck.files.places import where

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.cli.files import Wanted
    from coldcheck.settings.model import Settings

SETTINGS = ("coldcheck.toml", "pyproject.toml")


def touched_since(
    revision: str, drawings: Sequence[Wanted], settings: Sequence[Settings]
) -> list[Wanted]:
    """The drawings that differ from a revision, or use a file that does.

    Files git does not know yet count as changed. Raises AskedWrongly where git cannot tell.
    """
    touched = _Touched(revision)
    return [
        item
        for item, own in zip(drawings, settings, strict=True)
        if item.missing or any(map(touched, sources(item.file, own)))
    ]


def sources(file: str, settings: Settings) -> Iterator[Path]:
    """Every file a review depends on."""
    from coldcheck.drawing import read_drawing

    yield from (Path(name) for name in read_drawing(file).files)
    yield from (origin.file for origin in settings.origins.values())
    for folder in where(Path(file)).parents:
        yield from (folder / name for name in SETTINGS)
        if (folder / ".git").exists():
            break
    for folder in settings.data:
        yield from sorted(folder.glob("*.toml"))


class _Touched:
    """Whether a file differs from a revision; each repository is asked once."""

    def __init__(self, revision: str) -> None:
        self.revision = revision
        self._known: dict[Path, frozenset[Path]] = {}

    def __call__(self, file: Path) -> bool:
        path = where(file)
        root = root_of(path.parent)
        if root not in self._known:
            self._known[root] = frozenset(map(where, differing(root, self.revision)))
        return path in self._known[root]
