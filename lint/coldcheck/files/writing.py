"""A file written whole or not at all, and never through a link.

A link in a stranger's folder would choose what is overwritten. The new file is put in the place
of the old in one step, which replaces a link that was set meanwhile and does not follow it.
"""

from __future__ import annotations

import os
import stat
import tempfile
from pathlib import Path

from coldcheck.files.places import Refused, leads_out

_STREAMS = frozenset((Path("/dev"), Path("/dev/fd"), Path("/proc/self/fd")))
"""Where the system's own names for devices and open files are; its links are followed."""


def write(path: Path, content: str | bytes) -> None:
    """Write a text (UTF-8) or bytes to a file, a device or a pipe somebody reads.

    Raises OSError.
    """
    if _is_stream(path):
        _into(path, _encoded(content))
    else:
        _check(path)
        replace(path, content)


def _encoded(content: str | bytes) -> bytes:
    return content.encode("utf-8") if isinstance(content, str) else content


def _check(path: Path) -> None:
    if path.is_symlink():
        raise Refused.because("it is a link, and nothing is written through a link", "a file")
    outside = leads_out(path)
    if outside is not None:
        raise Refused.because(f"a link on the way leads out of {outside}", "a file inside it")
    if path.exists() and not path.is_file():
        raise Refused.because("it is no file", "a file")


def _is_stream(path: Path) -> bool:
    """Whether there is nothing to replace: a pipe, or a name of the system's own for a device."""
    try:
        return path.absolute().parent in _STREAMS or stat.S_ISFIFO(path.lstat().st_mode)
    except OSError:
        return False


def _into(path: Path, content: bytes) -> None:
    """Write without waiting for somebody to read: nobody may ever come."""
    handle = os.open(path, os.O_WRONLY | os.O_TRUNC | getattr(os, "O_NONBLOCK", 0))
    with open(handle, "wb") as stream:  # noqa: PTH123 - a handle
        if stat.S_ISBLK(os.fstat(handle).st_mode):
            raise Refused.because("it is a disk", "a file")
        os.set_blocking(handle, True)
        stream.write(content)


def replace(path: Path, content: str | bytes) -> None:
    """Write beside the target, then put it in its place in one step; raises OSError."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with open(handle, "wb") as stream:  # noqa: PTH123 - a handle
            stream.write(_encoded(content))
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(_mode(path))
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _mode(path: Path) -> int:
    """The permissions of the file that is replaced, or those a new file would get."""
    if path.exists() and not path.is_symlink():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
