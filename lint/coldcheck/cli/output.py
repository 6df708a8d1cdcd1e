"""Where a report goes: the console, or a file that is written whole or not at all."""

from __future__ import annotations

import os
import sys
import tempfile
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

_PLAIN_WIDTH = 80


def console_text(draw: Callable[[Console], None], *, for_file: bool = False) -> str:
    """Return what ``draw`` prints on a console like stdout (or on a plain one, for a file)."""
    from rich.console import Console

    if for_file or sys.stdout is None:
        buffer = StringIO()
        draw(Console(file=buffer, width=_PLAIN_WIDTH, color_system=None, force_terminal=False))
        return buffer.getvalue()
    console = Console()
    with console.capture() as captured:
        draw(console)
    return captured.get()


def to_stdout(text: str) -> None:
    """Write to stdout; a closed stdout takes nothing, a broken pipe raises BrokenPipeError."""
    if sys.stdout is not None:
        sys.stdout.write(text)
        sys.stdout.flush()


def show(draw: Callable[[Console], None]) -> None:
    """Draw on stdout."""
    to_stdout(console_text(draw))


def to_file(text: str, target: str) -> None:
    """Write ``text`` (UTF-8) to a file, whole or not at all; raises AskedWrongly if it cannot."""
    path = Path(os.path.realpath(target))
    try:
        if path.exists() and not path.is_file():
            path.write_text(text, encoding="utf-8")  # a device or a pipe: nothing to replace
        else:
            replace_file(path, text)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise AskedWrongly(f"cannot write {target}: {error.strerror or error}") from error


def replace_file(path: Path, text: str) -> None:
    """Write beside the target, then put it in its place in one step; raises OSError."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with open(handle, "w", encoding="utf-8", newline="") as stream:  # noqa: PTH123 - a handle
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        Path(name).chmod(_mode(path))
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _mode(path: Path) -> int:
    """The permissions of the file that is replaced, or those a new file would get."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
