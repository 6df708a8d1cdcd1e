"""Which drawings a change touches: their own text, a sheet they use, their settings, their data.

One answer for a revision, for names that a hook gives, and for what is not there any more.
"""

from __future__ import annotations

import os
import re
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Self

from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.revisions import differing, root_for, root_of
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.files.places import ways, where
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import clean, counted

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.settings.model import Settings

SETTINGS = ("coldcheck.toml", "pyproject.toml")
PINS = re.compile(r"(requirements|constraints).*\.(txt|in)|.*\.lock|\.pre-commit-config\.ya?ml")
"""Files that say which version of coldcheck, or of a package with rules and tube data, is used."""

FROM = "PRE_COMMIT_FROM_REF"
"""Where pre-commit says what a push or a range is compared with; a commit is with HEAD."""


@dataclass(frozen=True, slots=True)
class Changed:
    """The files of a repository that are otherwise, also those that are gone, and links.

    ``pinned`` are the folders with a file among them that says which versions are used, ``data``
    those with one that may be tube data.
    """

    root: Path
    files: frozenset[Path]
    pinned: frozenset[Path]
    data: frozenset[Path]

    @classmethod
    def of(cls, root: Path, files: Iterable[Path]) -> Self:
        """What there is to know of these files."""
        files = frozenset(way for file in files for way in ways(file))
        pinned = frozenset(p.parent for p in files if PINS.fullmatch(p.name))
        return cls(root, files, pinned, frozenset(p.parent for p in files if p.suffix == ".toml"))

    def touches(self, file: str, settings: Settings) -> bool:
        """Whether a drawing is among them, or is made from one, or a link leads to one anew."""
        above = {f for f in where(Path(file)).parents if f.is_relative_to(self.root)}
        said = {f / n for f in above for n in SETTINGS}
        said.update(o.file for o in settings.origins.values())
        data = {way for folder in settings.data for way in ways(folder)}
        made_of = (way for one in (*said, *sheets_and_own(Path(file))) for way in ways(one))
        return not (
            self.pinned.isdisjoint(above)
            and self.data.isdisjoint(data)
            and self.files.isdisjoint(data)
            and self.files.isdisjoint(made_of)
        )


def sheets_and_own(file: Path) -> Iterator[Path]:
    """A drawing and every sheet in it, as far as it can be read, there or not."""
    from coldcheck.drawing import read_drawing

    yield file
    with suppress(OSError):
        if f'{reading.SUFFIX}"'.encode() in reading.drawing(file, MAX_BYTES):
            yield from map(Path, read_drawing(file).files)


def touched_since(
    revision: str, drawings: Sequence[Wanted], settings: Sequence[Settings]
) -> list[Wanted]:
    """The drawings that differ from a revision, or use a file that does.

    Files git does not know yet count as changed. Raises AskedWrongly where git cannot tell. A
    folder that is gone since then is told, and is no drawing.
    """
    known: dict[Path, Changed] = {}
    left = [d for d in drawings if not _vanished(d, revision, known)]
    both = [(d, s) for d, s in zip(drawings, settings, strict=True) if d in left]
    found = [d for d, own in both if _is_touched(d, own, revision, known)]
    print(clean(f"coldcheck: {_of(len(found), len(left))} touched since {revision}"),
          file=sys.stderr)  # fmt: skip
    return found


def _is_touched(item: Wanted, own: Settings, revision: str, known: dict[Path, Changed]) -> bool:
    """Whether a drawing is to be reviewed; one of another repository within ours always is.

    What a revision is called there is for that repository to say, and a change may bring it.
    """
    folder = where(Path(item.file)).parent
    if item.missing or root_of(folder) != root_for(folder):
        return True
    return _changed(item, revision, known).touches(item.file, own)


def _of(some: int, every: int) -> str:
    return f"{some} of {counted(every, 'drawing')}"


def _changed(item: Wanted, revision: str, known: dict[Path, Changed]) -> Changed:
    """What differs in the repository of a drawing; each is asked once."""
    root = root_of(where(Path(item.file)).parent)
    if root not in known:
        known[root] = Changed.of(root, differing(root, revision))
    return known[root]


def _vanished(item: Wanted, revision: str, known: dict[Path, Changed]) -> bool:
    """Whether a name is that of a folder, or a drawing, that the revision had."""
    path = where(Path(item.file))
    if path.exists():
        return False
    gone = any(path in (f, *f.parents) for f in _changed(item, revision, known).files)
    if gone:
        print(clean(f"coldcheck: {item.file} is gone since {revision}"), file=sys.stderr)
    return gone


def using(options: Namespace) -> list[Wanted]:
    """Every drawing of the repository that is one of the files named, or is made from one.

    Files that are gone count as named, and links that are others: no hook gives their names.
    """
    from coldcheck.cli.configured import settings_of

    root = root_for(where(Path(options.files[0])).parent if options.files else where(Path()))
    changed = Changed.of(root, (*map(Path, options.files), *_unnamed(root)))
    every = [d for d in wanted([os.path.relpath(root)]) if not d.missing]
    pairs = zip(every, settings_of(d.file for d in every), strict=True)
    found = [d for d, own in pairs if changed.touches(d.file, own)]
    said = f"coldcheck: {_of(len(found), len(every))} made from what changed"
    print(clean(said), file=sys.stderr)
    return found


def _unnamed(root: Path) -> Iterable[Path]:
    """Files of the last commit that are not there, and links: no hook names either.

    None where there is no commit yet.
    """
    try:
        changed = differing(root, os.environ.get(FROM) or "HEAD")
        return [p for p in changed if p.is_symlink() or not p.exists()]
    except AskedWrongly:
        return ()
