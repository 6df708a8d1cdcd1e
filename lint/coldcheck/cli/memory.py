"""The memory one drawing may take; asking for more is a MemoryError, which costs its report."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_MEMORY = 1_200_000_000
"""Bytes that one drawing may take beyond what the program itself has."""

BOUND = (
    f"at most {MOST_MEMORY // 1_000_000} MB of memory for one drawing, or what the system has left"
)


@contextmanager
def enough_for(file: str) -> Iterator[None]:
    """As :func:`bounded`, for a command about one drawing: AskedWrongly where more is asked for."""
    try:
        with bounded():
            yield
    except MemoryError as error:
        raise AskedWrongly(f"{file}: this did not come to an end: {BOUND}") from error


@contextmanager
def bounded(most: int = MOST_MEMORY) -> Iterator[None]:
    """Within this, MemoryError is raised where more is asked for, if the system can be told."""
    try:
        import resource

        used = int(Path("/proc/self/statm").read_text("ascii").split()[5])
    except (ImportError, OSError):  # no bound here; the count of the solver's work still holds
        yield
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_DATA)
    wanted = used * resource.getpagesize() + most
    known = [limit for limit in (soft, hard) if limit != resource.RLIM_INFINITY]
    resource.setrlimit(resource.RLIMIT_DATA, (min([wanted, *known]), hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_DATA, (soft, hard))
