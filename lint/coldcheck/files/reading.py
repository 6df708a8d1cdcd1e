"""The bytes of a file: an ordinary one, inside its repository, of bounded size.

Opened without waiting and looked at before it is read: a pipe or a device in the place of a file
would wait, or have no end.
"""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING

from coldcheck.files.places import Refused, TooBig, leads_out, real_path

if TYPE_CHECKING:
    from pathlib import Path

MOST_DATA = 2_000_000
"""Bytes of a file of settings, tube data, readings or standing findings."""

SUFFIX = ".tube"


def contents(path: Path, most: int = MOST_DATA) -> bytes:
    """The bytes of a file, ``most`` at most; raises OSError, which is Refused for what it is."""
    return ordinary(_inside(path, real_path(path)), most)


def _inside(path: Path, real: Path) -> Path:
    """The real path; raises Refused where a link on the way leads out of the repository."""
    outside = leads_out(path, real=real)
    if outside is not None:
        raise Refused.because(f"a link that leads out of {_named(outside)}", "a file inside it")
    return real


def ordinary(real: Path, most: int) -> bytes:
    """The bytes of the file at a real path: no link, no pipe, no device, at most so many."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0)
    handle = os.open(real, flags | getattr(os, "O_BINARY", 0))
    try:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise Refused.because("something that is no file", "an ordinary file")
        return _bounded(handle, most)
    finally:
        os.close(handle)


def _bounded(handle: int, most: int) -> bytes:
    with os.fdopen(handle, "rb", closefd=False) as stream:
        data = stream.read(most + 1)
    if len(data) > most:
        limit = f"{most // 1_000_000} MB" if most >= 1_000_000 else f"{most} bytes"
        raise TooBig.because("a file that is too big", f"at most {limit}")
    return data


def text(path: Path, most: int = MOST_DATA, encoding: str = "utf-8") -> str:
    """The text of a file, its lines ended as ours are; raises OSError or UnicodeDecodeError."""
    found = contents(path, most).decode(encoding)
    return found.replace("\r\n", "\n").replace("\r", "\n")


def drawing(path: Path, most: int) -> bytes:
    """The bytes of a drawing, whose name ends in ``.tube``, and whose link leads to such a one."""
    if path.suffix != SUFFIX and path.exists():
        raise Refused.because("a name that is no drawing's", f"a name that ends in {SUFFIX}")
    real = real_path(path)
    if path.suffix == SUFFIX != real.suffix:
        raise Refused.because("a link to something else", f"a drawing, which ends in {SUFFIX}")
    return ordinary(_inside(path, real), most)


def _named(folder: Path) -> str:
    return f"the repository {folder.absolute().name or folder}"
