"""``coldcheck serve``: the editor service, over standard input and output."""

from __future__ import annotations

from importlib.util import find_spec
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.memory import bounded

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.serve.reading import Read
    from coldcheck.verdict.review import Review

MISSING = "the editor service needs pygls: pip install 'pygls>=2'"


def run(options: Namespace) -> int:  # noqa: ARG001 - as every command
    """Serve until the editor ends it; without pygls that is asked wrongly."""
    if find_spec("pygls") is None:
        raise AskedWrongly(MISSING)
    from coldcheck.serve.server import serve

    return serve(within_memory)


def within_memory(read: Read) -> Review:
    """The review of a text; one that asks for too much memory is lost, and the service goes on."""
    from coldcheck.serve.reading import reviewed

    with bounded():
        return reviewed(read)
