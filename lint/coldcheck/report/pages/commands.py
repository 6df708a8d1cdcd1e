"""The reference page of the commands in Markdown: ``python -m coldcheck.report.pages.commands``.

Written from the parser of the command line, so it cannot say anything else; a test compares the
page in the repository with what this module writes today. Like :mod:`.interface` it is about what
stands to the right of ``report``, and nothing imports it.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coldcheck.cli import BROKEN_PIPE, INTERRUPTED, parser
from coldcheck.verdict.pairs import folder

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

PAGE = folder().parent / "guide" / "commands.md"

_HEAD = """# Every command

Written by `python -m coldcheck.report.pages.commands` from the command line itself; do not edit.
`coldcheck COMMAND --help` prints the same.
"""


def page() -> str:
    """The page as Markdown: the statuses, then a section a command in the order of --help."""
    top = parser()
    parts = [_HEAD, f"{_statuses(top)}\n"]
    for name, command in _commands(top).items():
        parts.append("\n".join([f"## {name}", "", *_section(command), ""]))
    return "\n".join(parts)


def _statuses(top: argparse.ArgumentParser) -> str:
    told = " ".join((top.epilog or "").split())
    more = f"{INTERRUPTED} interrupted; {BROKEN_PIPE} whoever read the output went away"
    return f"{told[0].upper()}{told[1:]}; {more}."


def _commands(top: argparse.ArgumentParser) -> Mapping[str, argparse.ArgumentParser]:
    group = next(a for a in top._actions if isinstance(a, argparse._SubParsersAction))
    return dict(group.choices)


def _section(command: argparse.ArgumentParser) -> Iterator[str]:
    yield command.description or ""
    yield ""
    words = [a for a in command._actions if not a.option_strings]
    options = [a for a in command._actions if a.option_strings and _told(a)]
    asked = " ".join(_operand(a) for a in words)
    yield f"    {command.prog} {'[OPTION...] ' if options else ''}{asked}".rstrip()
    if words or options:
        yield from ("", "| word | meaning |", "|---|---|")
    yield from _rows((_name(a), a) for a in (*words, *options))


def _told(action: argparse.Action) -> bool:
    return action.help is not argparse.SUPPRESS and action.dest != "help"


def _rows(named: Iterable[tuple[str, argparse.Action]]) -> Iterator[str]:
    for name, action in named:
        meaning = (action.help or "").replace("|", "\\|")
        choices = [str(choice) for choice in action.choices or ()]
        unsaid = any(choice not in meaning for choice in choices)
        listed = f" ({', '.join(choices)})" if unsaid else ""
        yield f"| `{name}` | {meaning}{listed} |"


def _name(action: argparse.Action) -> str:
    if not action.option_strings:
        return str(action.metavar)
    return " ".join([", ".join(action.option_strings), *_values(action)])


def _values(action: argparse.Action) -> tuple[str, ...]:
    if action.nargs == 0:
        return ()
    if isinstance(action.metavar, tuple):
        return action.metavar
    return (action.metavar or action.dest.upper(),)


def _operand(action: argparse.Action) -> str:
    name = str(action.metavar)
    return {"?": f"[{name}]", "+": f"{name}..."}.get(str(action.nargs), name)


def main() -> None:
    """Write the page into the guide."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
