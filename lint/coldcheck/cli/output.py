"""Where a report goes: the console, or a file that is written whole or not at all."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.files import writing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

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


@contextmanager
def working(what: str) -> Iterator[None]:
    """A line on stderr while something takes its time, gone afterwards; only for who looks."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(what):
        yield


def to_file(content: str | bytes, target: str) -> None:
    """Write a text (UTF-8) or bytes, whole or not at all; raises AskedWrongly if it cannot."""
    try:
        writing.write(Path(target), content)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise AskedWrongly(f"cannot write {target}: {error.strerror or error}") from error
