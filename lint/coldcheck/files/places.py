"""Where a file lies: its repository, and whether a link on the way to it leads out of that."""

from __future__ import annotations

import errno
import os
from collections import deque
from pathlib import Path
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Iterator

REPOSITORY = ".git"
_MOST_LINKS = 40
"""So many links on the way to a file Linux follows; others follow fewer."""


class Refused(OSError):  # noqa: N818 - a condition, told in words
    """A file that is not read or written: what was found there, and what was expected."""

    found: str
    expected: str

    @classmethod
    def because(cls, found: str, expected: str) -> Self:
        """What was found in the place of what is expected."""
        made = cls(errno.EPERM, found)
        made.found, made.expected = found, expected
        return made


class TooBig(Refused):
    """A file of more bytes than are ever read of one."""


def real_path(path: Path) -> Path:
    """The path with every link followed; raises Refused for a name that leads nowhere."""
    try:
        return path.resolve()
    except (RuntimeError, ValueError):  # links in a circle; a zero byte
        raise Refused.because("a name that leads to no file", "a path to a file") from None


def where(path: Path) -> Path:
    """The file a name stands for; the name itself where its link is not followed."""
    try:
        real = real_path(path)
        inside = real == _written(path) or not leads_out(path, real=real)
        return real if inside else path.absolute()
    except Refused:
        return path.absolute()


def ways(path: Path) -> Iterator[Path]:
    """The names by which a file is reached: each link on the way to it, and where that ends.

    Another target of any of these links makes another file of the path.
    """
    written = _written(path)
    at, ahead, links = Path(written.anchor), deque(written.parts[1:]), 0
    while ahead:
        part = ahead.popleft()
        at = at.parent if part == os.pardir else at / part
        if links < _MOST_LINKS and at.is_symlink():
            yield at
            target, links = at.readlink(), links + 1
            ahead.extendleft(reversed([p for p in target.parts if p != target.anchor]))
            at = Path(target.anchor) if target.is_absolute() else at.parent
    yield at


def repository_of(folder: Path) -> Path | None:
    """The root of the repository a folder is in, found on the file system; no git is asked."""
    real = folder.resolve()
    return next((p for p in (real, *real.parents) if _holds_mark(p)), None)


def leads_out(path: Path, within: Path | None = None, real: Path | None = None) -> Path | None:
    """The folder a link on the way to ``path`` leads out of; ``None`` where it stays.

    That is any repository the path is written to be in, or the folder ``within``. Where no link is
    on the way there is none to lead out of the first, and no folder is asked for its mark. ``real``
    is the path with every link followed, where that is known.
    """
    real = real_path(path) if real is None else real
    above = [] if real == _written(path) else list(_repositories(path))
    for root in (*above, *([] if within is None else [within])):
        if not real.is_relative_to(root.resolve()):
            return root
    return None


def _repositories(path: Path) -> Iterator[Path]:
    """Those of the folders above the path as it is written, whatever links there are on it."""
    return (folder for folder in _written(path).parents if _holds_mark(folder))


def _written(path: Path) -> Path:
    return Path(os.path.abspath(path))  # noqa: PTH100 - not to follow links is the point


def _holds_mark(folder: Path) -> bool:
    try:
        return (folder / REPOSITORY).exists()
    except OSError:  # a folder above that we may not look into
        return False
