"""``coldcheck completion``: what a shell needs to complete commands, options and files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.cli import OK, parser
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import to_stdout

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def run(options: Namespace) -> int:
    """Print the completions of one shell."""
    try:
        import shtab
    except ImportError as error:
        raise AskedWrongly("completions want shtab: pip install 'shtab>=1.7'") from error
    top = parser()
    _name_files(top, shtab.FILE)
    to_stdout(shtab.complete(top, shell=options.shell) + "\n")
    return OK


def _name_files(parser: ArgumentParser, files: object) -> None:
    """Say of every operand and option that takes a file that it does."""
    for action in parser._actions:
        if action.metavar == "FILE":
            action.complete = files  # type: ignore[attr-defined]
        if action.choices and isinstance(action.choices, dict):
            for inner in action.choices.values():
                _name_files(inner, files)
